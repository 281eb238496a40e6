"""A tap a print: begun, ended, taken back; many at once or none; what is sent twice counts once."""

import shutil
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.farm.conftest import SAMPLES

from feedwright.errors import BadInput, Conflict, FeedwrightError, NotFound
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.totals import exposures
from feedwright.farm.prints.prints import Tap, finish, looks_of, print_on, record, spoil, start, stop, under_way
from feedwright.farm.prints.queue import add_to_queue, queue_entry
from feedwright.farm.prints.runs import add_run, run_lines
from feedwright.farm.prints.undo import undo
from feedwright.farm.prints.voids import void
from feedwright.farm.stores.spools import add_spool
from feedwright.records.prints_values import FormKey, Print
from feedwright.records.store import Store
from feedwright.records.stores_values import SpoolUse

NOW = datetime.now(UTC).replace(microsecond=0)


def ago(hours: float) -> datetime:
    return NOW - timedelta(hours=hours)


def worn(store: Store) -> dict[int, float]:
    return {number: round(total, 9) for number, total in exposures(store, store.machines()).items() if total}


def test_a_print_begun_and_finished_is_a_run_like_one_that_was_logged(farm: Store) -> None:
    logged = add_run(farm, "Alder", material="pla", toolpath="d20.gcode", started_utc=ago(3))
    void(farm, "run", logged.run.id, "to compare")
    begun = start(farm, "Alder", material="pla", toolpath="d20.gcode", started_utc=ago(3), person="Ines")
    here = under_way(farm)[0]
    assert here.toolpath is not None
    assert here.toolpath.name == "d20.gcode"
    assert here.ends_utc == begun.held.started_utc + timedelta(seconds=logged.charge.duration_s)
    assert here.done_frac(NOW) == 1.0
    done = finish(farm, "Alder", note="sold")
    assert done.run is not None
    assert (done.run.outcome, done.run.toolpath_id, done.run.note) == ("complete", logged.run.toolpath_id, "sold")
    assert run_lines(farm)[0].charge == logged.charge
    assert under_way(farm) == []


def test_the_clock_counts_where_no_file_is_known(farm: Store) -> None:
    start(farm, "Alder", material="petg", started_utc=ago(5))
    assert under_way(farm)[0].ends_utc is None
    done = finish(farm, "Alder", ended_utc=ago(1))
    assert done.run is not None
    assert done.run.hours == pytest.approx(4.0)


def test_hours_that_were_told_are_taken_where_the_print_is_complete_and_their_share_where_not(farm: Store) -> None:
    start(farm, "Alder", material="pla", hours=2.0, copies=3, started_utc=ago(9))
    done = finish(farm, "Alder").run
    assert done is not None
    assert (done.hours, done.copies) == (2.0, 3)
    start(farm, "Alder", material="pla", hours=2.0, copies=3, started_utc=ago(9))
    half = spoil(farm, "Alder", fraction=0.5).run
    assert half is not None
    assert run_lines(farm, "Alder", limit=1)[0].charge.duration_s == pytest.approx(3.0 * 3600)
    assert half.copies == 2


@pytest.mark.parametrize(
    ("copies", "fraction", "whole", "last"), [(1, 0.37, 1, 0.37), (4, 0.5, 3, 0.0), (4, 0.55, 3, 0.2), (2, 1.0, 2, 1.0)]
)
def test_the_share_done_counts_over_all_copies(
    farm: Store, copies: int, fraction: float, whole: int, last: float
) -> None:
    start(farm, "Beech", material="pla", toolpath="d20.gcode", copies=copies, started_utc=ago(50))
    run = stop(farm, "Beech", fraction=fraction).run
    assert run is not None
    assert (run.outcome, run.copies) == ("stopped", whole)
    assert run.fraction == pytest.approx(last)


def test_how_far_it_came_is_by_the_clock_where_it_is_not_said(farm: Store) -> None:
    start(farm, "Alder", material="pla", hours=4.0, started_utc=ago(1))
    run = spoil(farm, "Alder", ended_utc=NOW).run
    assert run is not None
    assert run.fraction == pytest.approx(0.25)
    start(farm, "Alder", material="pla", hours=4.0, started_utc=ago(40))
    late = spoil(farm, "Alder", ended_utc=NOW).run
    assert late is not None
    assert late.fraction == pytest.approx(0.99)


def test_how_a_spoiled_print_looked_is_kept_with_the_run(farm: Store) -> None:
    start(farm, "Alder", material="pla", hours=2.0, started_utc=ago(1))
    told = spoil(farm, "Alder", fraction=0.4, looks=["strings", "gaps-after-travel", "strings"])
    assert told.looks == ("strings", "gaps_after_travel")
    assert told.run is not None
    assert [seen.id for seen in looks_of(farm, told.run.id)] == ["strings", "gaps_after_travel"]
    start(farm, "Alder", material="pla", hours=2.0, started_utc=ago(1))
    with pytest.raises(BadInput, match="no such observation"):
        spoil(farm, "Alder", fraction=0.4, looks=["haunted"])
    with pytest.raises(BadInput, match="only a spoiled print"):
        record(farm, [Tap("Alder", "finish", looks=("strings",))])


@pytest.mark.parametrize(
    ("tap", "what"),
    [
        (Tap("Elder", "start", material="pla"), "did you mean Alder"),
        (Tap("Alder", "start"), "material"),
        (Tap("Alder", "start", material="pla", toolpath="none.gcode"), "toolpath"),
        (Tap("Alder", "start", material="pla", hours=-1.0), "hours"),
        (Tap("Alder", "start", material="pla", copies=0), "copies"),
        (Tap("Alder", "start", material="pla", hours=9000.0, copies=9000), "hours of all copies"),
        (Tap("Alder", "start", material="pla", nozzle_c=900.0), "nozzle temperature"),
        (Tap("Alder", "start", material="pla", queue_entry=77), "no such print waits"),
        (Tap("Alder", "start", material="pla", at_utc=NOW + timedelta(days=1)), "until now"),
        (Tap("Alder", "finish"), "nothing is under way"),
        (Tap("Beech", "spoil", fraction=1.5), "0 to 1"),
        (Tap("Beech", "finish", at_utc=ago(100)), "before the print began"),
        (Tap("Beech", "start", material="pla"), "say first how that ended"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_leaves_nothing(farm: Store, tap: Tap, what: str) -> None:
    start(farm, "Beech", material="pla", hours=1.0, started_utc=ago(2))
    before = farm.latest_act_id()
    with pytest.raises(FeedwrightError, match=what):
        record(farm, [tap], entry_key="a")
    assert farm.latest_act_id() == before
    assert farm.every(FormKey) == []


def test_a_whole_shelf_is_recorded_in_one_act_or_not_at_all(farm: Store) -> None:
    start(farm, "Alder", material="pla", toolpath="d20.gcode", started_utc=ago(9))
    start(farm, "Beech", material="pla", hours=5.0, started_utc=ago(4))
    shelf = [
        Tap("Alder", "finish"),
        Tap("Alder", "start", material="petg", toolpath="d09.gcode.gz"),
        Tap("Beech", "spoil", fraction=0.6, looks=("strings",)),
        Tap("Hazel", "finish"),
    ]
    before, wear = farm.latest_act_id(), worn(farm)
    with pytest.raises(NotFound, match="Hazel"):
        record(farm, shelf, entry_key="shelf-1")
    assert (farm.latest_act_id(), worn(farm), farm.runs_count()) == (before, wear, 0)
    made = record(farm, [*shelf[:3], Tap("Hazel", "start", material="abs")], entry_key="shelf-1")
    assert {one.act_id for one in made} == {before + 1}
    assert [(one.machine.name, one.kind) for one in made] == [
        ("Alder", "finish"), ("Alder", "start"), ("Beech", "spoil"), ("Hazel", "start"),
    ]  # fmt: skip
    assert {one.machine.name for one in under_way(farm)} == {"Alder", "Hazel"}
    assert undo(farm, before + 1).words == (
        "the beginning of print 3 of d09.gcode.gz on Alder; the beginning of print 4 on Hazel; "
        "run 1 of d20.gcode on Alder; run 2 on Beech taken back."
    )
    assert worn(farm) == wear
    assert {one.machine.name for one in under_way(farm)} == {"Alder", "Beech"}


def test_a_refusal_within_the_act_names_its_machine_and_takes_all_back(farm: Store) -> None:
    with pytest.raises(Conflict, match="Alder"):
        record(farm, [Tap("Hazel", "start", material="pla"), *[Tap("Alder", "start", material="pla")] * 2])
    assert farm.every(Print) == []


def test_a_form_that_comes_twice_counts_once_even_when_both_come_together(
    farm: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    once = start(farm, "Alder", material="pla", hours=2.0, started_utc=ago(3), entry_key="k1")
    again = start(farm, "Alder", material="pla", hours=2.0, started_utc=ago(3), entry_key="k1")
    assert again == once
    done = finish(farm, "Alder", entry_key="k2")
    before = farm.latest_act_id()
    assert finish(farm, "Alder", entry_key="k2").run == done.run
    # the second came while the first was being written: it saw no key before its own act began
    monkeypatch.setattr("feedwright.farm.prints.prints.act_of_key", lambda store, key: None)
    assert start(farm, "Alder", material="pla", entry_key="k1").held == once.held
    assert farm.latest_act_id() == before, "no empty act is left behind"
    assert farm.runs_count() == 1


def test_a_run_form_that_comes_twice_counts_once(farm: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    once = add_run(farm, "Alder", material="pla", hours=2.0, started_utc=ago(3), entry_key="r1")
    wear = worn(farm)
    assert add_run(farm, "Alder", material="pla", hours=2.0, started_utc=ago(3), entry_key="r1").run == once.run
    monkeypatch.setattr("feedwright.farm.prints.runs.act_of_key", lambda store, key: None)
    assert add_run(farm, "Alder", material="pla", hours=2.0, started_utc=ago(3), entry_key="r1").run == once.run
    assert (farm.runs_count(), worn(farm)) == (1, wear)
    undo(farm, once.run.act_id)
    monkeypatch.undo()
    with pytest.raises(Conflict, match="taken back"):
        add_run(farm, "Alder", material="pla", hours=2.0, started_utc=ago(3), entry_key="r1")


def test_a_tap_is_taken_back_within_a_minute_and_no_later(farm: Store) -> None:
    begun = start(farm, "Alder", material="pla", hours=2.0, started_utc=ago(3))
    done = finish(farm, "Alder")
    with pytest.raises(Conflict, match="older than a minute"):
        undo(farm, done.act_id, now_utc=datetime.now(UTC) + timedelta(seconds=70))
    with pytest.raises(Conflict, match="its ending"):
        undo(farm, begun.act_id)
    assert undo(farm, done.act_id).words == "run 1 on Alder taken back."
    assert print_on(farm, begun.machine).id == begun.held.id
    assert worn(farm) == {}
    with pytest.raises(Conflict, match="already"):
        undo(farm, done.act_id)
    assert undo(farm, begun.act_id).words == "the beginning of print 1 on Alder taken back."
    assert under_way(farm) == []
    with pytest.raises(NotFound, match="no such tap"):
        undo(farm, 1)


def test_an_ending_is_not_taken_back_under_the_next_print(farm: Store) -> None:
    start(farm, "Alder", material="pla", hours=2.0, started_utc=ago(3))
    done = finish(farm, "Alder")
    start(farm, "Alder", material="pla", hours=1.0)
    with pytest.raises(Conflict, match="begun another print since"):
        undo(farm, done.act_id)
    assert farm.runs_count() == 1


def test_voiding_a_run_later_voids_the_print_it_ended(farm: Store) -> None:
    start(farm, "Alder", material="pla", hours=2.0, started_utc=ago(3))
    done = spoil(farm, "Alder", fraction=0.5, looks=["strings"])
    assert done.run is not None
    void(farm, "run", done.run.id, "it was another machine")
    assert (under_way(farm), farm.every(Print), worn(farm)) == ([], [], {})
    started = start(farm, "Alder", material="pla")
    assert "never begun" in void(farm, "print", started.held.id, "a slip")


def test_a_print_for_the_queue_takes_its_file_and_material_and_counts_its_copies(farm: Store) -> None:
    line = add_to_queue(farm, "d20.gcode", material="petg", copies=5)
    number = line.entry.id
    begun = start(farm, "Alder", queue_entry=number, copies=2, started_utc=ago(30))
    assert (begun.held.material, begun.held.toolpath_id) == ("petg", line.toolpath.id)
    here = queue_entry(farm, number)
    assert (here.left, here.under_way, here.done) == (3, 2, 0)
    spoil(farm, "Alder", fraction=0.75)  # one copy whole, the second half done
    here = queue_entry(farm, number)
    assert (here.left, here.under_way, here.done) == (4, 0, 1)
    start(farm, "Beech", queue_entry=number, copies=4, started_utc=ago(30))
    done = finish(farm, "Beech")
    assert queue_entry(farm, number).complete
    undo(farm, done.act_id)
    assert queue_entry(farm, number).under_way == 4


def test_a_file_that_is_not_known_yet_is_kept_as_it_is_begun(farm: Store) -> None:
    begun = start(farm, "Alder", material="pla", toolpath=SAMPLES / "d14.gcode.gz")
    assert begun.held.toolpath_id is not None
    assert begun.held.hours
    assert "d14.gcode.gz" in [held.name for held in farm.toolpaths()]


MACHINES = ("Alder", "Beech")


def test_the_spool_that_hangs_there_is_kept_with_the_print_and_drawn_on_when_it_ends(farm: Store) -> None:
    spool = add_spool(farm, "pla", net_g=1.0, machine="Alder", at_utc=ago(9)).spool
    begun = start(farm, "Alder", material="pla", toolpath="d20.gcode", copies=40, started_utc=ago(3))
    assert begun.held.spool_id == spool.id
    assert "cannot finish it" in begun.remarks[0]
    done = finish(farm, "Alder")
    assert done.run is not None
    drawn = farm.every(SpoolUse, run_id=done.run.id)
    assert [use.spool_id for use in drawn] == [spool.id]
    undo(farm, done.act_id)
    assert farm.every(SpoolUse) == []
    undo(farm, begun.act_id)
    other = start(farm, "Alder", material="petg", started_utc=ago(2))
    assert other.held.spool_id is None
    assert "hang the one that it prints from" in other.remarks[0]


def test_a_spool_chosen_at_the_start_is_hung_for_the_print_and_taken_back_with_it(farm: Store) -> None:
    there = add_spool(farm, "pla", machine="Alder", at_utc=ago(9)).spool
    other, petg = (add_spool(farm, material, at_utc=ago(9)).spool for material in ("pla", "petg"))
    with pytest.raises(BadInput, match="the print is of PLA"):
        start(farm, "Alder", material="pla", spool=petg.id, started_utc=ago(3))
    begun = start(farm, "Alder", material="pla", toolpath="d20.gcode", spool=other.id, started_utc=ago(3))
    assert begun.held.spool_id == other.id
    done = finish(farm, "Alder")
    assert done.run is not None
    assert [use.spool_id for use in farm.every(SpoolUse, run_id=done.run.id)] == [other.id]
    undo(farm, done.act_id)
    undo(farm, begun.act_id)
    assert start(farm, "Alder", material="pla", started_utc=ago(2)).held.spool_id == there.id


steps = st.lists(
    st.tuples(st.sampled_from(["start", "finish", "spoil", "undo"]), st.sampled_from(MACHINES), st.integers(0, 5)),
    max_size=14,
)


@pytest.fixture(scope="module")
def copies(ground: Path) -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as held:
        yield Path(held)


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(steps)
def test_any_taps_sent_any_number_of_times_and_taken_back_leave_the_books_right(
    ground: Path, copies: Path, steps: list[tuple[str, str, int]]
) -> None:
    folder = copies / "farm"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(ground, folder)
    with open_farm(folder) as store:
        taps: list[tuple[int, str, str]] = []
        """Act, kind and machine of each tap that stands, in order."""
        gone: set[str] = set()
        kept: dict[str, int] = {}
        for kind, machine, which in steps:
            key = f"{kind} {machine} {which}"
            open_now = _open(taps, machine)
            if kind == "undo":
                if taps:
                    act_id, _, _ = taps.pop()
                    undo(store, act_id)
                    gone |= {key for key, act in kept.items() if act == act_id}
                continue
            tap = Tap(machine, kind, material="pla", hours=1.0, fraction=0.5 if kind == "spoil" else None)  # type: ignore[arg-type]
            if key in gone:
                with pytest.raises(Conflict, match="taken back"):
                    record(store, [tap], entry_key=key)
            elif key in kept:
                assert record(store, [tap], entry_key=key)[0].act_id == kept[key]
            elif (kind == "start") == open_now:
                with pytest.raises((Conflict, NotFound)):
                    record(store, [tap], entry_key=key)
            else:
                kept[key] = record(store, [tap], entry_key=key)[0].act_id
                taps.append((kept[key], kind, machine))
            assert {one.machine.name for one in under_way(store)} == {m for m in MACHINES if _open(taps, m)}
            assert store.runs_count() == sum(what != "start" for _, what, _ in taps)
        charged = sum(stretch.duration_s for _, stretch in store.charged_runs()) / 3600
        done = {"finish": 1.0, "spoil": 0.5}
        assert charged == pytest.approx(sum(done.get(what, 0.0) for _, what, _ in taps))
        assert bool(worn(store)) == bool(charged)


def _open(taps: list[tuple[int, str, str]], machine: str) -> bool:
    return [what for _, what, whose in taps if whose == machine][-1:] == ["start"]


def test_an_ending_is_not_taken_back_once_another_print_came_and_went(farm: Store) -> None:
    line = add_to_queue(farm, "d20.gcode", material="pla")
    start(farm, "Alder", queue_entry=line.entry.id, started_utc=NOW - timedelta(hours=3))
    ended = finish(farm, "Alder")
    start(farm, "Alder", material="pla", hours=0.1)
    finish(farm, "Alder")
    with pytest.raises(Conflict, match="begun another print since"):
        undo(farm, ended.act_id)
    assert queue_entry(farm, line.entry.id).complete
