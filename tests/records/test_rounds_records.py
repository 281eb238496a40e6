"""Hours, busy windows, plans and wishes come back as they were written, and an older farm takes them up."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine

from feedwright.errors import Conflict
from feedwright.records.engine import FILE_NAME, migrate
from feedwright.records.rounds_values import BenchHours, BusyWindow, PlannedStop, RoundPlan, RoundWish
from feedwright.records.store import Store, open_store
from feedwright.records.values import Machine, Person

AT = datetime(2026, 3, 2, 9, 30, 15, tzinfo=UTC)


def test_what_belongs_to_rounds_comes_back(store: Store, machine: Machine) -> None:
    with store.act("plan rounds") as act:
        act.add(BenchHours(0, "", "09:00", 120.0))
        act.add(BenchHours(None, "2026-03-09", "09:00", 0.0, "holiday"))
        act.add(BusyWindow(machine.id, AT, AT + timedelta(hours=40), "a rush order"))
        plan = act.add(RoundPlan(AT, "2026-03-02", 28, '{"gap_frac": 0}'))
        act.add(PlannedStop(plan, machine.id, "2026-03-04", AT, 26.5, "[]"))
        act.add(RoundWish(machine.id, "skip", "2026-03-20", "[1, 2]", AT, "on loan"))
    assert [held.weekday for held in store.every(BenchHours)] == [0, None]
    assert store.every(BusyWindow, machine_id=machine.id)[0].until_utc == AT + timedelta(hours=40)
    assert store.every(PlannedStop, round_plan_id=plan)[0].minutes == 26.5
    assert store.every(RoundWish)[0].reason == "on loan"
    with pytest.raises(Conflict, match="its stops"), store.act("void", reason="slip") as act:
        act.void(store.every(RoundPlan)[0])


def test_the_latest_of_a_kind_is_the_last_written_that_is_not_void(store: Store) -> None:
    assert store.latest(BenchHours) is None
    with store.act("hours") as act:
        act.add(BenchHours(0, "", "09:00", 120.0))
        last = act.add(BenchHours(1, "", "10:00", 60.0))
    assert store.latest(BenchHours) == store.one(BenchHours, last)
    with store.act("void", reason="slip") as act:
        act.void(store.every(BenchHours)[1])
    assert store.latest(BenchHours) == store.every(BenchHours)[0]


@pytest.mark.parametrize(
    "row",
    [
        BenchHours(None, "", "09:00", 60.0),
        BenchHours(0, "2026-03-04", "09:00", 60.0),
        BenchHours(7, "", "09:00", 60.0),
        BenchHours(1, "", "09:00", -1.0),
        BusyWindow(1, AT, AT),
        RoundPlan(AT, "2026-03-02", 0, "{}"),
        RoundWish(1, "dance", "2026-03-02", "[]", AT),  # type: ignore[arg-type]
    ],
)
def test_the_file_itself_refuses_what_cannot_be(store: Store, machine: Machine, row: object) -> None:
    assert machine.id == 1
    with pytest.raises(Conflict), store.act("plan rounds") as act:
        act.add(row)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE bench_hours SET minutes = 9",
        "DELETE FROM bench_hours",
        "UPDATE planned_stops SET day = '2027-01-01'",
        "DELETE FROM round_plans",
        "UPDATE round_wishes SET reason = 'other'",
        "DELETE FROM busy_windows",
    ],
)
def test_nothing_of_rounds_is_changed_or_deleted(folder: Path, store: Store, machine: Machine, statement: str) -> None:
    test_what_belongs_to_rounds_comes_back(store, machine)
    with closing(sqlite3.connect(folder / FILE_NAME)) as other, pytest.raises(sqlite3.IntegrityError, match="voided"):
        other.execute(statement)


def test_a_farm_from_before_rounds_takes_them_up_and_keeps_its_people(tmp_path: Path) -> None:
    folder = tmp_path / "old"
    with open_store(folder, create=True) as store, store.act("add person") as act:
        act.add(Person("Ines"))
        machines = store.machines()
    before = tmp_path / "before"
    engine = _at_schema(before, "0006")
    with closing(sqlite3.connect(before / FILE_NAME)) as other:
        other.execute("ATTACH ? AS new", (str(folder / FILE_NAME),))
        with other:
            for table in ("acts", "people"):
                columns = ", ".join(row[1] for row in other.execute(f"PRAGMA table_info({table})"))
                other.execute(f"INSERT INTO {table} ({columns}) SELECT {columns} FROM new.{table}")
        names = {row[0] for row in other.execute("SELECT name FROM sqlite_master")}
    assert "round_plans" not in names
    engine.dispose()
    with open_store(before) as upgraded:
        assert [person.name for person in upgraded.people()] == ["Ines"]
        assert upgraded.machines() == machines
        with upgraded.act("plan rounds") as act:
            act.add(BenchHours(4, "", "14:00", 90.0))
        assert upgraded.every(BenchHours)[0].begins == "14:00"


def _at_schema(folder: Path, revision: str) -> Engine:
    folder.mkdir()
    engine = create_engine(f"sqlite:///{folder / FILE_NAME}")
    migrate(engine, revision)
    return engine
