"""A heating log as text: time and temperature, one row each."""

import csv
import math

from feedwright.errors import BadInput
from feedwright.service.values import HeatingLog

MOST_ROWS = 200_000
LEAST_ROWS = 12
LEAST_RISE_DK = 40.0
"""Less than this says nothing of a heater (assumed)."""
TIME_WORDS, HEAT_WORDS = ("time", "second", "t_s"), ("temp", "nozzle", "°c", "celsius", "t_c", "_c")


def read_heating_log(text: str, name: str = "heating log") -> HeatingLog:
    """Rows of time in s and temperature in °C, apart by comma, semicolon, tab or blanks; a first row may name them.

    Raises BadInput with the row for what is no number, time that does not go on, temperatures that cannot be, and a
    log that never heats.
    """
    lines = [line for line in text.lstrip("\ufeff").splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if len(lines) > MOST_ROWS:
        raise _wrong(name, f"{len(lines)} rows", f"expected at most {MOST_ROWS}", "keep one row a second")
    split = _splitter(lines)
    first, heat = 0, 1
    if lines and _number(split(lines[0])[0]) is None:
        first, heat = _columns(split(lines[0]), name)
        lines = lines[1:]
    rows = [_row(split(line), first, heat, number, name) for number, line in enumerate(lines, 1)]
    if len(rows) < LEAST_ROWS:
        raise _wrong(
            name, f"{len(rows)} rows", f"expected {LEAST_ROWS} or more", "log once a second from cold until steady"
        )
    log = HeatingLog(tuple(time_s for time_s, _ in rows), tuple(at_c for _, at_c in rows))
    refuse_unlike_heating(log, name)
    return log


def refuse_unlike_heating(log: HeatingLog, name: str = "heating log") -> None:
    """Raises BadInput where the times or temperatures cannot be those of a heater that heats."""
    for number in range(1, len(log.time_s)):
        if log.time_s[number] <= log.time_s[number - 1]:
            raise _wrong(name, f"row {number + 1}", "time must go on from row to row", "sort it, and give seconds")
    for number, at_c in enumerate(log.at_c, 1):
        if not -20 <= at_c <= 500:
            raise _wrong(name, f"row {number}", f"{at_c:g} °C cannot be", "look for an open sensor, or another unit")
    rise = max(log.at_c) - log.at_c[0]
    if rise < LEAST_RISE_DK:
        raise _wrong(
            name,
            f"from {log.at_c[0]:.0f} to {max(log.at_c):.0f} °C",
            f"it never heats: expected a rise of {LEAST_RISE_DK:.0f} K or more",
            "check that the heater was on, and its terminals with the supply off; else log longer",
        )


def _splitter(lines: list[str]) -> "_Split":
    sample = lines[0] if lines else ""
    for mark in (";", "\t"):
        if mark in sample:
            return _Split(mark)
    return _Split("," if "," in sample else " ")


class _Split:
    """Parts a row at its mark; with any mark but the comma, a comma may stand for the decimal point."""

    def __init__(self, mark: str) -> None:
        self._mark = mark

    def __call__(self, line: str) -> list[str]:
        if self._mark == " ":
            return line.split()
        row = next(csv.reader([line], delimiter=self._mark))
        return [cell.strip().replace(",", ".") for cell in row]


def _columns(heads: list[str], name: str) -> tuple[int, int]:
    folded = [head.casefold() for head in heads]
    time_at = next((i for i, head in enumerate(folded) if any(word in head for word in TIME_WORDS)), None)
    heat_at = next(
        (i for i, head in enumerate(folded) if i != time_at and any(word in head for word in HEAT_WORDS)), None
    )
    if time_at is None or heat_at is None:
        found = f"found {', '.join(heads)}"
        raise _wrong(
            name, "row 1", f"expected a time and a temperature column; {found}", "name them time_s and nozzle_c"
        )
    return time_at, heat_at


def _number(cell: str) -> float | None:
    try:
        value = float(cell)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _row(cells: list[str], first: int, heat: int, number: int, name: str) -> tuple[float, float]:
    held = [_number(cells[at]) if at < len(cells) else None for at in (first, heat)]
    if held[0] is None or held[1] is None:
        raise _wrong(name, f"row {number}", "expected a time in s and a temperature in °C", "correct or drop the row")
    return held[0], held[1]


def _wrong(what: str, place: str, expected: str, remedy: str) -> BadInput:
    return BadInput(what, place=place, expected=expected, remedy=remedy)
