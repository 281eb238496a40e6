"""One act in hand: what a single transaction writes."""

from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, CursorResult, Table, func, insert, select, update
from sqlalchemy.dialects.sqlite import insert as upsert

from feedwright.errors import Conflict
from feedwright.records import exchange_tables, photo_tables, prints_tables, rounds_tables, rows, stores_tables, tables
from feedwright.records.exchange_values import Arrival
from feedwright.records.photo_values import Photo
from feedwright.records.prints_values import Print, QueueEntry
from feedwright.records.reads import TABLE_OF, OneMoment
from feedwright.records.rounds_values import RoundPlan
from feedwright.records.stores_values import Item, Movement, Spool
from feedwright.records.values import Case, Finding, Fitting, Machine, Measurement, Removal, Run, Visit, VisitEntry
from feedwright.toolpath.values import Stretch

HELD_BY: dict[type[Any], tuple[tuple[Any, str], ...]] = {
    Machine: (
        (tables.runs.c.machine_id, "runs"),
        (tables.events.c.machine_id, "events"),
        (tables.fittings.c.machine_id, "fittings"),
        (tables.cases.c.machine_id, "cases"),
        (tables.visits.c.machine_id, "visits"),
        (tables.measurements.c.machine_id, "measurements"),
        (tables.machine_settings.c.machine_id, "its settings"),
        (stores_tables.spool_entries.c.machine_id, "spools hung on it"),
        (prints_tables.prints.c.machine_id, "prints begun on it"),
        (prints_tables.placements.c.machine_id, "queued prints placed on it"),
        (photo_tables.photos.c.machine_id, "photos of it"),
        (exchange_tables.hot_spells.c.machine_id, "hot spells"),
    ),
    Fitting: (
        (tables.findings.c.fitting_id, "findings"),
        (tables.removals.c.fitting_id, "its renewal"),
        (tables.removals.c.replaced_by, "the renewal that fitted it"),
        (photo_tables.photo_subjects.c.fitting_id, "photos that show it"),
    ),
    Visit: (
        (tables.visit_entries.c.visit_id, "what was entered"),
        (tables.visit_endings.c.visit_id, "its ending"),
        (tables.measurements.c.visit_id, "measurements"),
        (tables.releases.c.visit_id, "its release"),
    ),
    VisitEntry: ((photo_tables.photos.c.visit_entry_id, "photos taken with it"),),
    Finding: ((photo_tables.photo_subjects.c.finding_id, "photos that show it"),),
    Arrival: ((exchange_tables.arrival_answers.c.arrival_id, "what was said of it"),),
    Photo: ((photo_tables.photo_subjects.c.photo_id, "what it shows"),),
    Run: (
        (stores_tables.spool_uses.c.run_id, "what it drew from a spool"),
        (prints_tables.print_endings.c.run_id, "the ending of its print"),
        (prints_tables.run_looks.c.run_id, "how it looked"),
    ),
    Print: ((prints_tables.print_endings.c.print_id, "its ending"),),
    QueueEntry: ((prints_tables.placements.c.queue_entry_id, "where it was placed"),),
    Removal: ((stores_tables.movements.c.removal_id, "the part taken from the stores"),),
    Item: ((stores_tables.movements.c.item_id, "movements"), (stores_tables.item_terms.c.item_id, "its terms")),
    Movement: ((stores_tables.movements.c.order_id, "what arrived of it"),),
    Spool: (
        (stores_tables.spool_entries.c.spool_id, "what was done with it"),
        (stores_tables.spool_uses.c.spool_id, "what runs drew from it"),
    ),
    Measurement: ((tables.machine_settings.c.measurement_id, "settings"),),
    RoundPlan: ((rounds_tables.planned_stops.c.round_plan_id, "its stops"),),
    Case: ((tables.case_entries.c.case_id, "what was told"), (tables.case_endings.c.case_id, "its ending")),
}
"""What must be void before a record of that kind may be."""


class ActInHand(OneMoment):
    """One transaction: everything it writes carries its number, and stands or falls together.

    Its reads see what it has written, and nobody else can write until it ends.
    """

    def __init__(self, connection: Connection, folder: Path, act_id: int, at_utc: datetime) -> None:
        super().__init__(connection, folder)
        self.id = act_id
        self.at_utc = at_utc

    def add(self, value: Any) -> int:
        """Write a record; returns its number."""
        if isinstance(value, Machine):
            return self._add_machine(value)
        return self._insert(TABLE_OF[type(value)], rows.to_row(value))

    def _insert(self, table: Table, row: dict[str, Any]) -> int:
        done = self._connection.execute(insert(table).values(**row, act_id=self.id))
        return last_number(done)

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
        row = {"run_id": run_id, "reader_version": reader_version, "stretch": rows.stretch_to_text(stretch)}
        self._connection.execute(insert(tables.charges).values(**row))

    def add_exposure(self, fitting_id: int, law_key: str, delta_nano: int, charges: int) -> None:
        """Add to a fitting's total; raises Conflict where that stands under another law: count it again first."""
        held = tables.exposures
        row = {"fitting_id": fitting_id, "law_key": law_key, "exposure_nano": delta_nano, "charges": charges}
        done = self._connection.execute(
            upsert(held)
            .values(**row)
            .on_conflict_do_update(
                index_elements=[held.c.fitting_id],
                set_={"exposure_nano": held.c.exposure_nano + delta_nano, "charges": held.c.charges + charges},
                where=held.c.law_key == law_key,
            )
        )
        if done.rowcount != 1:
            raise Conflict(
                f"exposure of fitting {fitting_id}",
                expected="it was counted under another wear law",
                remedy="count it again first",
            )

    def put_exposure(self, fitting_id: int, law_key: str, exposure_nano: int, charges: int) -> None:
        """Set a fitting's total to one counted from scratch."""
        row = {"law_key": law_key, "exposure_nano": exposure_nano, "charges": charges}
        statement = upsert(tables.exposures).values(fitting_id=fitting_id, **row)
        self._connection.execute(statement.on_conflict_do_update(index_elements=["fitting_id"], set_=row))


def last_number(done: CursorResult[Any]) -> int:
    """The number that an inserted row was given."""
    key = done.inserted_primary_key
    return int(key[0]) if key is not None else 0
