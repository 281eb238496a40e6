"""Reads of one act: what it wrote and what it took back, void records too. Nothing else shows those."""

from contextlib import AbstractContextManager
from typing import Any

from sqlalchemy import Connection, select

from feedwright.records import rows, tables
from feedwright.records.values import Act

GREATEST_NUMBER = 2**63 - 1


class ActReads:
    """What can be asked of an act, over whatever connection ``_reading`` gives."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def one_act(self, number: int) -> Act | None:
        """The act of that number; None where there is none."""
        if not 0 < number <= GREATEST_NUMBER:
            return None
        with self._reading() as connection:
            row = connection.execute(select(tables.acts).where(tables.acts.c.id == number)).one_or_none()
        return None if row is None else Act(row.id, row.kind, rows.time_from_row(row.at_utc), row.person_id, row.reason)

    def rows_of_act(self, number: int) -> list[tuple[str, dict[str, Any]]]:
        """Every row that the act wrote or voided, as table and columns, times as aware UTC."""
        found = []
        with self._reading() as connection:
            for table in tables.RECORDS:
                touched = (table.c.act_id == number) | (table.c.void_act_id == number)
                for row in connection.execute(select(table).where(touched).order_by(table.c.id)).mappings():
                    held = {
                        name: rows.time_from_row(value) if name.endswith("_utc") and value is not None else value
                        for name, value in row.items()
                    }
                    found.append((table.name, held))
        return found
