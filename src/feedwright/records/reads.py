"""Plain reads of values, the same from an open store and from within an act. Void records are left out."""

from collections.abc import Collection
from contextlib import AbstractContextManager, nullcontext
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import Connection, Select, Table, func, or_, select

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
from feedwright.records.columns import META
from feedwright.records.exchange_values import Arrival, ArrivalAnswer, HotSpell
from feedwright.records.photo_values import Photo, PhotoSubject
from feedwright.records.prints_reads import PrintReads
from feedwright.records.prints_values import FormKey, Placement, Print, PrintEnding, QueueEntry, RunLook
from feedwright.records.rounds_values import BenchHours, BusyWindow, PlannedStop, RoundPlan, RoundWish
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
    RunOutcome,
    Setting,
    Toolpath,
    Visit,
    VisitEnding,
    VisitEntry,
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
GREATEST_NUMBER = 2**63 - 1
"""What a record's number may be at most."""


class Reads(PrintReads):
    """What can be asked of the records, over whatever connection ``_reading`` gives."""

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

    def runs(self, machine_id: int | None = None) -> list[Run]:
        """Runs without their charges."""
        return self._all(Run, *_of_machine(tables.runs, machine_id))

    def runs_count(self, machine_id: int | None = None) -> int:
        """How many runs there are."""
        live = tables.runs.c.void_act_id.is_(None)
        return self._scalar(select(func.count()).where(live, *_of_machine(tables.runs, machine_id)))

    def last_runs(self) -> dict[int, datetime]:
        """When each machine's latest run began, by machine."""
        run = tables.runs.c
        query = select(run.machine_id, func.max(run.started_utc)).where(run.void_act_id.is_(None))
        with self._reading() as connection:
            found = connection.execute(query.group_by(run.machine_id)).all()
        return {machine_id: rows.time_from_row(started) for machine_id, started in found}

    def charged_runs(
        self, machine_id: int | None = None, *, since_utc: datetime | None = None, latest: int | None = None,
        outcome: RunOutcome | None = None,
    ) -> list[tuple[Run, Stretch]]:  # fmt: skip
        """Runs with what they are charged with; ``latest`` of them, newest first, or all in order."""
        run = tables.runs.c
        query = _charged().where(*_of_machine(tables.runs, machine_id))
        if outcome is not None:
            query = query.where(run.outcome == outcome)
        if since_utc is not None:
            query = query.where(run.started_utc >= rows.time_to_row(since_utc))
        newest_first = query.order_by(run.started_utc.desc(), run.id.desc())
        query = query.order_by(run.id) if latest is None else newest_first.limit(latest)
        return self._charged_runs(query)

    def wearing_runs(self, machine_id: int) -> list[tuple[datetime, str, RunOutcome, Stretch]]:
        """When each run of a machine began, of what material, how it ended and its charge; oldest first."""
        run = tables.runs.c
        query = (
            select(run.started_utc, run.material, run.outcome, tables.charges.c.stretch)
            .join(tables.charges, tables.charges.c.run_id == run.id)
            .where(run.machine_id == machine_id, run.void_act_id.is_(None))
            .order_by(run.started_utc, run.id)
        )
        with self._reading() as connection:
            return [
                (rows.time_from_row(at), material, outcome, rows.stretch_from_text(text))
                for at, material, outcome, text in connection.execute(query)
            ]

    def printed(self, since_utc: datetime, until_utc: datetime) -> list[tuple[int, str, RunOutcome, Stretch, int]]:
        """Runs of a span counted together: machine, material, outcome, what each is charged with, and how many."""
        run, stretch = tables.runs.c, tables.charges.c.stretch
        what = (run.machine_id, run.material, run.outcome, stretch)
        query = (
            select(*what, func.count())
            .join(tables.charges, tables.charges.c.run_id == run.id)
            .where(run.void_act_id.is_(None), *_within(run.started_utc, since_utc, until_utc))
            .group_by(*what)
        )
        with self._reading() as connection:
            return [
                (machine, material, outcome, rows.stretch_from_text(text), many)
                for machine, material, outcome, text, many in connection.execute(query)
            ]

    def run_starts(self, since_utc: datetime, until_utc: datetime) -> dict[int, list[datetime]]:
        """When each machine's runs of a span began, in order, by machine."""
        run = tables.runs.c
        query = select(run.machine_id, run.started_utc).where(
            run.void_act_id.is_(None), *_within(run.started_utc, since_utc, until_utc)
        )
        starts: dict[int, list[datetime]] = {}
        with self._reading() as connection:
            for machine, at in connection.execute(query.order_by(run.started_utc)):
                starts.setdefault(machine, []).append(rows.time_from_row(at))
        return starts

    def charged_run(self, number: int) -> tuple[Run, Stretch] | None:
        """One run with what it is charged with; None where there is none, or it is void."""
        if not 0 < number <= GREATEST_NUMBER:
            return None
        return next(iter(self._charged_runs(_charged().where(tables.runs.c.id == number))), None)

    def _charged_runs(self, query: Select[Any]) -> list[tuple[Run, Stretch]]:
        with self._reading() as connection:
            return [
                (rows.from_row(Run, row), rows.stretch_from_text(row["stretch"]))
                for row in connection.execute(query).mappings()
            ]

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

    def touched_by(self, act_ids: Collection[int]) -> dict[int, tuple[list[tuple[str, int]], list[tuple[str, int]]]]:
        """By act: the records that it wrote, and those that it voided, as table and number."""
        found: dict[int, tuple[list[tuple[str, int]], list[tuple[str, int]]]] = {one: ([], []) for one in act_ids}
        with self._reading() as connection:
            for table in tables.RECORDS:
                for part, column in enumerate((table.c.act_id, table.c.void_act_id)):
                    for act_id, number in connection.execute(select(column, table.c.id).where(column.in_(act_ids))):
                        found[act_id][part].append((table.name, number))
        return found

    def machines_touched(self, since_act_id: int) -> set[int] | None:
        """Machines of which anything that wears or tells was recorded or voided after that act.

        None where something was that touches them all: a figure of the farm.
        """
        touched: set[int] = set()
        with self._reading() as connection:
            if connection.execute(select(tables.settings.c.id).where(_after(tables.settings, since_act_id)).limit(1)).first():
                return None
            for table in (tables.machine_states, tables.runs, tables.events, tables.fittings):
                query = select(table.c.machine_id).where(_after(table, since_act_id)).distinct()
                touched.update(connection.scalars(query))
            fitting = tables.fittings.c
            for table in (tables.removals, tables.findings):
                query = select(fitting.machine_id).join(table, table.c.fitting_id == fitting.id)
                touched.update(connection.scalars(query.where(_after(table, since_act_id)).distinct()))
            query = select(tables.machines.c.id).where(_after(tables.machines, since_act_id))
            touched.update(connection.scalars(query))
        return touched

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

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def _reading(self) -> AbstractContextManager[Connection]:
        return nullcontext(self._connection)


def _live(table: Table) -> Select[Any]:
    return select(table).where(table.c.void_act_id.is_(None)).order_by(table.c.id)


def _charged() -> Select[Any]:
    return (
        select(tables.runs, tables.charges.c.stretch)
        .join(tables.charges, tables.charges.c.run_id == tables.runs.c.id)
        .where(tables.runs.c.void_act_id.is_(None))
    )


def _within(column: Any, since_utc: datetime, until_utc: datetime) -> tuple[Any, Any]:
    return column >= rows.time_to_row(since_utc), column < rows.time_to_row(until_utc)


def _of_machine(table: Table, machine_id: int | None) -> list[Any]:
    return [] if machine_id is None else [table.c.machine_id == machine_id]


def _of_fittings(table: Table, machine_id: int | None) -> list[Any]:
    if machine_id is None:
        return []
    own = select(tables.fittings.c.id).where(tables.fittings.c.machine_id == machine_id)
    return [table.c.fitting_id.in_(own)]


def _after(table: Table, act_id: int) -> Any:
    return or_(table.c.act_id > act_id, table.c.void_act_id > act_id)
