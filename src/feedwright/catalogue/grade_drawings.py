"""Our drawings of what a look at a part can show, read from TOML; a fault names its file and path."""

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, get_args

from feedwright.errors import BadEntry

FILE = "grade_drawings.toml"
WIDE, HIGH = 96, 60
"""The field that every drawing fills."""
MarkStyle = Literal["body", "line", "faint", "wear", "tint", "soot"]
PATH = re.compile(r"[MmLlHhVvCcQqTtSsAaZz0-9., -]+")
ALIKE = {"part_fan": "sink_fan", "supply_fan": "sink_fan"}
"""Part kinds that look like another one."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One stroke of a drawing."""

    style: MarkStyle
    d: str
    """SVG path data."""


def grade_drawing(part_kind: str, grade: str) -> tuple[Mark, ...]:
    """The drawing of a grade; empty where the catalogue grew one that nobody has drawn yet."""
    return load_drawings().get((ALIKE.get(part_kind, part_kind), grade), ())


@cache
def load_drawings() -> dict[tuple[str, str], tuple[Mark, ...]]:
    """Every drawing by part kind and grade; raises BadEntry where a line is none."""
    held = tomllib.loads(files("feedwright.catalogue").joinpath(FILE).read_text(encoding="utf-8"))
    return {
        (part, grade): tuple(_mark(line, f"{part}.{grade}") for line in text.splitlines())
        for part, grades in held.items()
        for grade, text in grades.items()
    }


def _mark(line: str, place: str) -> Mark:
    style, _, path = line.partition(" ")
    if style not in get_args(MarkStyle) or not PATH.fullmatch(path):
        expected = f"expected a style ({', '.join(get_args(MarkStyle))}) and SVG path data, found “{line[:40]}”"
        raise BadEntry(FILE, place=place, expected=expected, remedy="correct the line")
    return Mark(style, path)  # type: ignore[arg-type]
