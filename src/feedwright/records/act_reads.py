"""Reads of acts: what they wrote and what they took back, void records too. Nothing else shows those."""

from collections.abc import Collection
from contextlib import AbstractContextManager
from functools import cache
from typing import Any

from sqlalchemy import CompoundSelect, Connection, bindparam, func, literal, select, union_all

from feedwright.records import rows, tables
from feedwright.records.values import Act, Touched

GREATEST_NUMBER = 2**63 - 1


class ActReads:
    """What can be asked of acts, over whatever connection ``_reading`` gives."""

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
        wrote, voided = self.touched_by([number])[number]
        names = {one.table for one in (*wrote, *voided)}
        with self._reading() as connection:
            for table in (table for table in tables.RECORDS if table.name in names):
                touched = (table.c.act_id == number) | (table.c.void_act_id == number)
                for row in connection.execute(select(table).where(touched).order_by(table.c.id)).mappings():
                    held = {
                        name: rows.time_from_row(value) if name.endswith("_utc") and value is not None else value
                        for name, value in row.items()
                    }
                    found.append((table.name, held))
        return found

    def touched_by(self, act_ids: Collection[int]) -> dict[int, tuple[list[Touched], list[Touched]]]:
        """By act: the records that it wrote, and those that it voided."""
        found: dict[int, tuple[list[Touched], list[Touched]]] = {one: ([], []) for one in act_ids}
        with self._reading() as connection:
            for act_id, part, name, first, many in connection.execute(_touched(), {"act_ids": str(list(act_ids))}):
                found[act_id][part].append(Touched(name, first, many))
        return found


@cache
def _touched() -> CompoundSelect[Any]:
    """One question to all tables: asking each by itself takes ten times as long."""
    acts = select(func.json_each(bindparam("act_ids")).table_valued("value").c.value)
    return union_all(*(
        select(column, literal(part), literal(table.name), func.min(table.c.id), func.count())
        .where(column.in_(acts))
        .group_by(column)
        for table in tables.RECORDS
        for part, column in enumerate((table.c.act_id, table.c.void_act_id))
    ))  # fmt: skip
