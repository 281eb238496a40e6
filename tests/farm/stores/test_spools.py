"""Spools: what is left is what was there less what runs drew since; where they hang; whether one is enough."""

from datetime import datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.farm.conftest import BEGUN

from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.prints.runs import add_run, add_runs
from feedwright.farm.prints.voids import void
from feedwright.farm.stores.spool_draws import HungThere
from feedwright.farm.stores.spools import (
    add_spool,
    dry_spool,
    empty_spool,
    hang_spool,
    open_spool,
    shelve_spool,
    spool_enough,
    spool_sheet,
    spools,
    weigh_spool,
)
from feedwright.records.store import Store
from feedwright.records.stores_values import SpoolUse
from feedwright.records.values import Run


def at(days: float) -> datetime:
    return BEGUN + timedelta(days=days)


def printed(farm: Store, grams: float, days: float, machine: str = "Alder", **more: object) -> int:
    return add_run(
        farm, machine, material="pla", hours=3.0, filament_g=grams, started_utc=at(days), **more,  # type: ignore[arg-type]
    ).run.id  # fmt: skip


def test_a_run_draws_from_the_spool_that_hung_there_when_it_began(farm: Store) -> None:
    first = add_spool(farm, "pla", label="green", machine="Alder", at_utc=at(0)).spool.id
    second = add_spool(farm, "PLA", net_g=750, at_utc=at(0)).spool.id
    printed(farm, 120, 1)
    hang_spool(farm, second, "Alder", at_utc=at(2))
    printed(farm, 80, 3)
    printed(farm, 40, 1.5)  # entered late: green still hung there
    printed(farm, 50, 3, machine="Beech")  # nothing on record hangs there
    assert spool_sheet(farm, first).left.mean_g == pytest.approx(840, abs=0.01)
    assert spool_sheet(farm, second).left.mean_g == pytest.approx(670, abs=0.01)
    assert spool_sheet(farm, first).machine is None
    assert spool_sheet(farm, second).machine == machine_named(farm, "Alder")


def test_a_run_may_name_its_spool_or_none_and_gives_back_when_void(farm: Store) -> None:
    hung = add_spool(farm, "pla", machine="Alder", at_utc=at(0)).spool.id
    other = add_spool(farm, "pla", at_utc=at(0)).spool.id
    printed(farm, 100, 1, spool=other)
    printed(farm, 100, 1, spool=0)
    assert spool_sheet(farm, hung).drawn_g == 0
    assert spool_sheet(farm, other).drawn_g == pytest.approx(100, abs=0.01)
    run = printed(farm, 60, 2)
    void(farm, "run", run, "the wrong day")
    assert spool_sheet(farm, hung).left.mean_g == 1000
    assert farm.every(SpoolUse, run_id=run) == []


def test_another_material_is_not_charged_to_what_hangs_there(farm: Store) -> None:
    petg = add_spool(farm, "petg", machine="Alder", at_utc=at(0)).spool.id
    receipt = add_run(farm, "Alder", material="pla", hours=2.0, filament_g=30, started_utc=at(1))
    assert any("the run was of PLA" in remark for remark in receipt.remarks)
    before = farm.counts()
    with pytest.raises(BadInput, match="the run was of PLA"):
        printed(farm, 30, 1, spool=petg)
    with pytest.raises(NotFound):
        printed(farm, 30, 1, spool=99)
    assert farm.counts() == before
    assert spool_sheet(farm, petg).drawn_g == 0


def test_many_runs_at_once_draw_like_single_ones(farm: Store) -> None:
    one = add_spool(farm, "pla", machine="Alder", at_utc=at(0)).spool.id
    two = add_spool(farm, "pla", at_utc=at(0)).spool.id
    hang_spool(farm, two, "Alder", at_utc=at(2))
    machine = machine_named(farm, "Alder")
    days = (0.5, 1.0, 2.5, 3.0, 3.5)
    add_runs(farm, "Alder", [Run(machine.id, at(d), "complete", "pla", hours=2.0, filament_g=20.0) for d in days])
    assert spool_sheet(farm, one).drawn_g == pytest.approx(40, abs=0.01)
    assert spool_sheet(farm, two).drawn_g == pytest.approx(60, abs=0.01)


def test_weighing_sets_what_is_left_and_needs_the_empty_spool_for_a_mass_with_it(farm: Store) -> None:
    number = add_spool(farm, "pla", machine="Alder", at_utc=at(0)).spool.id
    printed(farm, 300, 1)
    with pytest.raises(BadInput, match="empty spool"):
        weigh_spool(farm, number, gross_g=900, at_utc=at(2))
    with pytest.raises(BadInput, match="one of them"):
        weigh_spool(farm, number)
    with pytest.raises(BadInput, match="held 1000 g when it was new"):
        weigh_spool(farm, number, left_g=1250, at_utc=at(2))
    assert weigh_spool(farm, number, left_g=650, at_utc=at(2)).left.mean_g == 650
    printed(farm, 50, 3)
    left = spool_sheet(farm, number).left
    assert left.mean_g == pytest.approx(600, abs=0.01)
    assert left.interval.high - left.interval.low < 10, "weighed lately: known to a few grams"
    tared = add_spool(farm, "pla", tare_g=220, at_utc=at(0)).spool.id
    with pytest.raises(BadInput, match="empty spool alone"):
        weigh_spool(farm, tared, gross_g=72)
    assert weigh_spool(farm, tared, gross_g=720).left.mean_g == 500


def test_an_empty_spool_hangs_nowhere_and_takes_nothing_more(farm: Store) -> None:
    number = add_spool(farm, "pla", machine="Alder", at_utc=at(0)).spool.id
    assert empty_spool(farm, number, at_utc=at(1)).left.mean_g == 0
    assert spools(farm) == []
    assert [sheet.spool.id for sheet in spools(farm, empty=True)] == [number]
    with pytest.raises(Conflict, match="empty"):
        hang_spool(farm, number, "Beech", at_utc=at(2))
    assert HungThere(farm, machine_named(farm, "Alder")).at(at(2)) is None
    printed(farm, 30, 2)
    assert spool_sheet(farm, number).uses == ()


def test_when_it_was_opened_and_dried_is_told(farm: Store) -> None:
    number = add_spool(farm, "petg", lot="L-7", at_utc=at(0)).spool.id
    assert spool_sheet(farm, number).opened_utc is None
    open_spool(farm, number, at_utc=at(1))
    dry_spool(farm, number, dry_c=65, dry_h=6, at_utc=at(2))
    sheet = shelve_spool(farm, number, "dry box", at_utc=at(3))
    assert (sheet.opened_utc, sheet.dried_utc, sheet.place) == (at(1), at(2), "dry box")
    with pytest.raises(BadInput):
        dry_spool(farm, number, dry_c=900)
    with pytest.raises(Conflict, match="only since"):
        dry_spool(farm, number, at_utc=at(-1))


def test_whether_a_spool_is_enough_is_said_with_its_chance(farm: Store) -> None:
    assert spool_enough(farm, "Alder", 100).verdict is None
    add_spool(farm, "pla", machine="Alder", at_utc=at(0))
    printed(farm, 700, 1)
    assert spool_enough(farm, "Alder", 200).verdict == "enough"
    assert spool_enough(farm, "Alder", 400).verdict == "short"
    close = spool_enough(farm, "Alder", 300)
    assert close.verdict == "doubtful"
    assert close.enough_frac == pytest.approx(0.5, abs=0.01)
    assert "weigh it first" in close.words


def test_a_spool_is_void_with_all_that_hangs_on_it(farm: Store) -> None:
    number = add_spool(farm, "pla", machine="Alder", at_utc=at(0)).spool.id
    printed(farm, 30, 1)
    with pytest.raises(Conflict, match="rest on it"):
        void(farm, "machine", machine_named(farm, "Alder").id, "sold")
    void(farm, "spool", number, "entered twice")
    assert spools(farm, empty=True) == []
    assert farm.every(SpoolUse) == []


steps = st.lists(
    st.one_of(
        st.tuples(st.just("print"), st.integers(1, 60)),
        st.tuples(st.just("weigh"), st.integers(0, 900)),
        st.tuples(st.just("void"), st.integers(0, 9)),
        st.tuples(st.just("shelve"), st.just(0)),
        st.tuples(st.just("hang"), st.just(0)),
    ),
    max_size=10,
)  # fmt: skip


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps)
def test_what_is_left_follows_a_plain_account(farm: Store, steps: list[tuple[str, int]]) -> None:
    """Against an account kept by hand: start or last weighing, less what was drawn after it and not voided."""
    day = 1.0 + len(spools(farm, empty=True))
    number = add_spool(farm, "pla", machine="Hazel", at_utc=at(day)).spool.id
    start, draws, hangs = 1000.0, list[tuple[int, float]](), True
    for what, amount in steps:
        day += 0.05
        if what == "print":
            run = printed(farm, amount, day, machine="Hazel")
            if hangs:
                draws.append((run, float(amount)))
        elif what == "weigh":
            weigh_spool(farm, number, left_g=amount, at_utc=at(day))
            start, draws = float(amount), []
        elif what == "void" and draws:
            run, _ = draws.pop(amount % len(draws))
            void(farm, "run", run, "a slip")
        elif what == "shelve":
            shelve_spool(farm, number, at_utc=at(day))
            hangs = False
        elif what == "hang":
            hang_spool(farm, number, "Hazel", at_utc=at(day))
            hangs = True
        expected = start - sum(grams for _, grams in draws)
        assert spool_sheet(farm, number).left.mean_g == pytest.approx(expected, abs=0.01)
    empty_spool(farm, number, at_utc=at(day + 0.05))
