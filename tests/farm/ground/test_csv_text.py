"""CSV as text. Sources: RFC 4180; the signs that begin a formula as OWASP, "CSV Injection", lists them.

Python's own csv module is the judge of the format: what we write, it reads.
"""

import csv
import io
from contextlib import suppress
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.errors import BadInput
from feedwright.farm.ground.csv_text import (
    DATE_FORMATS,
    SEPARATORS,
    Writing,
    decoded,
    guessed,
    harmless,
    moment_of,
    number_of,
    plain_text,
    read_sheet,
    written,
)

CELLS = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=30)
FORMULAS = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "=cmd|' /C calc'!A0"]


@pytest.mark.parametrize("text", FORMULAS)
def test_no_cell_begins_a_formula(text: str) -> None:
    assert harmless(text)[0] == "'"
    assert plain_text(harmless(text)) == text


@given(CELLS)
def test_every_text_comes_back_and_begins_no_formula(text: str) -> None:
    assert plain_text(harmless(text)) == text
    assert harmless(text)[:1] not in tuple("=+-@\t\r\n")


@given(st.lists(st.tuples(CELLS, CELLS, st.floats(allow_nan=False, allow_infinity=False)), min_size=1, max_size=10))
def test_what_is_written_is_read_back(rows: list[tuple[str, str, float]]) -> None:
    text = "".join(written(["one", "two", "number"], [(f"x{one}", two, number) for one, two, number in rows]))
    judged = list(csv.reader(io.StringIO(text, newline="")))[1:]
    assert [(plain_text(a), plain_text(b), float(c)) for a, b, c in judged] == [(f"x{a}", b, c) for a, b, c in rows]
    sheet = read_sheet(text, Writing(), "own.csv")
    assert [(a, b, float(c)) for _, (a, b, c) in sheet.rows] == [(f"x{a}", b, c) for a, b, c in rows]


@pytest.mark.parametrize(("word", "mark"), SEPARATORS.items())
def test_the_separator_is_guessed(word: str, mark: str) -> None:
    rows = [["machine", "date", "hours"], ["Larch", "2026-03-01", "4"], ["Ash", "2026-03-02", "5"]]
    assert guessed("\n".join(mark.join(row) for row in rows)).separator == word


def test_a_decimal_comma_and_the_order_of_a_date_are_guessed() -> None:
    writing = guessed("machine;date;hours\nLarch;01.03.2026;4,5\nAsh;23.03.2026;5,25\n")
    assert writing == Writing("semicolon", True, "day_month_year")
    one_slip = guessed("machine,date\nLarch,2026-11-20\nAsh,2026-11-21\nElm,31.31.2026\n")
    assert one_slip.date_format == "iso", "one bad row does not decide for the rest"
    assert guessed("machine,date\nLarch,03/23/2026\nAsh,03/01/2026\n").date_format == "month_day_year"
    assert guessed("machine,date\nLarch,2026-03-01\n").date_format == "iso"


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        ("größe".encode(), "utf-8"),
        ("\ufeffgröße".encode(), "utf-8-sig"),
        ("größe".encode("utf-16"), "utf-16"),
        ("größe".encode("cp1252"), "cp1252"),
    ],
)
def test_the_encoding_is_told(content: bytes, encoding: str) -> None:
    text, told = decoded(content, "x.csv")
    assert (text.lstrip("\ufeff"), told) == ("größe", encoding)


@pytest.mark.parametrize("content", [b"a,b\0\n1,2", b"\x00\x01\x02", b"PK\x03\x04\x00\x00"])
def test_what_is_no_text_is_refused(content: bytes) -> None:
    with pytest.raises(BadInput, match="no text"):
        decoded(content, "x.csv")


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ('a,b\n1,2\n"3,4\n5,6\n', "row 3"),
        ("a,b\n1,2\n1,2,3\n", "row 3"),
        ('a,b\n"x\ny",2\n1,2,3\n', "row 4"),
        ("a,a\n1,2\n", "row 1"),
        ("a,b\n1," + "x" * 10_001 + "\n", "row 2, column “b”"),
    ],
)
def test_a_fault_is_named_by_its_row(text: str, place: str) -> None:
    with pytest.raises(BadInput) as refused:
        read_sheet(text, Writing(), "x.csv")
    assert refused.value.place == place


def test_blank_rows_are_left_out_and_short_ones_filled() -> None:
    sheet = read_sheet("a,b,\n\n1\n,,\n1,2,\n", Writing(), "x.csv")
    assert sheet.headings == ("a", "b")
    assert sheet.rows == ((3, ("1", "")), (5, ("1", "2")))


@pytest.mark.parametrize(
    ("cell", "comma", "value"),
    [("12.5", False, 12.5), ("12,5", True, 12.5), (" 1 ", True, 1.0), ("−3", False, -3.0), ("1e3", False, 1000.0),
     ("1\u00a0000", False, 1000.0)],
)  # fmt: skip
def test_numbers(cell: str, comma: bool, value: float) -> None:
    assert number_of(cell, decimal_comma=comma) == value


@pytest.mark.parametrize(
    ("cell", "comma"),
    [("1,5", False), ("1.5", True), ("1.234,5", True), ("x", False), ("nan", False), ("1_0", False), ("", False)],
)
def test_what_may_be_read_in_two_ways_is_no_number(cell: str, comma: bool) -> None:
    with pytest.raises(ValueError, match="expected"):
        number_of(cell, decimal_comma=comma)


@pytest.mark.parametrize(
    ("cell", "order", "wall"),
    [
        ("2026-03-01", "iso", "2026-03-01T12:00:00"),
        ("2026-03-01 14:05", "iso", "2026-03-01T14:05:00"),
        ("01.03.2026 14:05", "day_month_year", "2026-03-01T14:05:00"),
        ("1/3/26", "day_month_year", "2026-03-01T12:00:00"),
        ("03/01/2026, 14:05:30", "month_day_year", "2026-03-01T14:05:30"),
    ],
)
def test_dates_in_the_farms_zone(cell: str, order: str, wall: str) -> None:
    at = moment_of(cell, order, ZoneInfo("Europe/Vienna"))
    assert at.replace(tzinfo=None).isoformat() == wall
    assert at.utcoffset() == timedelta(hours=1)


def test_a_date_that_names_its_zone_keeps_it() -> None:
    assert moment_of("2026-03-01T14:00:00Z", "iso", timezone(timedelta(hours=5))) == datetime(
        2026, 3, 1, 14, tzinfo=UTC
    )


@pytest.mark.parametrize("cell", ["31.02.2026", "2026", "soon", "1/13/2026 25:00", "99999-01-01"])
def test_what_is_no_date_is_refused(cell: str) -> None:
    with pytest.raises(ValueError, match="expected a date"):
        moment_of(cell, "day_month_year", UTC)


@given(st.text(max_size=40), st.sampled_from(list(DATE_FORMATS)))
def test_whatever_a_cell_holds_it_is_a_time_or_refused(cell: str, order: str) -> None:
    with suppress(ValueError):
        assert moment_of(cell, order, UTC).tzinfo is not None


@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=200), st.sampled_from(list(SEPARATORS)))
def test_whatever_a_text_holds_it_is_read_or_refused(text: str, separator: str) -> None:
    guessed(text)
    with suppress(BadInput):
        sheet = read_sheet(text, Writing(separator), "x.csv")
        assert all(len(cells) == len(sheet.headings) for _, cells in sheet.rows)


@given(st.binary(max_size=300))
def test_whatever_bytes_a_file_holds_they_are_text_or_refused(content: bytes) -> None:
    with suppress(BadInput):
        decoded(content, "x.csv")
