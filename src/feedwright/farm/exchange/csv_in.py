"""Taking a CSV file in: looked at first, then all of its rows in one act, or none."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from feedwright.errors import BadInput, FeedwrightError
from feedwright.farm.exchange.csv_columns import (
    KINDS,
    UNITS,
    CsvColumn,
    CsvKind,
    Reading,
    guessed_kind,
    guessed_reading,
)
from feedwright.farm.exchange.csv_rows import PREPARE, Row
from feedwright.farm.ground.csv_text import Sheet, Writing, decoded, guessed, moment_of, number_of, read_sheet
from feedwright.farm.ground.naming import pick
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.settings import zone
from feedwright.records.store import Store

SHOWN_ROWS, SHOWN_FAULTS = 8, 30


@dataclass(frozen=True, slots=True)
class Fault:
    """One cell that cannot be taken."""

    line: int
    column: str
    given: str
    expected: str


@dataclass(frozen=True, slots=True)
class Look:
    """What a file holds and how it would be taken; nothing is recorded."""

    writing: Writing
    reading: Reading
    headings: tuple[str, ...]
    first_rows: tuple[tuple[str, ...], ...]
    rows: int
    missing: tuple[str, ...]
    """Columns that are needed and taken from nowhere."""
    faults: tuple[Fault, ...]
    """The first cells that cannot be taken."""
    refused: str
    """Why the records would not take it, where every cell is in order; empty where they would."""
    new: int
    """Rows that would be recorded."""
    known: int
    """Rows that are on record already, and are left out."""


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What a file brought."""

    kind: str
    new: int
    known: int
    act_id: int


class _OnlyTried(Exception):
    """Ends an act that was begun to see whether the records would take it, so that nothing is left behind."""


def look_at(
    store: Store, content: bytes, name: str, *, writing: Writing | None = None, reading: Reading | None = None,
    kind: str = "",
) -> Look:  # fmt: skip
    """What a file holds, as it is written and read by the guess or as told; tried out on the records."""
    text, encoding = decoded(content, name)
    writing = writing or guessed(text, encoding)
    sheet = read_sheet(text, writing, name)
    if reading is None:
        reading = guessed_reading(kind or guessed_kind(sheet.headings), sheet.headings)
    rows, faults = _rows(sheet, reading, writing, zone(store))
    missing = tuple(
        column.name for column in _kind(reading).columns if column.needed and not _is_given(column, reading)
    )
    new = known = 0
    refused = ""
    if not faults and not missing:
        try:
            new, known = _tried(store, reading.kind, rows)
        except FeedwrightError as error:
            refused = error.sentence
    first_rows = tuple(cells for _, cells in sheet.rows[:SHOWN_ROWS])
    shown = tuple(faults[:SHOWN_FAULTS])
    return Look(writing, reading, sheet.headings, first_rows, len(sheet.rows), missing, shown, refused, new, known)


def take_in(
    store: Store, content: bytes, name: str, *, writing: Writing | None = None, reading: Reading | None = None,
    kind: str = "", person: str | None = None,
) -> TakenIn:  # fmt: skip
    """Record every row of a file in one act; rows that are on record already are left out.

    Raises BadInput with row and column for the first cell that cannot be taken, and what the records refuse with the
    row it is about; then nothing is recorded.
    """
    text, encoding = decoded(content, name)
    writing = writing or guessed(text, encoding)
    sheet = read_sheet(text, writing, name)
    reading = reading or guessed_reading(kind or guessed_kind(sheet.headings), sheet.headings)
    for column in _kind(reading).columns:
        if column.needed and not _is_given(column, reading):
            expected, found = f"expected a column “{column.name}”", ", ".join(sheet.headings)
            raise BadInput(name, place="row 1", expected=expected, remedy=f"say which it is; there are {found}")
    rows, faults = _rows(sheet, reading, writing, zone(store))
    if faults:
        first, more = faults[0], f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
        place = f"row {first.line}, column “{first.column}”: “{first.given:.40}”"
        raise BadInput(name, place=place, expected=first.expected + more, remedy="correct the file, or how it is read")
    write = PREPARE[reading.kind](store, rows, naming_row)
    with store.act("csv in", person_id=person_id(store, person), reason=f"{len(rows)} rows of {name:.100}") as act:
        known = write(act)
        if known == len(rows):
            raise BadInput(name, expected="every row is on record already", remedy="nothing is to be done")
    return TakenIn(reading.kind, len(rows) - known, known, act.id)


def _kind(reading: Reading) -> CsvKind:
    return pick(KINDS, reading.kind, "kind of file")


def _is_given(column: CsvColumn, reading: Reading) -> bool:
    return column.name in reading.headings or bool(reading.fixed.get(column.name, "").strip())


def _tried(store: Store, kind: str, rows: list[Row]) -> tuple[int, int]:
    """How many rows would be new and how many are known: written within an act that comes to nothing."""
    known = 0
    write = PREPARE[kind](store, rows, naming_row)
    try:
        with store.act("csv in") as act:
            known = write(act)
            raise _OnlyTried
    except _OnlyTried:
        return len(rows) - known, known


@contextmanager
def naming_row(row: Row) -> Iterator[None]:
    """A refusal within says which row it is about."""
    try:
        yield
    except FeedwrightError as error:
        error.place = f"row {row.line}: {error.place}".removesuffix(": ")
        error.args = (error.sentence,)
        raise


def _rows(sheet: Sheet, reading: Reading, writing: Writing, place: tzinfo) -> tuple[list[Row], list[Fault]]:
    """Every row as values by our columns, and every cell that cannot be taken."""
    kind = _kind(reading)
    _refuse_unknown(reading, kind, sheet.headings)
    at = {column: sheet.headings.index(heading) for column, heading in reading.headings.items()}
    rows: list[Row] = []
    faults: list[Fault] = []
    for line, cells in sheet.rows:
        values: dict[str, Any] = {}
        for column in kind.columns:
            cell = cells[at[column.name]] if column.name in at else reading.fixed.get(column.name, "")
            try:
                values[column.name] = _value(column, cell.strip(), reading, writing, place)
            except ValueError as error:
                heading = reading.headings.get(column.name, column.name)
                faults.append(Fault(line, heading, cell, str(error)))
        rows.append(Row(line, values))
    return rows, faults


def _refuse_unknown(reading: Reading, kind: CsvKind, headings: tuple[str, ...]) -> None:
    columns = {column.name: column for column in kind.columns}
    for name in (*reading.headings, *reading.fixed, *reading.units):
        pick(columns, name, "column")
    for heading in reading.headings.values():
        pick({held: held for held in headings}, heading, "heading")
    for name, unit in reading.units.items():
        if unit not in UNITS.get(columns[name].unit, {}):
            known = ", ".join(UNITS.get(columns[name].unit, {})) or "it has none"
            raise BadInput(name, place=f"unit “{unit}”", expected="it cannot be in that unit", remedy=f"known: {known}")


def _value(
    column: CsvColumn, cell: str, reading: Reading, writing: Writing, place: tzinfo
) -> str | float | datetime | None:
    """The value of a cell; None where it is empty. Raises ValueError with what was expected."""
    if not cell:
        if column.needed and _is_given(column, reading):
            raise ValueError("expected something here")
        return "" if column.cells == "text" else None
    if column.cells == "text":
        return cell
    if column.cells == "moment":
        return moment_of(cell, writing.date_format, place)
    unit = reading.units.get(column.name, column.unit)
    if column.unit == "frac" and cell.endswith("%"):
        cell, unit = cell.removesuffix("%"), "percent"
    value = number_of(cell, decimal_comma=writing.decimal_comma)
    factor, offset = UNITS[column.unit][unit] if column.unit else (1.0, 0.0)
    return value if (factor, offset) == (1.0, 0.0) else round(value * factor + offset, 9)
