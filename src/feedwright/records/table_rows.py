"""Tables as they lie, row by row, for whoever carries the whole farm elsewhere: void rows too."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Table, func, select, tuple_

from feedwright.records import access_tables, tables
from feedwright.records.columns import META
from feedwright.records.reads import Reads
from feedwright.records.rows import time_from_row

PAGE = 2000
LEFT_OUT = (access_tables.devices,)
"""Records that let somebody in: they stay with the farm they were made for."""
TABLES: dict[str, Table] = {table.name: table for table in (tables.acts, *tables.RECORDS) if table not in LEFT_OUT}
"""Every table of records that may leave the farm, acts first."""


def columns_of(name: str) -> list[str]:
    """The columns of a table."""
    return [column.name for column in META.tables[name].columns]


def last_number(reads: Reads, name: str) -> int:
    """The highest number in a table of records; 0 where it is empty."""
    with reads._reading() as connection:
        return int(connection.execute(select(func.coalesce(func.max(META.tables[name].c.id), 0))).scalar_one())


def every_row(reads: Reads, name: str, *, after: int = 0) -> Iterator[dict[str, Any]]:
    """Every row of a table of records by its number, a page at a time: times as aware UTC, the rest as it is stored.

    ``after`` passes over the rows up to that number.
    """
    for row in stored_rows(reads, name, after=(after,)):
        yield {
            column: time_from_row(held) if column.endswith("_utc") and held is not None else held
            for column, held in row.items()
        }


def stored_rows(reads: Reads, name: str, *, after: tuple[Any, ...] | None = None) -> Iterator[dict[str, Any]]:
    """The rows of any table by its key, all of it as it is stored."""
    table = META.tables[name]
    keys = list(table.primary_key.columns)
    last = after
    while True:
        query = select(table).order_by(*keys).limit(PAGE)
        with reads._reading() as connection:
            page = list(connection.execute(query if last is None else query.where(tuple_(*keys) > last)).mappings())
        yield from (dict(row) for row in page)
        if len(page) < PAGE:
            return
        last = tuple(page[-1][key.name] for key in keys)
