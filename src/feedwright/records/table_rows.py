"""Tables as they lie, row by row, for whoever carries the whole farm elsewhere: void rows too."""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Table, select

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


def every_row(reads: Reads, name: str) -> Iterator[dict[str, Any]]:
    """Every row of a table by its number, a page at a time: times as aware UTC, the rest as it is stored."""
    for row in stored_rows(reads, name):
        yield {
            column: time_from_row(held) if column.endswith("_utc") and held is not None else held
            for column, held in row.items()
        }


def stored_rows(reads: Reads, name: str) -> Iterator[dict[str, Any]]:
    """The same, all of it as it is stored."""
    table = META.tables[name]
    key = next(iter(table.primary_key.columns))
    last = None
    while True:
        query = select(table).order_by(*table.primary_key.columns).limit(PAGE)
        with reads._reading() as connection:
            page = list(connection.execute(query if last is None else query.where(key > last)).mappings())
        yield from (dict(row) for row in page)
        if len(page) < PAGE:
            return
        last = page[-1][key.name]
