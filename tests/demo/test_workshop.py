"""The invented workshop: reproducible, varied, and worth looking at."""

from collections import defaultdict
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.demo.conftest import MADE, Demo

from feedwright.demo import workshop
from feedwright.demo.spool_rack import BAD_LOT
from feedwright.demo.toolpath_maker import THINGS
from feedwright.errors import BadInput, Conflict
from feedwright.farm.cases.case_lists import case_lines
from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.people import people
from feedwright.farm.outlook.bench import bench
from feedwright.farm.prints.prints import under_way
from feedwright.farm.prints.queue import queue_lines
from feedwright.farm.prints.runs import run_lines
from feedwright.farm.rounds.bench_hours import weekday_hours
from feedwright.farm.rounds.round_sheets import rounds_sheet
from feedwright.farm.service.releases import held_machines
from feedwright.farm.service.settings_ledger import ledger
from feedwright.farm.service.truing import screw_drift
from feedwright.farm.stores.spools import spools
from feedwright.farm.stores.stock import stocks
from feedwright.farm.toolpaths.toolpaths import known_toolpaths, reading_for
from feedwright.records.store import Store
from feedwright.records.stores_values import SpoolUse


def records_of(store: Store, names: tuple[str, ...]) -> dict[str, list[Any]]:
    """All that was written down of these machines, without the numbers of records and acts."""
    toolpaths = {toolpath.id: toolpath.sha256 for toolpath in store.toolpaths()}
    machines = [machine for machine in store.machines() if machine.name in names]
    held: dict[str, list[Any]] = {}
    for machine in machines:
        fittings = {fitting.id: fitting for fitting in store.fittings(machine.id)}
        places = {number: (one.part_kind, one.position, one.fitted_utc) for number, one in fittings.items()}
        plain = {"id": 0, "act_id": 0}
        held[machine.name] = [
            replace(machine, **plain),
            [replace(one, **plain, machine_id=0) for one in fittings.values()],
            [(replace(run, **plain, machine_id=0, toolpath_id=0), toolpaths[run.toolpath_id or 0], charge)
             for run, charge in store.charged_runs(machine.id)],
            [(replace(one, **plain, fitting_id=0, replaced_by=0), places[one.fitting_id])
             for one in store.removals(machine.id)],
            [(replace(one, **plain, fitting_id=0), places[one.fitting_id]) for one in store.findings(list(fittings))],
            [replace(one, **plain, machine_id=0) for one in store.events(machine.id)],
        ]  # fmt: skip
    return held


def make_some(
    folder: Path, names: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, **given: Any
) -> dict[str, list[Any]]:
    """A yard of these machines alone, as records."""
    with monkeypatch.context() as patch:
        patch.setattr(workshop, "MACHINES", tuple(one for one in workshop.MACHINES if one.name in names))
        workshop.make_demo(folder, now_utc=MADE, **given)
    with open_farm(folder) as store:
        return records_of(store, names)


@pytest.mark.slow
def test_the_same_seed_lives_the_same_ten_months(demo: Demo, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Record by record, and each machine whatever the others do; another seed lives otherwise."""
    names = ("Cedar", "Elm")
    again = make_some(tmp_path / "again", names, monkeypatch)
    assert again == records_of(demo.store, names)
    other = make_some(tmp_path / "other", ("Elm",), monkeypatch, seed=workshop.DEFAULT_SEED + 1)
    assert other["Elm"] != again["Elm"]


@pytest.mark.slow
def test_a_dozen_machines_of_mixed_build_print_for_ten_months(demo: Demo) -> None:
    machines, runs = demo.store.machines(), demo.store.runs()
    assert len(machines) == demo.report.machines == 12
    assert len({machine.build for machine in machines}) >= 6
    assert len(runs) == demo.report.runs > 3000
    first, last = min(run.started_utc for run in runs), max(run.started_utc for run in runs)
    assert timedelta(days=295) < last - first < timedelta(days=310)
    assert MADE - timedelta(days=2) < last < MADE
    assert len({run.material for run in runs}) >= 5
    assert demo.told[-1] == (16, 16)
    assert [done for done, _ in demo.told] == list(range(1, 17))


@pytest.mark.slow
def test_it_has_what_a_real_yard_has(demo: Demo) -> None:
    """A stalled fan, a power cut on several machines, an idle one, one of unknown history, spoiled prints."""
    store = demo.store
    happened = [event.kind for event in store.events()]
    assert happened.count("fan_stall") == 1
    assert happened.count("power_cut") >= 3
    spoiled = [run for run in store.runs() if run.outcome == "spoiled"]
    assert 20 < len(spoiled) < 0.1 * demo.report.runs
    assert all(0 <= run.fraction < 1 for run in spoiled)
    reasons = [removal.reason for removal in store.removals()]
    assert reasons.count("failed") == demo.report.failures > 50
    assert reasons.count("worn") > 10
    assert {finding.grade for finding in store.findings()} > {"clean", "trace"}
    assert any(fitting.history == "unknown" for fitting in store.fittings())
    latest = {line.machine: line.run.started_utc for line in reversed(run_lines(store, limit=10_000))}
    assert sum(last < MADE - timedelta(days=30) for last in latest.values()) == 1
    assert {act.person_id for act in store.acts(10_000)} >= {person.id for person in people(store)}


@pytest.mark.slow
def test_its_keepers_write_down_all_that_a_yard_writes_down(demo: Demo) -> None:
    """Cases closed and open, visits, a held machine, measurements and values, stores, spools and what waits."""
    store = demo.store
    lines = case_lines(store)
    assert sum(line.ending is None for line in lines) == 2
    causes = {line.ending.cause for line in lines if line.ending}
    assert len(causes) >= 3
    assert all(causes)
    assert {line.machine == "" for line in lines} == {True, False}
    assert len(store.visits()) == 6
    assert [held.machine.name for held in held_machines(store)] == ["Larch"]
    assert {one.kind for one in store.measurements()} >= {"tram", "feed_rate", "heater"}
    assert min(screw_drift(store, "Cedar"), key=lambda one: one.mean_mm).screw == "back right"
    assert {one.kind.name for one in ledger(store, "Alder")} >= {"steps_per_mm", "retract_mm", "heater_gain"}
    stock = stocks(store)
    assert len(stock) >= 8
    assert all(-1 <= one.on_hand < 60 for one in stock.values())
    assert any(one.on_order for one in stock.values())
    assert len(queue_lines(store)) == 7
    assert len(under_way(store)) == 2
    assert rounds_sheet(store, MADE + timedelta(hours=1)).rounds
    assert {day for day, held in weekday_hours(store).items() if held.minutes} == {2, 4, 5}


@pytest.mark.slow
def test_one_lot_of_filament_is_bad_and_only_its_prints_say_so(demo: Demo) -> None:
    store = demo.store
    kept = {sheet.spool.id: sheet.spool for sheet in spools(store, empty=True)}
    runs = {run.id: run for run in store.runs()}
    spoiled: dict[str, list[bool]] = defaultdict(list)
    for use in store.every(SpoolUse):
        spoiled[kept[use.spool_id].lot].append(runs[use.run_id].outcome == "spoiled")
    share = {lot: sum(held) / len(held) for lot, held in spoiled.items()}
    assert len(share) >= 5
    assert max(share, key=share.__getitem__) == BAD_LOT
    assert share[BAD_LOT] > 0.2
    assert sum(map(sum, spoiled.values())) < 0.25 * sum(map(len, spoiled.values()))


@pytest.mark.slow
def test_every_toolpath_of_it_reads_as_a_whole_filament_print(demo: Demo) -> None:
    kept = known_toolpaths(demo.store)
    assert len(kept) == len(THINGS)
    for toolpath in kept:
        reading = reading_for(demo.store, toolpath, None)
        assert (reading.kind, reading.complete, reading.warnings) == ("filament", True, ())


@pytest.mark.slow
def test_the_bench_has_things_now_and_soon_with_their_reasons(demo: Demo) -> None:
    made = bench(demo.store, MADE)
    assert 3 <= len(made.now) <= 15
    assert len({part.machine.name for part in made.now}) >= 3
    assert len({part.kind.id for part in made.now}) >= 2
    assert len({part.kind.id for part in (*made.now, *made.soon)}) >= 4
    assert {part.advice.act for part in made.now} == {"renew", "look"}
    costs = [part.advice.waiting_cost_week.amount for part in made.now]
    assert costs == sorted(costs, reverse=True)
    for part in (*made.now, *made.soon):
        assert part.outlook.share_used.low <= part.outlook.share_used.mid <= part.outlook.share_used.high
        assert part.outlook.because
        assert part.advice.because
        assert part.kind.look_for


def test_it_is_never_made_over_something(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").touch()
    with pytest.raises(BadInput, match="new or empty folder"):
        workshop.make_demo(tmp_path)
    with pytest.raises(BadInput):
        workshop.make_demo(tmp_path / "mine.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_what_lies_beside_is_never_touched(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever its name: a making that was broken off leaves nothing, and sweeps nothing away."""
    (tmp_path / "farm.unfinished").mkdir()
    (tmp_path / "farm.unfinished" / "mine.txt").touch()
    monkeypatch.setattr(workshop, "DAYS", 3)
    workshop.make_demo(tmp_path / "farm", now_utc=MADE)
    assert (tmp_path / "farm.unfinished" / "mine.txt").exists()
    assert {path.name for path in tmp_path.iterdir()} == {"farm", "farm.unfinished"}


def test_two_makings_at_once_leave_the_first_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "farm"
    monkeypatch.setattr(workshop, "DAYS", 3)
    made = []

    def another(done: float, total: float) -> None:
        if done == 6 and not made:
            made.append(True)
            workshop.make_demo(folder, now_utc=MADE)

    with pytest.raises(Conflict, match="meanwhile"):
        workshop.make_demo(folder, now_utc=MADE, progress=another)
    with open_farm(folder) as store:
        assert len(store.machines()) == 12
    assert [path.name for path in tmp_path.iterdir()] == ["farm"]


def test_the_present_folder_may_be_made_the_demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(workshop, "DAYS", 3)
    workshop.make_demo(Path(), now_utc=MADE)
    with open_farm(Path()) as store:
        assert len(store.machines()) == 12


def test_what_is_broken_off_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No farm where one was asked for, nothing beside it; the next making begins anew."""

    def tired(done: float, total: float) -> None:
        raise KeyboardInterrupt

    folder = tmp_path / "farm"
    monkeypatch.setattr(workshop, "DAYS", 3)
    with pytest.raises(KeyboardInterrupt):
        workshop.make_demo(folder, now_utc=MADE, progress=tired)
    assert list(tmp_path.iterdir()) == []
    assert workshop.make_demo(folder, now_utc=MADE).machines == 12
    assert [path.name for path in tmp_path.iterdir()] == ["farm"]
