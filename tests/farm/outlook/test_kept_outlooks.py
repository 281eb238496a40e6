"""Outlooks are kept between acts: what was kept and brought up to date equals what is worked out from scratch."""

from datetime import datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feedwright.farm.ground.settings import set_farm_name, set_figure
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.outlook import forecasts, learning
from feedwright.farm.outlook.forecasts import fitted_parts, refresh
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run
from feedwright.farm.prints.voids import void
from feedwright.records.store import Store

BEGUN = datetime.fromisoformat("2026-03-02T08:00Z")
NOW = BEGUN + timedelta(days=40)
NAMES = ("Alder", "Beech", "Hazel")


def from_scratch(store: Store, now: datetime = NOW) -> list[FittedPart]:
    forecasts._KEPT.clear()
    learning._KEPT.clear()
    learning.learned.cache_clear()
    return fitted_parts(store, now)


ACTS = st.lists(
    st.tuples(st.sampled_from(NAMES), st.sampled_from(("run", "finding", "renew", "void")), st.integers(0, 30)),
    min_size=1, max_size=5,
)  # fmt: skip


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=ACTS)
def test_what_is_kept_equals_what_is_worked_out_from_scratch(farm: Store, acts: list[tuple[str, str, int]]) -> None:
    runs = []
    for name, what, day in acts:
        at = BEGUN + timedelta(days=day, hours=len(farm.acts(10_000)) % 24)
        if what == "run":
            runs.append(add_run(farm, name, material="pla", hours=9.0, started_utc=at).run.id)
        elif what == "finding":
            add_finding(farm, name, "nozzle", grade="worn", found_utc=NOW)
        elif what == "renew":
            part = next(p for p in fitted_parts(farm, NOW) if (p.machine.name, p.kind.id) == (name, "drive_gear"))
            if part.fitting.fitted_utc < NOW - timedelta(days=1) and part.last_finding is None:
                renew(farm, name, "drive_gear", renewed_utc=NOW - timedelta(hours=1))
        elif runs:
            void(farm, "run", runs.pop(), reason="a slip")
        fitted_parts(farm, NOW)
    kept = fitted_parts(farm, NOW)
    assert kept == from_scratch(farm)


@pytest.fixture
def large(farm: Store, monkeypatch: pytest.MonkeyPatch) -> Store:
    """The small farm, taken for a large one."""
    monkeypatch.setattr(learning, "LARGE", 0)
    for name in NAMES:
        add_run(farm, name, material="pla", hours=90.0, started_utc=BEGUN + timedelta(days=2))
    from_scratch(farm)
    return farm


def of(parts: list[FittedPart], name: str, kind: str = "tube_end") -> FittedPart:
    return next(part for part in parts if (part.machine.name, part.kind.id) == (name, kind))


def test_a_large_farm_works_out_the_touched_machine_alone(large: Store) -> None:
    before = fitted_parts(large, NOW)
    add_finding(large, "Alder", "tube_end", grade="clean", found_utc=NOW)
    after = fitted_parts(large, NOW)
    assert of(after, "Beech", "nozzle") is of(before, "Beech", "nozzle")
    assert of(after, "Alder").last_finding is not None
    assert of(after, "Alder").outlook.failure_frac_month < of(before, "Alder").outlook.failure_frac_month
    assert of(after, "Alder").outlook.life_source == "the rule of thumb", "the belief is held until it is made afresh"


def test_refresh_brings_a_large_farm_to_what_is_worked_out_from_scratch(large: Store) -> None:
    fitted_parts(large, NOW)
    add_finding(large, "Alder", "tube_end", grade="clean", found_utc=NOW)
    later = NOW + timedelta(minutes=61)
    assert not refresh(large, NOW + timedelta(minutes=1))
    assert refresh(large, later)
    kept = fitted_parts(large, later)
    assert kept == from_scratch(large, later)
    assert of(kept, "Alder").outlook.life_source == "the rule of thumb and 1 finding"


def test_what_is_recorded_while_a_refresh_works_is_not_lost(large: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    fitted_parts(large, NOW)
    later, worked_out = NOW + timedelta(minutes=61), forecasts._worked_out

    def meanwhile(*given: object) -> object:
        monkeypatch.setattr(forecasts, "_worked_out", worked_out)
        made = worked_out(*given)  # type: ignore[arg-type]
        add_finding(large, "Alder", "tube_end", grade="ring", found_utc=NOW)
        return made

    monkeypatch.setattr(forecasts, "_worked_out", meanwhile)
    assert refresh(large, later)
    assert of(fitted_parts(large, later), "Alder").last_finding.grade == "ring"  # type: ignore[union-attr]


def test_a_figure_of_the_farm_touches_every_machine(large: Store) -> None:
    before = fitted_parts(large, NOW)
    set_figure(large, "labour_per_h", 90.0)
    after = fitted_parts(large, NOW)
    assert of(after, "Beech").advice.planned_cost.amount > of(before, "Beech").advice.planned_cost.amount


def test_other_settings_touch_none(large: Store) -> None:
    before = fitted_parts(large, NOW)
    set_farm_name(large, "Another name")
    assert of(fitted_parts(large, NOW), "Beech") is of(before, "Beech")


def test_a_new_machine_is_there_and_a_void_one_is_gone(large: Store) -> None:
    fitted_parts(large, NOW)
    made = add_machine(large, "Rowan", "moving_bed_remote", history="new")
    assert of(fitted_parts(large, NOW), "Rowan")
    void(large, "machine", made.id, reason="entered twice")
    assert all(part.machine.name != "Rowan" for part in fitted_parts(large, NOW))
