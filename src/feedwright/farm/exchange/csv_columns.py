"""What a CSV file may bring: the columns of each kind, their units, and by which headings to know them."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

CellKind = Literal["text", "number", "moment"]
UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "h": {"h": (1.0, 0.0), "min": (1 / 60, 0.0), "s": (1 / 3600, 0.0)},
    "min": {"min": (1.0, 0.0), "h": (60.0, 0.0), "s": (1 / 60, 0.0)},
    "g": {"g": (1.0, 0.0), "kg": (1000.0, 0.0)},
    "mm": {"mm": (1.0, 0.0), "cm": (10.0, 0.0), "in": (25.4, 0.0)},
    "c": {"c": (1.0, 0.0), "f": (5 / 9, -160 / 9)},
    "frac": {"frac": (1.0, 0.0), "percent": (0.01, 0.0)},
    "days": {"days": (1.0, 0.0), "weeks": (7.0, 0.0)},
}
"""What a column's numbers may be written in: what to multiply by and then to add, to come to its own unit."""
UNIT_WORDS = {
    "h": ("h", "hr", "hrs", "hours"), "min": ("min", "mins", "minutes"), "s": ("s", "sec", "seconds"),
    "g": ("g", "grams"), "kg": ("kg",), "mm": ("mm",), "cm": ("cm",), "in": ("in", "inch", "inches"),
    "c": ("c", "°c", "celsius"), "f": ("f", "°f", "fahrenheit"), "percent": ("%", "percent"),
    "days": ("d", "days"), "weeks": ("weeks",),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class CsvColumn:
    """One column that a kind of file may have."""

    name: str
    """The heading that we write ourselves."""
    cells: CellKind = "text"
    needed: bool = False
    unit: str = ""
    """A key of :data:`UNITS`; empty where there is nothing to choose."""
    also: tuple[str, ...] = ()
    """Other headings by which it is known."""
    hint: str = ""


@dataclass(frozen=True, slots=True)
class CsvKind:
    """One kind of file: what each of its rows is."""

    name: str
    title: str
    columns: tuple[CsvColumn, ...]

    def column(self, name: str) -> CsvColumn:
        """The column of that name."""
        return next(column for column in self.columns if column.name == name)


_MACHINE = CsvColumn("machine", needed=True, also=("printer", "machine name", "device"), hint="A machine on record.")
_PART = CsvColumn("part", needed=True, also=("part kind", "component"), hint="Such as nozzle or tube end.")
_POSITION = CsvColumn("position", "number", hint="Which one, where a machine has several; else 1.")
_NOTE = CsvColumn("note", also=("notes", "comment", "remark"))

KINDS = {
    kind.name: kind
    for kind in (
        CsvKind("machines", "Machines", (
            CsvColumn("name", needed=True, also=("machine", "printer", "machine name")),
            CsvColumn("build", needed=True, also=("type", "model"), hint="A build of the catalogue."),
            CsvColumn("registered", "moment", also=("since", "on record since"), hint="From when on it is on record."),
            CsvColumn("history", hint="What its parts have been through: new, used or unknown."),
            CsvColumn("in_service_since", "moment", also=("in service", "bought"), hint="Needed where parts are used."),
            CsvColumn("parts", hint="Parts that differ: nozzle: hard_tip new; belt 2: plain used 120"),
            CsvColumn("box_x_mm", "number", unit="mm", also=("x", "width")),
            CsvColumn("box_y_mm", "number", unit="mm", also=("y", "depth")),
            CsvColumn("box_z_mm", "number", unit="mm", also=("z", "height")),
            CsvColumn("tube_needed_mm", "number", unit="mm"),
            CsvColumn("enclosure_c", "number", unit="c"),
            CsvColumn("motion", hint="Motion limits that differ, as JSON."),
            _NOTE,
        )),
        CsvKind("runs", "Runs", (
            _MACHINE,
            CsvColumn("started", "moment", needed=True, also=("date", "start", "begin", "began", "start time", "time")),
            CsvColumn("material", needed=True, also=("filament", "filament type"), hint="Such as pla or petg."),
            CsvColumn("toolpath", also=("file", "file name", "g-code", "gcode", "job"),
                      hint="Name or content hash of a file the farm knows; else its hours count."),
            CsvColumn("hours", "number", unit="h", also=("duration", "print time", "printing time", "h"),
                      hint="Of one copy."),
            CsvColumn("filament_g", "number", unit="g", also=("weight", "filament used", "used"), hint="Of one copy."),
            CsvColumn("outcome", also=("result", "status"), hint="complete, stopped or spoiled; empty is complete."),
            CsvColumn("fraction", "number", unit="frac", also=("share", "progress"),
                      hint="Where stopped or spoiled: the share that was done."),
            CsvColumn("copies", "number", also=("quantity", "count")),
            CsvColumn("nozzle_c", "number", unit="c", also=("nozzle temperature", "nozzle")),
            _NOTE,
        )),
        CsvKind("renewals", "Renewals", (
            _MACHINE,
            _PART,
            _POSITION,
            CsvColumn("renewed", "moment", needed=True, also=("date", "replaced", "changed", "time")),
            CsvColumn("reason", hint="failed, worn, sound, moved or retired; empty is worn."),
            CsvColumn("product", also=("new part",), hint="Where it is not the same as before."),
            CsvColumn("grade_found", also=("grade", "state")),
            CsvColumn("trimmed_mm", "number", unit="mm", also=("trim",)),
            CsvColumn("length_mm", "number", unit="mm", also=("length",)),
            CsvColumn("minutes", "number", unit="min", also=("duration",)),
            _NOTE,
        )),
        CsvKind("findings", "Findings", (
            _MACHINE,
            _PART,
            _POSITION,
            CsvColumn("found", "moment", needed=True, also=("date", "seen", "time")),
            CsvColumn("grade", also=("state", "condition")),
            CsvColumn("reading", "number", also=("value", "measured")),
            CsvColumn("reading_unit", also=("unit",), hint="Such as mm, c or n."),
            _NOTE,
        )),
        CsvKind("events", "Events", (
            _MACHINE,
            CsvColumn("kind", needed=True, also=("event", "what"), hint="power_cut, hot_stop, fan_stall, jam, slip, "
                      "collision, stored, returned or note."),
            CsvColumn("happened", "moment", needed=True, also=("date", "when", "time")),
            CsvColumn("nozzle_c", "number", unit="c", also=("nozzle temperature",)),
            CsvColumn("minutes", "number", unit="min", also=("duration",)),
            CsvColumn("material", also=("filament",)),
            _NOTE,
        )),
        CsvKind("stores", "Stores", (
            CsvColumn("name", needed=True, also=("item", "article", "spare", "part name")),
            CsvColumn("fits", also=("part", "part kind"), hint="Part kinds or products it stands for; several with ;"),
            CsvColumn("on_hand", "number", also=("count", "stock", "quantity", "in stock"), hint="How many there are."),
            CsvColumn("pack_count", "number", also=("pack", "pack size")),
            CsvColumn("pack_price", "number", also=("price", "cost"), hint="In the farm's currency."),
            CsvColumn("delivery_price", "number", also=("delivery", "shipping")),
            CsvColumn("lead_days", "number", unit="days", also=("lead time", "lead")),
            CsvColumn("supplier", also=("vendor", "shop", "source")),
            _NOTE,
        )),
    )
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reading:
    """How the columns of one file are taken: from which heading, in which unit, or the same for every row."""

    kind: str
    headings: Mapping[str, str]
    """Our column to the file's heading."""
    units: Mapping[str, str] = field(default_factory=dict)
    """Our column to the unit its numbers are in, where that is not its own."""
    fixed: Mapping[str, str] = field(default_factory=dict)
    """Our column to what stands for every row, where the file has no such column."""


def guessed_kind(headings: Sequence[str]) -> str:
    """The kind of file that the headings suit best: most of what it needs, then most of what it may have."""

    def suits(kind: CsvKind) -> tuple[float, int]:
        found = guessed_headings(kind, headings)
        needed = [column.name for column in kind.columns if column.needed]
        return sum(name in found for name in needed) / len(needed), len(found)

    return max(KINDS.values(), key=suits).name


def guessed_reading(kind: str, headings: Sequence[str]) -> Reading:
    """Which heading is most likely which column, and in what unit."""
    found = guessed_headings(KINDS[kind], headings)
    units = {
        name: unit
        for name, heading in found.items()
        if (own := KINDS[kind].column(name).unit) and (unit := _unit_in(heading, own)) not in ("", own)
    }
    return Reading(kind, found, units)


def guessed_headings(kind: CsvKind, headings: Sequence[str]) -> dict[str, str]:
    """Our columns to the file's headings, each heading once: those that say it outright first."""
    found: dict[str, str] = {}
    for outright in (True, False):
        for column in kind.columns:
            words = [_plain(word) for word in (column.name, *column.also)]
            for heading in headings:
                said = _plain(heading)
                known = (
                    said in words if outright else any(f" {word} " in f" {said} " for word in words if len(word) > 2)
                )
                if known and column.name not in found and heading not in found.values():
                    found[column.name] = heading
    return found


def _plain(heading: str) -> str:
    """The heading in small letters, without what stands in brackets and without the unit at its end."""
    words = re.sub(r"[(\[].*?[)\]]|[_\-/,.:]", " ", heading.casefold()).split()
    while len(words) > 1 and any(words[-1] in known for known in UNIT_WORDS.values()) and words[-1] != "hours":
        words.pop()
    return " ".join(words)


def _unit_in(heading: str, own: str) -> str:
    """The unit that a heading names, of those that the column may be in; empty where it names none."""
    said = set(re.split(r"[\s()\[\]_,./:]+", heading.casefold()))
    return next((unit for unit in UNITS[own] if said & set(UNIT_WORDS.get(unit, (unit,)))), "")


def in_own_unit(value: float, own: str, given: str) -> float:
    """A number in its column's own unit.

    >>> in_own_unit(90, "h", "min"), in_own_unit(212, "c", "f")
    (1.5, 100.0)
    """
    factor, offset = UNITS[own][given]
    return value if given == own else round(value * factor + offset, 9)
