"""Reads of prints and the queue that would be slow one record at a time: a farm begins a print with every tap."""

from contextlib import AbstractContextManager

from sqlalchemy import Connection, and_, case, func, select

from feedwright.records import rows
from feedwright.records.prints_tables import print_endings, prints
from feedwright.records.prints_values import Print
from feedwright.records.tables import machines, runs

_ENDED = print_endings.c.print_id == prints.c.id, print_endings.c.void_act_id.is_(None)


class PrintReads:
    """What can be asked of prints and the queue, over whatever connection ``_reading`` gives."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def open_prints(self, machine_id: int | None = None) -> list[Print]:
        """Prints that are under way, on one machine or all: of each machine its latest, where that has no ending."""
        own = prints.alias()
        latest = (
            select(own.c.id)
            .where(own.c.machine_id == machines.c.id, own.c.void_act_id.is_(None))
            .order_by(own.c.id.desc())
            .limit(1)
            .scalar_subquery()
        )
        ended = select(print_endings.c.id).where(*_ENDED).exists()
        on_machine = machines.join(prints, prints.c.id == latest)
        query = select(prints).select_from(on_machine).where(~ended).order_by(prints.c.id)
        if machine_id is not None:
            query = query.where(machines.c.id == machine_id)
        with self._reading() as connection:
            return [rows.from_row(Print, row) for row in connection.execute(query).mappings()]

    def queue_counts(self) -> dict[int, tuple[int, int]]:
        """Copies done, and copies under way, of each queue entry that something was begun for.

        Of a run that went wrong every copy but its last was done.
        """
        done = case((runs.c.outcome == "complete", runs.c.copies), (runs.c.id.is_not(None), runs.c.copies - 1), else_=0)
        under_way = case((print_endings.c.id.is_(None), prints.c.copies), else_=0)
        query = (
            select(prints.c.queue_entry_id, func.sum(done), func.sum(under_way))
            .select_from(prints)
            .select_from(
                prints.outerjoin(print_endings, and_(*_ENDED)).outerjoin(runs, print_endings.c.run_id == runs.c.id)
            )
            .where(prints.c.void_act_id.is_(None), prints.c.queue_entry_id.is_not(None))
            .group_by(prints.c.queue_entry_id)
        )
        with self._reading() as connection:
            return {entry: (int(done), int(open_)) for entry, done, open_ in connection.execute(query)}
