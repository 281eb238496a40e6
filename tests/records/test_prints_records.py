"""The queue, prints under way and forms that were sent: kept once, held by what rests on them."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.records.test_engine import at_revision

from feedwright.errors import Conflict
from feedwright.records.engine import FILE_NAME
from feedwright.records.prints_values import FormKey, Placement, Print, PrintEnding, QueueEntry, RunLook
from feedwright.records.store import Store, open_store
from feedwright.records.stores_values import Spool
from feedwright.records.values import Machine, Run, Toolpath

AT = datetime(2026, 3, 1, 9, 30, 15, tzinfo=UTC)


@pytest.fixture
def entry(store: Store, machine: Machine) -> QueueEntry:
    with store.act("queue") as act:
        toolpath = act.add(Toolpath("ab", "part.gcode", 1, "filament", True, AT))
        number = act.add(QueueEntry(toolpath, "pla", 3, AT, AT + timedelta(days=2), "for the fair"))
        act.add(QueueEntry(toolpath, "petg", 1, AT))
        act.add(Placement(number, machine.id, AT, "it has the big nozzle"))
    return store.every(QueueEntry)[0]


def test_a_print_from_the_queue_comes_back_with_its_ending_and_how_it_looked(
    store: Store, machine: Machine, entry: QueueEntry
) -> None:
    with store.act("print") as act:
        spool = act.add(Spool("pla", AT, 1000.0))
        number = act.add(
            Print(machine.id, AT, "pla", entry.toolpath_id, 1.5, 3, None, spool, entry.id, "at the window")
        )
        run = act.add(Run(machine.id, AT, "spoiled", "pla", entry.toolpath_id, 0.4, 2))
        act.add(PrintEnding(number, run, AT + timedelta(hours=2)))
        act.add(RunLook(run, "strings"))
        act.add(FormKey("print", "device-7"))
    begun = store.every(Print, machine_id=machine.id)[0]
    assert (begun.hours, begun.copies, begun.spool_id, begun.queue_entry_id) == (1.5, 3, spool, entry.id)
    assert store.every(PrintEnding, print_id=number)[0].ended_utc == AT + timedelta(hours=2)
    assert store.every(RunLook, run_id=run)[0].observation == "strings"
    due, undated = store.every(QueueEntry)
    assert (due.due_utc, undated.due_utc) == (AT + timedelta(days=2), None)
    assert store.every(Placement, queue_entry_id=entry.id)[0].note == "it has the big nozzle"


def test_the_file_itself_refuses_a_second_ending_placement_look_or_key(
    store: Store, machine: Machine, entry: QueueEntry
) -> None:
    with store.act("print") as act:
        number = act.add(Print(machine.id, AT, "pla"))
        run = act.add(Run(machine.id, AT, "complete", "pla", hours=1.0))
        for value in (PrintEnding(number, run, AT), RunLook(run, "strings"), FormKey("print", "device-7")):
            act.add(value)
    for again in (
        PrintEnding(number, run, AT), Placement(entry.id, machine.id, AT), RunLook(run, "strings"),
        FormKey("another form", "device-7"),
    ):  # fmt: skip
        with pytest.raises(Conflict), store.act("again") as act:
            act.add(again)


def test_a_key_once_used_stays_used_though_its_act_is_taken_back(store: Store) -> None:
    with store.act("print") as act:
        act.add(FormKey("print", "device-7"))
    with store.act("void", reason="a slip") as act:
        act.void(store.every(FormKey)[0])
    with pytest.raises(Conflict), store.act("again") as act:
        act.add(FormKey("print", "device-7"))


def test_what_rests_on_a_print_or_entry_holds_it(store: Store, machine: Machine, entry: QueueEntry) -> None:
    with store.act("print") as act:
        spool = act.add(Spool("pla", AT, 1000.0))
        number = act.add(Print(machine.id, AT, "pla", spool_id=spool))
        run = act.add(Run(machine.id, AT, "complete", "pla", hours=1.0))
        act.add(PrintEnding(number, run, AT))
        act.add(RunLook(run, "strings"))
    for value, what in (
        (entry, "where it was placed"),
        (store.every(Print)[0], "its ending"),
        (store.runs()[0], "the ending of its print"),
    ):
        with pytest.raises(Conflict, match=f"void {what} first"), store.act("void", reason="slip") as act:
            act.void(value)


def test_the_step_to_0009_leaves_what_is_on_record_as_it_was(folder: Path) -> None:
    """A farm of the schema before, with a toolpath on record, is brought up to date and takes it into the queue."""
    at_revision(folder, "0008")
    with closing(sqlite3.connect(folder / FILE_NAME)) as other:
        other.execute("INSERT INTO acts (id, kind, at_utc, reason) VALUES (1, 'add toolpath', 0, '')")
        other.execute(
            "INSERT INTO toolpaths (id, sha256, name, bytes_count, kind, complete, read_utc, act_id) "
            "VALUES (1, 'ab', 'part.gcode', 1, 'filament', 1, 0, 1)"
        )
        other.commit()
    with open_store(folder) as opened:
        assert [held.name for held in opened.toolpaths()] == ["part.gcode"]
        with opened.act("queue") as act:
            act.add(QueueEntry(1, "pla", 2, AT))
        assert opened.every(QueueEntry)[0].copies == 2
