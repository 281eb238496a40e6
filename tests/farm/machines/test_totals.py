"""Totals kept as acts come in equal a count from scratch after any acts in any order of their moments.

The count here reads the rows with SQLite alone and asks nothing of the farm room: for every fitting, the
exposure of each run and hot event of its machine within its time, by the wear law, in whole billionths.
"""

import json
import shutil
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import FeedwrightError
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines import totals
from feedwright.farm.machines.machines import change_machine, machine_named
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run, add_runs
from feedwright.farm.prints.voids import void
from feedwright.records.store import Store
from feedwright.records.values import Run
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import exposure_of
from feedwright.wear.values import Surroundings

BEGUN = datetime(2026, 3, 2, 8, tzinfo=UTC)


def counted_from_scratch(folder: Path) -> dict[int, tuple[int, int]]:
    """Billionths and charges of every fitting that is not void and was charged with anything."""
    with closing(sqlite3.connect(folder / "farm.sqlite")) as rows:
        rows.row_factory = sqlite3.Row
        live = {
            table: list(rows.execute(f"SELECT * FROM {table} WHERE void_act_id IS NULL"))
            for table in ("fittings", "removals", "runs", "events", "machine_states")
        }
        stretches = dict(rows.execute("SELECT run_id, stretch FROM charges"))
    worn = [(r["machine_id"], r["started_utc"], r["material"], _stretch(stretches[r["id"]])) for r in live["runs"]]
    for event in live["events"]:
        if "stretch" in event.keys() and event["stretch"]:  # noqa: SIM118 - a row is no mapping
            worn.append((event["machine_id"], event["at_utc"], event["material"] or "pla", _stretch(event["stretch"])))
        elif (
            event["kind"] in ("hot_stop", "fan_stall")
            and event["nozzle_c"] is not None
            and event["minutes"] is not None
        ):
            seconds = event["minutes"] * 60
            hot = Stretch(idle_s=seconds, nozzle_s=((event["nozzle_c"], seconds),))
            worn.append((event["machine_id"], event["at_utc"], event["material"] or "pla", hot))
    gone = {removal["fitting_id"]: removal["removed_utc"] for removal in live["removals"]}
    found: dict[int, tuple[int, int]] = {}
    for fitting in live["fittings"]:
        for machine_id, at, material, stretch in worn:
            if machine_id == fitting["machine_id"] and fitting["fitted_utc"] <= at < gone.get(fitting["id"], 2**63):
                states = sorted(
                    (state["from_utc"], state["id"], state["enclosure_c"], json.loads(state["motion"]))
                    for state in live["machine_states"]
                    if state["machine_id"] == machine_id
                )
                *_, warmth, motion = [state for state in states if state[0] <= at or state is states[0]][-1]
                around = Surroundings(material, warmth, motion["filament_diameter_mm"])
                kind, stuff = load_catalogue().parts[fitting["part_kind"]], load_catalogue().materials[material]
                nano, count = found.get(fitting["id"], (0, 0))
                found[fitting["id"]] = (nano + round(exposure_of(kind, stretch, around, stuff) * 10**9), count + 1)
    return found


def _stretch(text: str) -> Stretch:
    held = json.loads(text)
    pairs = {name: tuple(map(tuple, held[name])) for name in ("nozzle_s", "bed_s") if name in held}
    return Stretch(**{**held, **pairs})


def kept(store: Store) -> dict[int, tuple[int, int]]:
    live = {fitting.id for fitting in store.fittings()}
    totals = {number: (total.exposure_nano, total.charges) for number, total in store.exposures().items()}
    return {number: total for number, total in totals.items() if number in live and total != (0, 0)}


moments = st.integers(0, 24 * 40).map(lambda hours: BEGUN + timedelta(hours=hours))
machines = st.sampled_from(["Alder", "Alder", "Beech", "Hazel"])
materials = st.sampled_from(["pla", "petg", "pla_carbon"])
shares = st.floats(0.001, 1.0)


def doing(function: Any, **given: st.SearchStrategy[Any]) -> st.SearchStrategy[tuple[Any, dict[str, Any]]]:
    return st.tuples(st.just(function), st.fixed_dictionaries(given))


def _void(store: Store, what: str, which: int) -> None:
    live = {"run": store.runs(), "event": store.events(), "finding": store.findings(), "renewal": store.removals()}[
        what
    ]
    if live:
        void(store, what, live[which % len(live)].id, "entered twice")


def _week(store: Store, machine: str, hours: list[float], at: datetime) -> None:
    add_runs(
        store, machine, [Run(0, at + timedelta(hours=10 * k), "complete", "pla", hours=h) for k, h in enumerate(hours)]
    )


ACTS = st.one_of(
    doing(add_run, machine=machines, material=materials, hours=st.floats(0, 50), copies=st.integers(1, 4),
          started_utc=moments, filament_g=st.none() | st.floats(0, 900), nozzle_c=st.none() | st.floats(170, 300)),
    doing(add_run, machine=machines, material=materials, toolpath=st.sampled_from(["d20.gcode", "d09.gcode.gz"]),
          outcome=st.sampled_from(["stopped", "spoiled"]), fraction=shares, copies=st.integers(1, 9),
          started_utc=moments),
    doing(add_run, machine=machines, material=materials, toolpath=st.just("d20.gcode"), started_utc=moments),
    doing(_week, machine=machines, hours=st.lists(st.floats(0, 9), max_size=4), at=moments),
    doing(renew, machine=machines, part=st.sampled_from(["tube_end", "guide_tube", "nozzle", "sink_fan"]),
          renewed_utc=moments, grade_found=st.sampled_from(["", "clean"])),
    doing(renew, machine=machines, part=st.just("tube_end"), renewed_utc=moments, trimmed_mm=st.floats(1, 20)),
    doing(add_event, machine=machines, kind=st.sampled_from(["fan_stall", "hot_stop", "jam"]), at_utc=moments,
          minutes=st.none() | st.floats(0, 600), nozzle_c=st.none() | st.floats(150, 300)),
    doing(add_finding, machine=machines, part=st.sampled_from(["tube_end", "nozzle"]), grade=st.just("clean"),
          found_utc=moments),
    doing(_void, what=st.sampled_from(["run", "run", "event", "finding", "renewal", "renewal"]),
          which=st.integers(0, 99)),
    doing(change_machine, name=machines, changes=st.fixed_dictionaries({"enclosure_c": st.floats(20, 60)}),
          reason=st.just("moved")),
)  # fmt: skip


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(ACTS, min_size=3, max_size=25))
def test_totals_equal_a_count_from_scratch_after_any_acts(
    ground: Path, tmp_path: Path, acts: list[tuple[Any, dict[str, Any]]]
) -> None:
    folder = tmp_path / "lived"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(ground, folder)
    with open_farm(folder) as store:
        for function, given_ in acts:
            before = store.counts()
            try:
                function(store, **given_)
            except FeedwrightError:
                assert store.counts() == before, "a refused act leaves nothing"
            assert kept(store) == counted_from_scratch(folder), function.__name__


def test_acts_of_several_writers_at_once_are_each_judged_by_what_the_others_wrote(farm: Store) -> None:
    """A renewal that comes between reading and writing must not leave a run on the part that came off."""

    def runs(each: int) -> None:
        with open_farm(farm.folder) as own:
            for hour in range(15):
                add_run(own, "Alder", material="pla", hours=1, started_utc=BEGUN + timedelta(hours=hour * 7 + each))

    def renewals() -> None:
        with open_farm(farm.folder) as own:
            for hour in range(1, 15):
                renew(own, "Alder", "nozzle", renewed_utc=BEGUN + timedelta(hours=hour * 7))

    with ThreadPoolExecutor() as pool:
        for done in [pool.submit(runs, 1), pool.submit(renewals), pool.submit(runs, 2)]:
            done.result()
    assert len(farm.runs()) == 30
    assert kept(farm) == counted_from_scratch(farm.folder)


def test_a_change_of_surroundings_counts_from_its_moment_on(farm: Store) -> None:
    """A machine boxed in today ages its fans faster today, and not in the weeks before."""
    change_machine(farm, "Alder", {"enclosure_c": 50.0}, reason="boxed in")
    now = datetime.now(UTC)
    for apart in (timedelta(days=-30), timedelta(minutes=3)):
        add_run(farm, "Alder", material="pla", hours=10, started_utc=now + apart)
    assert kept(farm) == counted_from_scratch(farm.folder)
    change_machine(farm, "Alder", {"enclosure_c": 22.0, "filament_diameter_mm": 2.85}, reason="opened again")
    assert kept(farm) == counted_from_scratch(farm.folder)
    fan = next(held for held in farm.fittings(1) if held.part_kind == "sink_fan")
    before = farm.exposures()[fan.id]
    void(farm, "run", 1, "was not printed")
    assert farm.exposures()[fan.id].charges == before.charges - 1
    assert kept(farm) == counted_from_scratch(farm.folder)


def _run_late(farm: Store) -> None:
    """Dated into the time of the nozzle that is off the machine already."""
    add_run(farm, "Alder", material="pla_carbon", hours=7.0, started_utc=BEGUN + timedelta(days=1))


def _week_late(farm: Store) -> None:
    _week(farm, "Alder", [3.0, 4.0], BEGUN + timedelta(days=1))


def _event_late(farm: Store) -> None:
    add_event(farm, "Alder", "fan_stall", at_utc=BEGUN + timedelta(days=1), nozzle_c=240, minutes=90)


def _void_late(farm: Store) -> None:
    void(farm, "run", 1, "was not printed")


@pytest.mark.parametrize("act", [_run_late, _week_late, _event_late, _void_late])
def test_totals_kept_under_an_older_catalogue_are_counted_again_before_anything_is_added(
    farm: Store, monkeypatch: pytest.MonkeyPatch, act: Callable[[Store], None]
) -> None:
    """Whatever is written first under the new laws is counted once: not with the old totals and again by itself."""
    for days in (0, 5):
        add_run(farm, "Alder", material="pla_carbon", hours=10, started_utc=BEGUN + timedelta(days=days))
    renew(farm, "Alder", "nozzle", renewed_utc=BEGUN + timedelta(days=3))
    catalogue = load_catalogue()
    stuff = catalogue.materials["pla_carbon"]
    harder = replace(stuff, abrasive_ratio=replace(stuff.abrasive_ratio, value=stuff.abrasive_ratio.value * 2))
    newer = replace(catalogue, materials={**catalogue.materials, "pla_carbon": harder})
    nozzles = [held.id for held in farm.fittings(1) if held.part_kind == "nozzle"]
    before = totals.exposures(farm, farm.machines())
    for module in ("machines.totals", "prints.runs", "parts.events", "prints.voids"):
        monkeypatch.setattr(f"feedwright.farm.{module}.load_catalogue", lambda: newer)
    monkeypatch.setattr(f"{__name__}.load_catalogue", lambda: newer)
    act(farm)
    held = farm.exposures()
    assert len({held[number].law_key for number in nozzles}) == 1
    assert kept(farm) == counted_from_scratch(farm.folder)
    late = totals.exposures(farm, [machine_named(farm, "Alder")])[nozzles[1]]
    assert late == pytest.approx(2 * before[nozzles[1]], abs=2e-9), "untouched by the act, and doubled by the law"
