"""CSV as text: how a file is written, its cells as they are meant, and cells that no spreadsheet takes for a formula.

Pure functions. Sources: RFC 4180 for the format; OWASP, "CSV Injection", for the signs that begin a formula.
"""

import csv
import io
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from feedwright.errors import BadInput

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}
DATE_FORMATS = {
    "iso": "year-month-day, as 2026-03-01 14:00",
    "day_month_year": "day, month, year, as 01.03.2026 14:00",
    "month_day_year": "month, day, year, as 03/01/2026 14:00",
}
MOST_BYTES, MOST_ROWS, LONGEST_CELL = 50_000_000, 500_000, 10_000
"""What one file may hold."""
BEGINS_A_FORMULA = "=+-@\t\r\n"
MARK = "'"
_LOOKED_AT = 60
"""Rows from which a file's way of writing is guessed."""
_DATE = re.compile(r"(\d{1,4})[-./](\d{1,2})[-./](\d{1,4})(?:[T ,]+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?)?")
_COMMA_NUMBER, _POINT_NUMBER = re.compile(r"[+-]?\d*,\d+"), re.compile(r"[+-]?\d*\.\d+")


@dataclass(frozen=True, slots=True)
class Writing:
    """How a CSV file is written."""

    separator: str = "comma"
    decimal_comma: bool = False
    date_format: str = "iso"
    encoding: str = "utf-8"


@dataclass(frozen=True, slots=True)
class Sheet:
    """The cells of a file: its headings, and its rows with the line of the file that each begins on."""

    headings: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def decoded(content: bytes, name: str) -> tuple[str, str]:
    """The text of a file and how it was encoded: UTF-8 or UTF-16 by its mark, else UTF-8, else Windows-1252."""
    if len(content) > MOST_BYTES:
        expected = f"expected at most {MOST_BYTES // 1_000_000} MB"
        raise BadInput(name, place=f"{len(content) / 1e6:.0f} MB", expected=expected, remedy="split it")
    marks = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
    marked = [encoding for mark, encoding in marks if content.startswith(mark)]
    for encoding in marked or ["utf-8", "cp1252"]:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text, encoding
    raise BadInput(name, expected="this is no text: expected a CSV file", remedy="save it as CSV in UTF-8")


def guessed(text: str, encoding: str = "utf-8") -> Writing:
    """How the text is most likely written, by its first rows."""
    head = "".join(text.splitlines(keepends=True)[: _LOOKED_AT + 1])
    separator = max(SEPARATORS, key=lambda word: _evenness(head, SEPARATORS[word]))
    try:
        cells = [cell for row in list(_parts(head, SEPARATORS[separator]))[1:] for cell in row]
    except csv.Error:
        cells = []
    commas, points = (sum(bool(kind.fullmatch(cell)) for cell in cells) for kind in (_COMMA_NUMBER, _POINT_NUMBER))
    return Writing(separator, separator != "comma" and commas > points, guessed_dates(cells), encoding)


def _evenness(head: str, mark: str) -> tuple[int, int]:
    """How many rows agree on having more than one cell, and on how many."""
    try:
        counts = Counter(len(row) for row in _parts(head, mark))
    except csv.Error:
        return 0, 0
    width, rows = max(counts.items(), key=lambda held: (held[0] > 1, held[1], held[0]), default=(0, 0))
    return (rows, width) if width > 1 else (0, 0)


def guessed_dates(cells: Iterable[str]) -> str:
    """The order of day, month and year in which most dates can be read; day first where neither is the likelier."""
    dates = [cell.strip() for cell in cells if _DATE.fullmatch(cell.strip())]
    if not dates:
        return "iso"
    return max(("day_month_year", "month_day_year", "iso"), key=lambda one: sum(_read_so(date, one) for date in dates))


def _read_so(cell: str, date_format: str) -> bool:
    if date_format == "iso" and not re.match(r"\d{4}", cell):
        return False
    try:
        moment_of(cell, date_format, UTC)
    except ValueError:
        return False
    return True


def _parts(text: str, mark: str) -> Iterator[list[str]]:
    return csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)


def read_sheet(text: str, writing: Writing, name: str) -> Sheet:
    """The cells of a text; blank rows are left out, short rows filled up.

    Raises BadInput with the row for a quote that never ends, a row with more cells than there are headings, a heading
    that stands twice, and a file that is too long.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=SEPARATORS[writing.separator], strict=True)
    rows: list[tuple[int, tuple[str, ...]]] = []
    began = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((began, tuple(plain_text(cell) for cell in cells)))
            began = reader.line_num + 1
            if len(rows) > MOST_ROWS:
                raise BadInput(name, expected=f"expected at most {MOST_ROWS} rows", remedy="split it")
    except csv.Error as error:
        remedy = "close the quotes, or choose another separator"
        raise BadInput(name, place=f"row {began}", expected=f"it cannot be read: {error}", remedy=remedy) from error
    if len(rows) < 2:
        raise BadInput(name, expected="expected a row of headings and at least one more", remedy="add the headings")
    (_, headings), body = rows[0], rows[1:]
    headings = _named(headings, name)
    for line, row in body:
        _refuse_odd(line, row, headings, name)
    width = len(headings)
    return Sheet(headings, tuple((line, cells[:width] + ("",) * (width - len(cells))) for line, cells in body))


def _named(headings: Sequence[str], name: str) -> tuple[str, ...]:
    named = tuple(heading.strip() for heading in headings)
    while named and not named[-1]:
        named = named[:-1]
    twice = [heading for heading, count in Counter(named).items() if count > 1 and heading]
    if twice:
        raise BadInput(
            name, place="row 1", expected=f"“{twice[0]:.40}” stands twice", remedy="give each its own heading"
        )
    return named


def _refuse_odd(line: int, cells: Sequence[str], headings: Sequence[str], name: str) -> None:
    if any(cell.strip() for cell in cells[len(headings) :]):
        expected = f"{len(cells)} cells under {len(headings)} headings"
        raise BadInput(name, place=f"row {line}", expected=expected, remedy="put text with a separator in quotes")
    for heading, cell in zip(headings, cells, strict=False):
        if len(cell) > LONGEST_CELL:
            expected = f"expected at most {LONGEST_CELL} letters"
            raise BadInput(name, place=f"row {line}, column “{heading}”", expected=expected, remedy="shorten it")


def harmless(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would run it; :func:`plain_text` takes that off.

    >>> harmless("=1+1"), plain_text("'=1+1"), harmless("'tis")
    ("'=1+1", '=1+1', "'tis")
    """
    return MARK + text if text[:1] in tuple(BEGINS_A_FORMULA) or _is_marked(text) else text


def plain_text(cell: str) -> str:
    """The text that was made harmless; other cells as they are."""
    return cell[1:] if _is_marked(cell) else cell


def _is_marked(text: str) -> bool:
    return text[:1] == MARK and text[1:2] != "" and text[1] in BEGINS_A_FORMULA + MARK


def cell_of(value: object) -> str:
    """A value as a cell of what we write: text made harmless, numbers with a point, times in ISO 8601 and UTC."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else ""
    return str(value) if isinstance(value, int) else harmless(str(value))


def written(headings: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """The lines of a CSV file, one at a time, as RFC 4180 has them."""
    yield _line(headings)
    for row in rows:
        yield _line([cell_of(value) for value in row])


def _line(cells: Sequence[str]) -> str:
    held = io.StringIO()
    csv.writer(held, lineterminator="\r\n").writerow(cells)
    return held.getvalue()


def number_of(cell: str, *, decimal_comma: bool) -> float:
    """The number of a cell; raises ValueError with what was expected. A mark of thousands is refused."""
    text = cell.strip().replace("\u00a0", "").replace("\u202f", "").replace("−", "-")
    if decimal_comma:
        if "." in text:
            raise ValueError("expected a number with a decimal comma and no mark of thousands, such as 12,5")
        text = text.replace(",", ".")
    elif "," in text:
        raise ValueError("expected a number with a decimal point and no mark of thousands, such as 12.5")
    try:
        value = float(text)
    except ValueError:
        raise ValueError("expected a number, such as " + ("12,5" if decimal_comma else "12.5")) from None
    if not math.isfinite(value) or "_" in text:
        raise ValueError("expected a number")
    return value


def moment_of(cell: str, date_format: str, zone: tzinfo) -> datetime:
    """The aware time of a cell, in the zone where it names none; raises ValueError with what was expected.

    A date alone is its noon, so that no zone moves it to another day.
    """
    text = cell.strip()
    match = _DATE.fullmatch(text)
    try:
        if match is None or (date_format == "iso" and len(match[1]) == 4):
            at = datetime.fromisoformat(text)
            at = at.replace(hour=12) if len(text) == 10 else at
            return at if at.tzinfo else at.replace(tzinfo=zone)
        first, second, third = int(match[1]), int(match[2]), int(match[3])
        year, month, day = {
            "iso": (first, second, third),
            "day_month_year": (third, second, first),
            "month_day_year": (third, first, second),
        }[date_format]
        year += 2000 if year < 100 else 0
        hour, minute = (int(match[4]), int(match[5])) if match[4] else (12, 0)
        return datetime(year, month, day, hour, minute, int(match[6] or 0), tzinfo=zone)
    except (ValueError, OverflowError):
        raise ValueError(f"expected a date: {DATE_FORMATS[date_format]}") from None
