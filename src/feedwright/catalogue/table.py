"""A table of a TOML file that knows its own path, so that a fault in it can say where it is."""

import math
from collections.abc import Callable, Mapping
from dataclasses import fields
from typing import Any, TypeVar, get_args

from feedwright.catalogue.entry import Source, Sourced
from feedwright.errors import BadEntry
from feedwright.units import BY_SUFFIX, DIMENSIONLESS, unit_of

E = TypeVar("E")
PRICED = (
    "labour_per_h", "machine_per_h", "filament_per_kg", "delivery_price", "replan_price", "late_per_h", "wait_per_h",
)  # fmt: skip
"""Keys in the farm's currency though they end like a unit."""


TOML_WORDS = {str: "text", bool: "true or false", int: "a whole number", list: "a list", dict: "a table"}


def _said(kind: type) -> str:
    return TOML_WORDS.get(kind, kind.__name__)


class Table:
    """``held`` as read, from ``file`` at the dotted ``path``; every getter refuses what it cannot take."""

    def __init__(self, held: Mapping[str, Any], file: str, path: str, sources: Mapping[str, Source]) -> None:
        self.held, self.file, self.path, self.sources = held, file, path, sources

    @staticmethod
    def keys_of(kind: type) -> tuple[str, ...]:
        """The keys that a table of this kind may hold: its fields but for the id, which is the table's name."""
        return tuple(field.name for field in fields(kind) if field.name not in ("id", "key"))

    def fault(self, key: str, expected: str, remedy: str) -> BadEntry:
        """A refusal at one key of this table, or of the table itself where the key is empty."""
        return BadEntry(self.file, place=f"{self.path}.{key}".strip("."), expected=expected, remedy=remedy)

    def only(self, *keys: str) -> None:
        """Refuse a key that nothing would read: most likely a slip of the pen."""
        for key in self.held:
            if key not in keys:
                raise self.fault(key, "no such key is known here", f"use one of {', '.join(keys)}")

    def get(self, key: str, kind: type[E], otherwise: E | None = None) -> E:
        """The value at a key, of that kind; it may be missing only where there is something to take instead."""
        value = self.held.get(key, otherwise)
        if value is None:
            raise self.fault(key, "it is missing", f"add {key}")
        if not isinstance(value, kind) or (kind is not bool and isinstance(value, bool)):
            raise self.fault(key, f"expected {_said(kind)}, found {_said(type(value))}", "correct the value")
        return value

    def one_of(self, key: str, words: Any, otherwise: str | None = None) -> Any:
        """The text at a key, which must be one of the words of a Literal type."""
        value, known = self.get(key, str, otherwise), get_args(words)
        if value not in known:
            raise self.fault(key, f"“{value}” is not known here", f"use one of {', '.join(known)}")
        return value

    def words(self, key: str) -> tuple[str, ...]:
        """A list of texts; missing means none."""
        return tuple(str(word) for word in self.get(key, list, []))

    def inner(self, key: str) -> "Table":
        """The table at a key."""
        return Table(self.get(key, dict), self.file, f"{self.path}.{key}".strip("."), self.sources)

    def each(self, key: str, make: Callable[["Table", str], E]) -> tuple[E, ...]:
        """An entry made of each table within the table at a key, in order; at least one."""
        inner = self.inner(key)
        if not inner.held:
            raise inner.fault("", "it is empty", "describe at least one")
        return tuple(make(inner.inner(name), name) for name in inner.held)

    def number(self, key: str, unit: str | None = None, *, above_zero: bool = False) -> Sourced:
        """A sourced number; its unit is the one its key ends with, unless given."""
        inner = self.inner(key)
        inner.only("value", "low", "high", "source", "where", "note")
        value = inner.plain("value")
        low, high = inner.plain("low", value), inner.plain("high", value)
        if not low <= value <= high:
            found = f"expected low <= value <= high, found {low:g}, {value:g}, {high:g}"
            raise inner.fault("low", found, "put them in order")
        if above_zero and low <= 0:
            raise inner.fault("low", f"expected a band above 0, found {low:g}", "give a band above 0")
        return Sourced(
            value, low, high, unit or inner.unit_by_name(key), inner.source(),
            inner.get("where", str, ""), inner.get("note", str, ""),
        )  # fmt: skip

    def maybe_number(self, key: str, unit: str | None = None) -> Sourced | None:
        """A sourced number where the key is there."""
        return self.number(key, unit) if key in self.held else None

    def numbers(self, key: str) -> dict[str, Sourced]:
        """Every sourced number of the table at a key; missing means none."""
        if key not in self.held:
            return {}
        inner = self.inner(key)
        return {name: inner.number(name) for name in inner.held}

    def plain(self, key: str, otherwise: float | None = None) -> float:
        """A bare, finite number."""
        value = self.held.get(key, otherwise)
        if not isinstance(value, (int, float)) or isinstance(value, bool) or not math.isfinite(value):
            raise self.fault(key, "expected a number", f"give {key} as a number")
        return float(value)

    def source(self) -> str:
        """The key of the source that this table names."""
        key = self.get("source", str)
        if key not in self.sources:
            raise self.fault("source", f"“{key}” is not in sources.toml", "name a source that is there")
        return key

    def unit_by_name(self, key: str) -> str:
        """The unit that a number's key ends with."""
        if key in PRICED:
            return "currency"
        unit = unit_of(key)
        if unit is not None:
            return unit.suffix
        last = key.rsplit("_", 1)[-1]
        if last in DIMENSIONLESS or last in BY_SUFFIX:
            return last
        found = f"the name “{key}” does not end with a unit"
        raise self.fault("", found, "name the unit in the key, such as _mm, _c or _ratio")
