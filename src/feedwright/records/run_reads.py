"""Reads of runs with what they are charged with, and of what was touched since: the tables that grow longest."""

from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, Table, func, or_, select

from feedwright.records import rows, tables
from feedwright.records.values import Run, RunOutcome
from feedwright.toolpath.values import Stretch

GREATEST_NUMBER = 2**63 - 1
"""What a record's number may be at most."""


class RunReads:
    """What can be asked of runs, over whatever connection ``_reading`` gives."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def runs(self, machine_id: int | None = None) -> list[Run]:
        """Runs without their charges."""
        query = select(tables.runs).where(tables.runs.c.void_act_id.is_(None), *_of_machine(machine_id))
        with self._reading() as connection:
            found = connection.execute(query.order_by(tables.runs.c.id)).mappings()
            return [rows.from_row(Run, row) for row in found]

    def has_fittings(self, many: int) -> bool:
        """True where there ever were so many fittings; no more of them are looked at."""
        query = select(tables.fittings.c.id).where(tables.fittings.c.void_act_id.is_(None)).offset(max(0, many - 1))
        with self._reading() as connection:
            return connection.execute(query.limit(1)).first() is not None

    def runs_count(self, machine_id: int | None = None) -> int:
        """How many runs there are."""
        every, void = select(func.count()).select_from(tables.runs), tables.runs.c.void_act_id
        with self._reading() as connection:
            if machine_id is not None:
                return int(connection.execute(every.where(void.is_(None), *_of_machine(machine_id))).scalar_one())
            # all less the void: passing over half a million that are not void takes four times as long
            gone = connection.execute(every.where(void.is_not(None))).scalar_one()
            return int(connection.execute(every).scalar_one()) - int(gone)

    def runs_by_machine(self) -> dict[int, int]:
        """How many runs each machine has, by machine."""
        run = tables.runs.c
        query = select(run.machine_id, func.count()).where(run.void_act_id.is_(None)).group_by(run.machine_id)
        with self._reading() as connection:
            return {machine_id: int(many) for machine_id, many in connection.execute(query)}

    def last_runs(self) -> dict[int, datetime]:
        """When each machine's latest run began, by machine."""
        run, machine = tables.runs.c, tables.machines.c.id
        latest = select(func.max(run.started_utc)).where(run.machine_id == machine, run.void_act_id.is_(None))
        with self._reading() as connection:
            found = connection.execute(select(machine, latest.scalar_subquery())).all()
        return {number: rows.time_from_row(started) for number, started in found if started is not None}

    def charged_runs(
        self, machine_id: int | None = None, *, since_utc: datetime | None = None, latest: int | None = None,
        outcome: RunOutcome | None = None, skip: int = 0,
    ) -> list[tuple[Run, Stretch]]:  # fmt: skip
        """Runs with what they are charged with; ``latest`` of them, newest first after ``skip``, or all in order."""
        run = tables.runs.c
        query = _charged().where(*_of_machine(machine_id))
        if outcome is not None:
            query = query.where(run.outcome == outcome)
        if since_utc is not None:
            query = query.where(run.started_utc >= rows.time_to_row(since_utc))
        newest_first = query.order_by(run.started_utc.desc(), run.id.desc())
        query = query.order_by(run.id) if latest is None else newest_first.limit(latest).offset(skip)
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
        query = _counted_together(run.machine_id, run.material, run.outcome, stretch)
        with self._reading() as connection:
            return [
                (machine, material, outcome, rows.stretch_from_text(text), many)
                for machine, material, outcome, text, many in connection.execute(
                    query.where(*_within(run.started_utc, since_utc, until_utc))
                )
            ]

    def printed_on(self, machine_id: int) -> list[tuple[str, Stretch, int]]:
        """All runs of a machine counted together: material, what each is charged with, and how many."""
        query = _counted_together(tables.runs.c.material, tables.charges.c.stretch).where(*_of_machine(machine_id))
        with self._reading() as connection:
            return [
                (material, rows.stretch_from_text(text), many) for material, text, many in connection.execute(query)
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

    def machines_touched(self, since_act_id: int) -> set[int] | None:
        """Machines of which anything that wears or tells was recorded or voided after that act.

        None where something was that touches them all: a figure of the farm, or its money.
        """
        touched: set[int] = set()
        with self._reading() as connection:
            if connection.execute(select(tables.acts.c.id).where(tables.acts.c.id > since_act_id)).first() is None:
                return touched
            setting = tables.settings.c
            reaching = or_(setting.name == "currency", setting.name.startswith("figure.", autoescape=True))
            if connection.execute(select(setting.id).where(reaching, _after(tables.settings, since_act_id))).first():
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


def _charged() -> Select[Any]:
    return (
        select(tables.runs, tables.charges.c.stretch)
        .join(tables.charges, tables.charges.c.run_id == tables.runs.c.id)
        .where(tables.runs.c.void_act_id.is_(None))
    )


def _counted_together(*what: Any) -> Select[Any]:
    run = tables.runs.c
    return (
        select(*what, func.count())
        .join(tables.charges, tables.charges.c.run_id == run.id)
        .where(run.void_act_id.is_(None))
        .group_by(*what)
    )


def _within(column: Any, since_utc: datetime, until_utc: datetime) -> tuple[Any, Any]:
    return column >= rows.time_to_row(since_utc), column < rows.time_to_row(until_utc)


def _of_machine(machine_id: int | None) -> list[Any]:
    return [] if machine_id is None else [tables.runs.c.machine_id == machine_id]


def _after(table: Table, act_id: int) -> Any:
    return or_(table.c.act_id > act_id, table.c.void_act_id > act_id)
