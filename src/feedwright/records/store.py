"""The farm's memory: one writer's transaction per act, plain reads of values.

What an act wrote is on disk when its ``with`` block has ended. Nothing is deleted; a mistake is voided.
"""

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

from sqlalchemy import Connection, CursorResult, Engine, Select, Table, func, insert, select, update
from sqlalchemy.dialects.sqlite import insert as upsert
from sqlalchemy.exc import IntegrityError, OperationalError

from feedwright.errors import Conflict, StoreError
from feedwright.records import rows, tables
from feedwright.records.engine import open_engine
from feedwright.records.values import (
    Act,
    Event,
    Finding,
    Fitting,
    Machine,
    Person,
    Removal,
    Run,
    Setting,
    Toolpath,
)
from feedwright.toolpath.values import MotionLimits, Reading, Stretch

V = TypeVar("V")
TABLE_OF: dict[type[Any], Table] = {
    Person: tables.people,
    Machine: tables.machines,
    Fitting: tables.fittings,
    Removal: tables.removals,
    Toolpath: tables.toolpaths,
    Run: tables.runs,
    Event: tables.events,
    Finding: tables.findings,
    Setting: tables.settings,
}
HELD_BY: dict[type[Any], tuple[tuple[Any, str], ...]] = {
    Person: (),
    Machine: (
        (tables.runs.c.machine_id, "runs"),
        (tables.events.c.machine_id, "events"),
        (tables.fittings.c.machine_id, "fittings"),
    ),
    Fitting: (
        (tables.findings.c.fitting_id, "findings"),
        (tables.removals.c.fitting_id, "its removal"),
        (tables.removals.c.replaced_by, "the renewal that fitted it"),
    ),
    Toolpath: ((tables.runs.c.toolpath_id, "runs"),),
}
"""What must be void before a record of that kind may be."""


@dataclass(frozen=True, slots=True)
class ExposureTotal:
    """A fitting's exposure since it was fitted, in billionths of its unit, under one wear law."""

    law_key: str
    exposure_nano: int
    charges: int


def open_store(folder: Path, *, create: bool = False) -> "Store":
    """Open the farm in that folder; raises StoreError with the remedy where that cannot be."""
    return Store(folder, open_engine(folder, create=create))


class ActInHand:
    """One transaction: everything it writes carries its number, and stands or falls together."""

    def __init__(self, connection: Connection, act_id: int, at_utc: datetime) -> None:
        self._connection = connection
        self.id = act_id
        self.at_utc = at_utc

    def add(self, value: Any) -> int:
        """Write a record; returns its number."""
        if isinstance(value, Machine):
            return self._add_machine(value)
        return self._insert(TABLE_OF[type(value)], rows.to_row(value))

    def _insert(self, table: Table, row: dict[str, Any]) -> int:
        done = self._connection.execute(insert(table).values(**row, act_id=self.id))
        return _number(done)

    def _add_machine(self, machine: Machine) -> int:
        lasting, state = rows.machine_to_rows(machine)
        machine_id = self._insert(tables.machines, lasting)
        since = rows.time_to_row(machine.registered_utc)
        self._insert(tables.machine_states, {**state, "machine_id": machine_id, "from_utc": since})
        return machine_id

    def add_state(self, machine: Machine, from_utc: datetime) -> None:
        """Describe a known machine anew from some moment on."""
        _, state = rows.machine_to_rows(machine)
        since = rows.time_to_row(from_utc)
        self._insert(tables.machine_states, {**state, "machine_id": machine.id, "from_utc": since})

    def void(self, value: Any) -> None:
        """Mark a record void; raises Conflict where others that are not void rest on it."""
        table = TABLE_OF[type(value)]
        for column, what in HELD_BY.get(type(value), ()):
            rests = select(func.count()).where(column == value.id, column.table.c.void_act_id.is_(None))
            if self._connection.execute(rests).scalar_one():
                raise Conflict(f"{table.name} {value.id}", expected=f"{what} rest on it", remedy=f"void {what} first")
        changed = self._connection.execute(
            update(table).where(table.c.id == value.id, table.c.void_act_id.is_(None)).values(void_act_id=self.id)
        )
        if changed.rowcount != 1:
            raise Conflict(
                f"{table.name} {value.id}",
                expected="no such record, or void already",
                remedy="look at the list again",
            )

    def put_charge(self, run_id: int, stretch: Stretch, reader_version: str) -> None:
        """Keep what a run is charged with."""
        self._connection.execute(
            insert(tables.charges).values(
                run_id=run_id, reader_version=reader_version, stretch=rows.stretch_to_text(stretch)
            )
        )

    def add_exposure(self, fitting_id: int, law_key: str, delta_nano: int, charges: int) -> None:
        """Add to a fitting's total; where the total stands under another law, it must be counted again first."""
        held = tables.exposures
        statement = upsert(held).values(
            fitting_id=fitting_id, law_key=law_key, exposure_nano=delta_nano, charges=charges
        )
        self._connection.execute(
            statement.on_conflict_do_update(
                index_elements=[held.c.fitting_id],
                set_={
                    "exposure_nano": held.c.exposure_nano + delta_nano,
                    "charges": held.c.charges + charges,
                },
            )
        )

    def put_exposure(self, fitting_id: int, law_key: str, exposure_nano: int, charges: int) -> None:
        """Set a fitting's total to one counted from scratch."""
        row = {"law_key": law_key, "exposure_nano": exposure_nano, "charges": charges}
        statement = upsert(tables.exposures).values(fitting_id=fitting_id, **row)
        self._connection.execute(statement.on_conflict_do_update(index_elements=["fitting_id"], set_=row))

    # Reads within the act see what it has written.

    def fittings(self, machine_id: int) -> list[Fitting]:
        """All fittings of a machine."""
        return _fetch(
            self._connection,
            Fitting,
            _live(tables.fittings).where(tables.fittings.c.machine_id == machine_id),
        )

    def removals(self, machine_id: int) -> list[Removal]:
        """All removals on a machine."""
        return _fetch(self._connection, Removal, _removals(machine_id))

    def charged_runs(self, machine_id: int) -> list[tuple[Run, Stretch]]:
        """All runs of a machine with what they are charged with."""
        return _charged(self._connection, _charged_runs(machine_id))

    def events(self, machine_id: int) -> list[Event]:
        """All events of a machine."""
        return _fetch(self._connection, Event, _live(tables.events).where(tables.events.c.machine_id == machine_id))


def _number(done: CursorResult[Any]) -> int:
    key = done.inserted_primary_key
    return int(key[0]) if key is not None else 0


def _live(table: Table) -> Select[Any]:
    return select(table).where(table.c.void_act_id.is_(None)).order_by(table.c.id)


def _removals(machine_id: int | None) -> Select[Any]:
    query = _live(tables.removals)
    if machine_id is None:
        return query
    return query.join(tables.fittings, tables.fittings.c.id == tables.removals.c.fitting_id).where(
        tables.fittings.c.machine_id == machine_id
    )


def _charged_runs(machine_id: int | None) -> Select[Any]:
    query = (
        select(tables.runs, tables.charges.c.stretch)
        .join(tables.charges, tables.charges.c.run_id == tables.runs.c.id)
        .where(tables.runs.c.void_act_id.is_(None))
    )
    return query if machine_id is None else query.where(tables.runs.c.machine_id == machine_id)


def _fetch(connection: Connection, kind: type[V], query: Select[Any]) -> list[V]:
    return [rows.from_row(kind, row) for row in connection.execute(query).mappings()]


def _charged(connection: Connection, query: Select[Any]) -> list[tuple[Run, Stretch]]:
    return [
        (rows.from_row(Run, row), rows.stretch_from_text(row["stretch"]))
        for row in connection.execute(query).mappings()
    ]


class Store:
    """The open records of one farm; a context manager. Reads skip void records."""

    def __init__(self, folder: Path, engine: Engine) -> None:
        self.folder = folder
        self._engine = engine

    def __enter__(self) -> "Store":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database file."""
        self._engine.dispose()

    @contextmanager
    def act(
        self, kind: str, *, person_id: int | None = None, reason: str = "", at_utc: datetime | None = None
    ) -> Iterator[ActInHand]:
        """One act: commits on a clean end, leaves nothing behind otherwise."""
        moment = at_utc or datetime.now(UTC)
        try:
            with self._engine.connect().execution_options(writes=True) as connection, connection.begin():
                row = {
                    "kind": kind,
                    "at_utc": rows.time_to_row(moment),
                    "person_id": person_id,
                    "reason": reason,
                }
                done = connection.execute(insert(tables.acts).values(**row))
                yield ActInHand(connection, _number(done), moment)
        except IntegrityError as error:
            raise Conflict("record", expected=str(error.orig), remedy="look at the records again") from error
        except OperationalError as error:
            raise StoreError(
                str(self.folder),
                expected=str(error.orig),
                remedy="check the disk and its space, then try again",
            ) from error

    def _all(self, kind: type[V], query: Select[Any]) -> list[V]:
        with self._engine.connect() as connection:
            return _fetch(connection, kind, query)

    def people(self) -> list[Person]:
        """Everybody."""
        return self._all(Person, _live(tables.people))

    def machines(self) -> list[Machine]:
        """Every machine in its latest state."""
        latest = (
            select(func.max(tables.machine_states.c.id))
            .where(tables.machine_states.c.void_act_id.is_(None))
            .group_by(tables.machine_states.c.machine_id)
        )
        state = tables.machine_states
        query = (
            select(
                tables.machines,
                *(c for c in state.c if c.name not in ("id", "act_id", "void_act_id", "machine_id")),
            )
            .join(state, state.c.machine_id == tables.machines.c.id)
            .where(state.c.id.in_(latest), tables.machines.c.void_act_id.is_(None))
            .order_by(tables.machines.c.id)
        )
        with self._engine.connect() as connection:
            return [rows.machine_from_row(row) for row in connection.execute(query).mappings()]

    def fittings(self, machine_id: int | None = None, *, open_only: bool = False) -> list[Fitting]:
        """Fittings, of one machine or all; ``open_only`` leaves out what was taken off."""
        query = _live(tables.fittings)
        if machine_id is not None:
            query = query.where(tables.fittings.c.machine_id == machine_id)
        if open_only:
            gone = select(tables.removals.c.fitting_id).where(tables.removals.c.void_act_id.is_(None))
            query = query.where(tables.fittings.c.id.not_in(gone))
        return self._all(Fitting, query)

    def removals(self, machine_id: int | None = None) -> list[Removal]:
        """Removals, of one machine's fittings or all."""
        return self._all(Removal, _removals(machine_id))

    def runs(self, machine_id: int | None = None) -> list[Run]:
        """Runs without their charges."""
        query = _live(tables.runs)
        return self._all(Run, query if machine_id is None else query.where(tables.runs.c.machine_id == machine_id))

    def runs_count(self, machine_id: int | None = None) -> int:
        """How many runs there are."""
        query = select(func.count()).where(tables.runs.c.void_act_id.is_(None))
        with self._engine.connect() as connection:
            if machine_id is not None:
                query = query.where(tables.runs.c.machine_id == machine_id)
            return int(connection.execute(query).scalar_one())

    def last_runs(self) -> dict[int, datetime]:
        """When each machine's latest run began, by machine."""
        query = select(tables.runs.c.machine_id, func.max(tables.runs.c.started_utc)).where(
            tables.runs.c.void_act_id.is_(None)
        )
        with self._engine.connect() as connection:
            found = connection.execute(query.group_by(tables.runs.c.machine_id)).all()
        return {machine_id: rows.time_from_row(started) for machine_id, started in found}

    def charged_runs(
        self, machine_id: int | None = None, *, since_utc: datetime | None = None, latest: int | None = None
    ) -> list[tuple[Run, Stretch]]:
        """Runs with what they are charged with; ``latest`` of them, newest first, or all in order."""
        query = _charged_runs(machine_id)
        if since_utc is not None:
            query = query.where(tables.runs.c.started_utc >= rows.time_to_row(since_utc))
        order = (tables.runs.c.started_utc.desc(), tables.runs.c.id.desc())
        query = query.order_by(*order).limit(latest) if latest else query.order_by(tables.runs.c.id)
        with self._engine.connect() as connection:
            return _charged(connection, query)

    def events(self, machine_id: int | None = None) -> list[Event]:
        """Events of one machine or all."""
        query = _live(tables.events)
        return self._all(Event, query if machine_id is None else query.where(tables.events.c.machine_id == machine_id))

    def findings(self, fitting_ids: Collection[int] | None = None) -> list[Finding]:
        """Findings of these fittings, or all."""
        found = self._all(Finding, _live(tables.findings))
        return found if fitting_ids is None else [one for one in found if one.fitting_id in set(fitting_ids)]

    def toolpaths(self) -> list[Toolpath]:
        """Every toolpath that is known."""
        return self._all(Toolpath, _live(tables.toolpaths))

    def toolpath(self, sha256: str) -> Toolpath | None:
        """The toolpath of that content."""
        return next(
            iter(self._all(Toolpath, _live(tables.toolpaths).where(tables.toolpaths.c.sha256 == sha256))),
            None,
        )

    def setting(self, name: str) -> Setting | None:
        """The latest setting of that name."""
        query = select(tables.settings).where(tables.settings.c.name == name, tables.settings.c.void_act_id.is_(None))
        latest = query.order_by(tables.settings.c.id.desc()).limit(1)
        return next(iter(self._all(Setting, latest)), None)

    def exposures(self) -> dict[int, ExposureTotal]:
        """Every fitting's total, by fitting."""
        with self._engine.connect() as connection:
            return {
                row.fitting_id: ExposureTotal(row.law_key, row.exposure_nano, row.charges)
                for row in connection.execute(select(tables.exposures))
            }

    def acts(self, limit: int) -> list[Act]:
        """The latest acts, newest first."""
        query = select(tables.acts).order_by(tables.acts.c.id.desc()).limit(limit)
        with self._engine.connect() as connection:
            return [
                Act(row.id, row.kind, rows.time_from_row(row.at_utc), row.person_id, row.reason)
                for row in connection.execute(query)
            ]

    def latest_act_id(self) -> int:
        """Number of the latest act; tells whether anything was recorded meanwhile."""
        with self._engine.connect() as connection:
            return int(connection.execute(select(func.coalesce(func.max(tables.acts.c.id), 0))).scalar_one())

    def reading(self, sha256: str, reader_version: str, limits: MotionLimits) -> Reading | None:
        """A reading kept earlier, for the same content, reader and machine limits."""
        kept = tables.readings.c
        query = select(kept.reading).where(
            kept.sha256 == sha256,
            kept.reader_version == reader_version,
            kept.limits_key == _limits_key(limits),
        )
        with self._engine.connect() as connection:
            packed = connection.execute(query).scalar_one_or_none()
        return None if packed is None else rows.reading_from_bytes(packed)

    def keep_reading(self, reading: Reading, reader_version: str, limits: MotionLimits) -> None:
        """Keep a reading; not a record, so that it needs no act."""
        row = {
            "sha256": reading.sha256,
            "reader_version": reader_version,
            "limits_key": _limits_key(limits),
            "reading": rows.reading_to_bytes(reading),
        }
        with self._engine.connect().execution_options(writes=True) as connection, connection.begin():
            connection.execute(upsert(tables.readings).values(**row).on_conflict_do_nothing())

    def counts(self) -> dict[str, int]:
        """Rows of every table, for proving a backup."""
        with self._engine.connect() as connection:
            return {
                table.name: int(connection.execute(select(func.count()).select_from(table)).scalar_one())
                for table in tables.META.sorted_tables
            }


def _limits_key(limits: MotionLimits) -> str:
    from hashlib import sha256

    return sha256(rows.motion_to_text(limits).encode()).hexdigest()
