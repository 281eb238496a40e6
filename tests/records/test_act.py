"""One act is one transaction; nothing is deleted or changed, only voided once."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedwright.errors import Conflict, StoreError
from feedwright.records import tables
from feedwright.records.access_values import Device
from feedwright.records.engine import FILE_NAME
from feedwright.records.exchange_values import Arrival, ArrivalAnswer, HotSpell
from feedwright.records.photo_values import Photo, PhotoSubject
from feedwright.records.prints_values import FormKey, Placement, Print, PrintEnding, QueueEntry, RunLook
from feedwright.records.rounds_values import BenchHours, BusyWindow, PlannedStop, RoundPlan, RoundWish
from feedwright.records.store import ActInHand, Store, open_store
from feedwright.records.stores_values import Item, ItemTerms, Movement, Spool, SpoolEntry, SpoolUse
from feedwright.records.values import (
    Case,
    CaseEnding,
    CaseEntry,
    Event,
    Finding,
    Fitting,
    Machine,
    MachineSetting,
    Measurement,
    Person,
    Release,
    Removal,
    Run,
    Setting,
    Toolpath,
    Visit,
    VisitEnding,
    VisitEntry,
)

AT = datetime(2026, 3, 1, tzinfo=UTC)


@pytest.fixture
def full(store: Store, machine: Machine, fitting: Fitting) -> Store:
    """A store with a row in every record table."""
    with store.act("write") as act:
        act.add(Person("Ines"))
        act.add(Device("Phone", "read", "a" * 64, AT))
        new = act.add(replace(fitting))
        act.add(Removal(fitting.id, AT, "worn", new))
        toolpath = act.add(Toolpath("ab", "part.gcode", 1, "filament", True, AT))
        act.add(Run(machine.id, AT, "complete", "pla", toolpath))
        act.add(Event(machine.id, "jam", AT))
        act.add(Finding(new, AT, "worn"))
        act.add(Setting("zone", '"UTC"'))
        case = act.add(Case(AT, "stringy", machine.id))
        act.add(CaseEntry(case, AT, "answer", "strings", "yes"))
        act.add(CaseEnding(case, AT, "filament_moist", "dry_filament"))
        visit = act.add(Visit(machine.id, AT, '["trim_tube"]', "pla"))
        act.add(VisitEntry(visit, AT, "done", "device-1", "trim_tube.cut"))
        act.add(VisitEnding(visit, AT, "done"))
        measured = act.add(Measurement(machine.id, AT, "tram", 0.03, "mm", visit_id=visit))
        act.add(MachineSetting(machine.id, AT, "steps_per_mm", 93.0, "per_mm", "as fitted", measurement_id=measured))
        act.add(Release(machine.id, visit, AT, "{}"))
        fill_stores(act, machine)
        fill_prints(act, machine)
        photo = act.add(Photo(machine.id, AT, "cd" * 32, 999, 40, 30))
        act.add(PhotoSubject(machine.id, photo, new))
        fill_rounds(act, machine)
        fill_exchange(act, machine)
    return store


def fill_stores(act: ActInHand, machine: Machine) -> None:
    """A row in every table of the stores."""
    item = act.add(Item("brass nozzle", "[]", AT))
    act.add(ItemTerms(item, AT, 5, Decimal("9.50"), currency="EUR"))
    act.add(Movement(item, AT, "in", 5))
    spool = act.add(Spool("pla", AT, 1000.0))
    act.add(SpoolEntry(spool, AT, "hung", machine.id))
    act.add(SpoolUse(spool, act.runs()[0].id, AT, 12.5))


def fill_prints(act: ActInHand, machine: Machine) -> None:
    """A row in every table of the queue and of prints."""
    entry = act.add(QueueEntry(act.toolpaths()[0].id, "pla", 2, AT))
    act.add(Placement(entry, machine.id, AT))
    number = act.add(Print(machine.id, AT, "pla", queue_entry_id=entry))
    act.add(PrintEnding(number, act.runs()[0].id, AT))
    act.add(RunLook(act.runs()[0].id, "strings"))
    act.add(FormKey("print", "device-1"))


def fill_rounds(act: ActInHand, machine: Machine) -> None:
    """A row in every table of the rounds."""
    act.add(BenchHours(2, "", "14:00", 120.0))
    act.add(BusyWindow(machine.id, AT, AT + timedelta(hours=3)))
    plan = act.add(RoundPlan(AT, "2026-03-01", 28, "{}"))
    act.add(PlannedStop(plan, machine.id, "2026-03-04", AT, 25.0, "[]"))
    act.add(RoundWish(machine.id, "lock", "2026-03-04", "[]", AT))


def fill_exchange(act: ActInHand, machine: Machine) -> None:
    """A row in every table of the ways in and out."""
    arrival = act.add(Arrival(AT, "ef" * 32, "vase.gcode", 1234))
    act.add(ArrivalAnswer(arrival, AT, "put_aside"))
    act.add(HotSpell(machine.id, AT, AT, 20.0, 210.0, 212.0, 95.0, 0.0, 40, "[]"))


def test_what_an_act_wrote_is_on_disk_when_its_block_has_ended(folder: Path, store: Store) -> None:
    with store.act("add person") as act:
        act.add(Person("Ines"))
    with closing(sqlite3.connect(folder / FILE_NAME)) as other:
        assert other.execute("SELECT name, act_id FROM people").fetchall() == [("Ines", act.id)]


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SystemExit])
def test_an_act_that_fails_half_way_leaves_nothing_behind(
    store: Store, machine: Machine, error: type[BaseException]
) -> None:
    before = store.counts()

    def fail_half_way() -> None:
        with store.act("run") as act:
            run = act.add(Run(machine.id, AT, "complete", "pla"))
            assert act.one(Run, run) is not None
            raise error

    with pytest.raises(error):
        fail_half_way()
    assert store.counts() == before


def test_a_record_that_rests_on_nothing_is_refused_with_its_whole_act(store: Store, machine: Machine) -> None:
    before = store.counts()

    def write() -> None:
        with store.act("run") as act:
            act.add(Person("Ines"))
            act.add(Run(machine.id + 99, AT, "complete", "pla"))

    with pytest.raises(Conflict, match="FOREIGN KEY"):
        write()
    assert store.counts() == before


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("runs", "outcome", "finished"),
        ("runs", "fraction", 1.01),
        ("runs", "copies", 0),
        ("fittings", "history", "old"),
        ("removals", "reason", "lost"),
        ("machine_states", "drive", "both"),
        ("cases", "hot_end", "cold"),
        ("case_entries", "kind", "rumour"),
        ("visit_entries", "kind", "begun"),
        ("visit_endings", "outcome", "perhaps"),
    ],
)
def test_a_word_or_number_that_no_record_may_hold_is_refused_by_the_file_itself(
    full: Store, folder: Path, table: str, column: str, value: object
) -> None:
    with closing(sqlite3.connect(folder / FILE_NAME)) as other:
        names = [row[1] for row in other.execute(f"PRAGMA table_info({table})") if row[1] != "id"]
        listed = ", ".join("?" if name == column else name for name in names)
        with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
            other.execute(f"INSERT INTO {table} ({', '.join(names)}) SELECT {listed} FROM {table}", (value,))


@pytest.mark.parametrize("table", [*tables.RECORDS, tables.acts], ids=lambda table: table.name)
def test_no_other_program_can_delete_or_change_a_record_by_mistake(full: Store, folder: Path, table: object) -> None:
    name = table.name  # type: ignore[attr-defined]
    columns = [column.name for column in table.columns if column.name != "void_act_id"]  # type: ignore[attr-defined]
    with closing(sqlite3.connect(folder / FILE_NAME)) as other:
        assert other.execute(f"SELECT count(*) FROM {name}").fetchone()[0], "a row to try"
        with pytest.raises(sqlite3.IntegrityError, match="never deleted"):
            other.execute(f"DELETE FROM {name}")
        for column in columns:
            with pytest.raises(sqlite3.IntegrityError, match="never changed"):
                other.execute(f"UPDATE {name} SET {column} = {column}")
        if table is tables.acts:
            return
        other.execute(f"UPDATE {name} SET void_act_id = 1")
        for again in ("1", "2", "NULL"):
            with pytest.raises(sqlite3.IntegrityError, match="void already"):
                other.execute(f"UPDATE {name} SET void_act_id = {again}")


def test_a_replacing_insert_counts_as_a_deletion(store: Store) -> None:
    with store.act("add person") as act:
        act.add(Person("Ines"))
    with pytest.raises(Conflict, match="never deleted"), store.act("write") as act:
        act._connection.exec_driver_sql(f"REPLACE INTO people (id, name, act_id) VALUES (1, 'Tobias', {act.id})")


def test_a_void_record_stays_in_the_file_and_names_the_act_that_voided_it(
    folder: Path, store: Store, machine: Machine
) -> None:
    with store.act("run") as act:
        number = act.add(Run(machine.id, AT, "complete", "pla"))
    run = store.runs()[0]
    with store.act("void", reason="entered twice") as act:
        act.void(run)
    assert store.runs() == []
    assert store.one(Run, number) is None
    with closing(sqlite3.connect(folder / FILE_NAME)) as other:
        assert other.execute("SELECT void_act_id FROM runs").fetchall() == [(act.id,)]
    before = store.latest_act_id()
    with pytest.raises(Conflict, match="void already"), store.act("void", reason="again") as act:
        act.void(run)
    assert store.latest_act_id() == before


def test_what_others_rest_on_is_not_voided_before_them(full: Store) -> None:
    worn, fitted = full.fittings()
    for value, what in (
        (full.machines()[0], "runs"),
        (worn, "its renewal"),
        (fitted, "findings"),
        (full.cases()[0], "what was told"),
        (full.visits()[0], "what was entered"),
        (full.measurements()[0], "settings"),
        (full.every(Item)[0], "movements"),
        (full.every(Spool)[0], "what was done with it"),
        (full.runs()[0], "what it drew from a spool"),
    ):
        with pytest.raises(Conflict, match=f"void {what} first"), full.act("void", reason="mistake") as act:
            act.void(value)
    with full.act("void", reason="mistake") as act:
        for kind in (
            PrintEnding, RunLook, Print, Placement, QueueEntry, SpoolUse, SpoolEntry, Spool, Movement, ItemTerms, Item,
            PhotoSubject, Photo, HotSpell,
        ):  # fmt: skip
            act.void(full.every(kind)[0])
        for value in (*full.findings(), *full.removals(), worn, fitted, *full.runs(), *full.events()):
            act.void(value)
        for value in (*full.case_entries([1]), *full.case_endings(), *full.cases()):
            act.void(value)
        for value in (*full.releases(), *full.machine_settings(1), *full.measurements()):
            act.void(value)
        for value in (*full.visit_entries(1), *full.visit_endings(), *full.visits()):
            act.void(value)
        for value in (full.toolpaths()[0], full.machines()[0]):
            act.void(value)
    assert full.machines() == full.fittings() == full.toolpaths() == []


steps = st.lists(st.tuples(st.sampled_from(["add", "void"]), st.integers(1, 3), st.integers(-(10**15), 10**15)))


@settings(deadline=None, max_examples=60)
@given(steps)
def test_totals_are_exact_whole_numbers_whatever_is_added_and_taken_back(
    counted: tuple[Store, list[int]], steps: list[tuple[str, int, int]]
) -> None:
    store, fittings = counted
    expected: dict[int, list[int]] = {number: [] for number in fittings}
    with store.act("count") as act:
        for number in fittings:
            act.put_exposure(number, "law", 0, 0)
        for what, which, nano in steps:
            charged = expected[fittings[which - 1]]
            if what == "add":
                charged.append(nano)
                act.add_exposure(fittings[which - 1], "law", nano, 1)
            elif charged:
                act.add_exposure(fittings[which - 1], "law", -charged.pop(nano % len(charged)), -1)
    for number, charged in expected.items():
        total = store.exposures()[number]
        assert (total.exposure_nano, total.charges) == (sum(charged), len(charged))


@pytest.fixture(scope="module")
def counted(tmp_path_factory: pytest.TempPathFactory) -> object:
    from feedwright.toolpath.values import MotionLimits

    with open_store(tmp_path_factory.mktemp("counted"), create=True) as store:
        with store.act("ground") as act:
            number = act.add(Machine("A", "b", "remote", "lined", (1.0, 1.0, 1.0), MotionLimits(), AT))
            fittings = [act.add(Fitting(number, "nozzle", place, "brass", AT)) for place in (1, 2, 3)]
        yield store, fittings


def test_a_total_under_another_wear_law_is_never_added_to(store: Store, fitting: Fitting) -> None:
    with store.act("count") as act:
        act.add_exposure(fitting.id, "old law", 7, 1)
    with pytest.raises(Conflict, match="count it again first"), store.act("count") as act:
        act.add_exposure(fitting.id, "new law", 7, 1)
    assert store.exposures()[fitting.id].exposure_nano == 7


def test_a_full_disk_is_said_in_plain_words(store: Store) -> None:
    before = store.counts()

    def fill() -> None:
        with store.act("add person") as act:
            act._connection.exec_driver_sql("PRAGMA max_page_count = 1")  # SQLite's own way to a full disk
            for number in range(10_000):
                act.add(Person(f"{number}" * 50))

    with pytest.raises(StoreError) as refused:
        fill()
    assert refused.value.expected == "the disk is full"
    assert refused.value.remedy.startswith("free some space")
    store.close()  # the limit was this connection's
    assert store.counts() == before
