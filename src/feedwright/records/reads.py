"""Plain reads of values, the same from an open store and from within an act. Void records are left out."""

from collections.abc import Collection
from contextlib import AbstractContextManager, nullcontext
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import Connection, Select, Table, func, select

from feedwright.records import (
    access_tables,
    exchange_tables,
    photo_tables,
    prints_tables,
    rounds_tables,
    rows,
    stores_tables,
    tables,
)
from feedwright.records.access_values import Device
from feedwright.records.act_reads import ActReads
from feedwright.records.columns import META
from feedwright.records.exchange_values import Arrival, ArrivalAnswer, HotSpell
from feedwright.records.photo_values import Photo, PhotoSubject
from feedwright.records.prints_reads import PrintReads
from feedwright.records.prints_values import FormKey, Placement, Print, PrintEnding, QueueEntry, RunLook
from feedwright.records.rounds_values import BenchHours, BusyWindow, PlannedStop, RoundPlan, RoundWish
from feedwright.records.run_reads import GREATEST_NUMBER, RunReads
from feedwright.records.spool_reads import SpoolReads
from feedwright.records.stores_reads import StoresReads
from feedwright.records.stores_values import Item, ItemTerms, Movement, Spool, SpoolEntry, SpoolUse
from feedwright.records.values import (
    Act,
    Case,
    CaseEnding,
    CaseEntry,
    Event,
    ExposureTotal,
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
from feedwright.toolpath.values import MotionLimits, Reading

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
    Case: tables.cases,
    CaseEntry: tables.case_entries,
    CaseEnding: tables.case_endings,
    Visit: tables.visits,
    VisitEntry: tables.visit_entries,
    VisitEnding: tables.visit_endings,
    Measurement: tables.measurements,
    MachineSetting: tables.machine_settings,
    Release: tables.releases,
    Device: access_tables.devices,
    Item: stores_tables.items,
    ItemTerms: stores_tables.item_terms,
    Movement: stores_tables.movements,
    Spool: stores_tables.spools,
    SpoolEntry: stores_tables.spool_entries,
    SpoolUse: stores_tables.spool_uses,
    BenchHours: rounds_tables.bench_hours,
    BusyWindow: rounds_tables.busy_windows,
    RoundPlan: rounds_tables.round_plans,
    PlannedStop: rounds_tables.planned_stops,
    RoundWish: rounds_tables.round_wishes,
    Photo: photo_tables.photos,
    PhotoSubject: photo_tables.photo_subjects,
    Arrival: exchange_tables.arrivals,
    ArrivalAnswer: exchange_tables.arrival_answers,
    HotSpell: exchange_tables.hot_spells,
    QueueEntry: prints_tables.queue_entries,
    Placement: prints_tables.placements,
    Print: prints_tables.prints,
    PrintEnding: prints_tables.print_endings,
    RunLook: prints_tables.run_looks,
    FormKey: prints_tables.form_keys,
}


class Reads(ActReads, PrintReads, RunReads, SpoolReads, StoresReads):
    """What can be asked of the records, over whatever connection ``_reading`` gives."""

    folder: Path
    """Where the farm lies."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def _all(self, kind: type[V], *where: Any) -> list[V]:
        with self._reading() as connection:
            found = connection.execute(_live(TABLE_OF[kind]).where(*where)).mappings()
            return [rows.from_row(kind, row) for row in found]

    def _scalar(self, query: Select[Any]) -> int:
        with self._reading() as connection:
            return int(connection.execute(query).scalar_one())

    def one(self, kind: type[V], number: int) -> V | None:
        """The record of that kind and number; None where there is none, or it is void."""
        if not 0 < number <= GREATEST_NUMBER:
            return None
        return next(iter(self._all(kind, TABLE_OF[kind].c.id == number)), None)

    def every(self, kind: type[V], /, **columns: int | str) -> list[V]:
        """Records of a kind in the order they were written: all of them, or those whose columns hold these values."""
        table = TABLE_OF[kind]
        return self._all(kind, *(table.c[name] == value for name, value in columns.items()))

    def latest(self, kind: type[V]) -> V | None:
        """The last record written of a kind; None where there is none."""
        table = TABLE_OF[kind]
        last = select(func.max(table.c.id)).where(table.c.void_act_id.is_(None)).scalar_subquery()
        return next(iter(self._all(kind, table.c.id == last)), None)

    def machine(self, number: int) -> Machine | None:
        """The machine of that number in its latest state; None where there is none, or it is void."""
        states = self.states(number) if 0 < number <= GREATEST_NUMBER else []
        return states[-1][1] if states else None

    def people(self) -> list[Person]:
        """Everybody."""
        return self._all(Person)

    def machines(self) -> list[Machine]:
        """Every machine in its latest state."""
        latest: dict[int, Machine] = {machine.id: machine for _, machine in self._states()}
        return [latest[machine_id] for machine_id in sorted(latest)]

    def states(self, machine_id: int) -> list[tuple[datetime, Machine]]:
        """A machine as it was described from each moment on, oldest first; empty where it is void."""
        return self._states(tables.machines.c.id == machine_id)

    def _states(self, *where: Any) -> list[tuple[datetime, Machine]]:
        state = tables.machine_states
        query = (
            select(
                tables.machines,
                *(c for c in state.c if c.name not in ("id", "act_id", "void_act_id", "machine_id")),
            )
            .join(state, state.c.machine_id == tables.machines.c.id)
            .where(state.c.void_act_id.is_(None), tables.machines.c.void_act_id.is_(None), *where)
            .order_by(state.c.from_utc, state.c.id)
        )
        with self._reading() as connection:
            return [
                (rows.time_from_row(row["from_utc"]), rows.machine_from_row(row))
                for row in connection.execute(query).mappings()
            ]

    def fittings(self, machine_id: int | None = None, *, open_only: bool = False) -> list[Fitting]:
        """Fittings, of one machine or all; ``open_only`` leaves out what was taken off."""
        where = _of_machine(tables.fittings, machine_id)
        if open_only:
            gone = select(tables.removals.c.fitting_id).where(tables.removals.c.void_act_id.is_(None))
            where.append(tables.fittings.c.id.not_in(gone))
        return self._all(Fitting, *where)

    def removals(self, machine_id: int | None = None) -> list[Removal]:
        """Removals, of one machine's fittings or all."""
        return self._all(Removal, *_of_fittings(tables.removals, machine_id))

    def events(self, machine_id: int | None = None) -> list[Event]:
        """Events of one machine or all."""
        return self._all(Event, *_of_machine(tables.events, machine_id))

    def findings(self, fitting_ids: Collection[int] | None = None) -> list[Finding]:
        """Findings of these fittings, or all."""
        if fitting_ids is None:
            return self._all(Finding)
        listed = func.json_each(str(list(fitting_ids))).table_valued("value")  # any number in one parameter
        return self._all(Finding, tables.findings.c.fitting_id.in_(select(listed.c.value)))

    def cases(self) -> list[Case]:
        """Every case."""
        return self._all(Case)

    def case_entries(self, case_ids: Collection[int]) -> list[CaseEntry]:
        """What was told of these cases, in order."""
        listed = func.json_each(str(list(case_ids))).table_valued("value")  # any number in one parameter
        return self._all(CaseEntry, tables.case_entries.c.case_id.in_(select(listed.c.value)))

    def case_endings(self) -> list[CaseEnding]:
        """How the closed cases ended."""
        return self._all(CaseEnding)

    def visits(self, machine_id: int | None = None) -> list[Visit]:
        """Visits to one machine or all."""
        return self._all(Visit, *_of_machine(tables.visits, machine_id))

    def visit_entries(self, visit_id: int) -> list[VisitEntry]:
        """What was entered at a visit, in order."""
        return self._all(VisitEntry, tables.visit_entries.c.visit_id == visit_id)

    def visit_endings(self) -> list[VisitEnding]:
        """How the visits ended that did."""
        return self._all(VisitEnding)

    def measurements(self, machine_id: int | None = None) -> list[Measurement]:
        """Measurements of one machine or all, in the order they were recorded."""
        return self._all(Measurement, *_of_machine(tables.measurements, machine_id))

    def machine_settings(self, machine_id: int) -> list[MachineSetting]:
        """Every working value that a machine was given, in the order they were recorded."""
        return self._all(MachineSetting, tables.machine_settings.c.machine_id == machine_id)

    def releases(self, machine_id: int | None = None) -> list[Release]:
        """Releases of one machine or all."""
        return self._all(Release, *_of_machine(tables.releases, machine_id))

    def toolpaths(self) -> list[Toolpath]:
        """Every toolpath that is known."""
        return self._all(Toolpath)

    def toolpath(self, sha256: str) -> Toolpath | None:
        """The toolpath of that content."""
        return next(iter(self._all(Toolpath, tables.toolpaths.c.sha256 == sha256)), None)

    def settings(self) -> dict[str, str]:
        """The latest value of each setting as JSON text, by name."""
        return {setting.name: setting.value for setting in self._all(Setting)}

    def exposures(self, machine_id: int | None = None) -> dict[int, ExposureTotal]:
        """The total of each fitting of one machine or all, by fitting."""
        query = select(tables.exposures).where(*_of_fittings(tables.exposures, machine_id))
        with self._reading() as connection:
            return {
                row.fitting_id: ExposureTotal(row.law_key, row.exposure_nano, row.charges)
                for row in connection.execute(query)
            }

    def acts(self, limit: int) -> list[Act]:
        """The latest acts, newest first."""
        query = select(tables.acts).order_by(tables.acts.c.id.desc()).limit(limit)
        with self._reading() as connection:
            return [
                Act(row.id, row.kind, rows.time_from_row(row.at_utc), row.person_id, row.reason)
                for row in connection.execute(query)
            ]

    def latest_act_id(self) -> int:
        """Number of the latest act; tells whether anything was recorded meanwhile."""
        return self._scalar(select(func.coalesce(func.max(tables.acts.c.id), 0)))

    def reading(self, sha256: str, reader_version: str, limits: MotionLimits) -> Reading | None:
        """A reading kept earlier, for the same content, reader and machine limits."""
        kept = tables.readings.c
        query = select(kept.reading).where(
            kept.sha256 == sha256,
            kept.reader_version == reader_version,
            kept.limits_key == rows.limits_key(limits),
        )
        with self._reading() as connection:
            packed = connection.execute(query).scalar_one_or_none()
        return None if packed is None else rows.reading_from_bytes(packed)

    def counts(self) -> dict[str, int]:
        """Rows of every table, for proving a backup."""
        with self._reading() as connection:
            return {
                table.name: int(connection.execute(select(func.count()).select_from(table)).scalar_one())
                for table in META.sorted_tables
            }


class OneMoment(Reads):
    """Reads over one connection within one transaction: all see the records as they were at its first read."""

    def __init__(self, connection: Connection, folder: Path) -> None:
        self._connection, self.folder = connection, folder

    def _reading(self) -> AbstractContextManager[Connection]:
        return nullcontext(self._connection)


def _live(table: Table) -> Select[Any]:
    return select(table).where(table.c.void_act_id.is_(None)).order_by(table.c.id)


def _of_machine(table: Table, machine_id: int | None) -> list[Any]:
    return [] if machine_id is None else [table.c.machine_id == machine_id]


def _of_fittings(table: Table, machine_id: int | None) -> list[Any]:
    if machine_id is None:
        return []
    own = select(tables.fittings.c.id).where(tables.fittings.c.machine_id == machine_id)
    return [table.c.fitting_id.in_(own)]
