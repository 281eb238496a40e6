"""Reading the catalogue's TOML files into typed entries, once per process.

A fault names its file and the path of the table, such as ``parts_feed.toml: nozzle.life.median``.
"""

import hashlib
import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar

from feedwright.catalogue.entry import (
    Build,
    Catalogue,
    Exposure,
    Failure,
    Figures,
    Grade,
    Life,
    Material,
    PartKind,
    Product,
    Renewal,
    Rheology,
    Source,
    Sourced,
)
from feedwright.errors import BadEntry
from feedwright.units import BY_SUFFIX, DIMENSIONLESS, unit_of

E = TypeVar("E")
FILES = ("sources.toml", "materials.toml", "parts_feed.toml", "parts_machine.toml", "builds.toml", "figures.toml")
PRICED = ("labour_per_h", "machine_per_h", "filament_per_kg")
EXPOSURE_UNIT = "exposure"
"""Unit of a life: the part's own exposure unit."""


class Entry:
    """A table of a TOML file with the path that leads to it, so that a fault can say where it is."""

    def __init__(self, table: Mapping[str, Any], path: str, sources: Mapping[str, Source]) -> None:
        self.table, self.path, self.sources = table, path, sources

    def fault(self, key: str, expected: str, remedy: str) -> BadEntry:
        """A refusal at one key of this table."""
        file, _, inner = self.path.partition(": ")
        return BadEntry(file, place=f"{inner}.{key}".lstrip("."), expected=expected, remedy=remedy)

    def get(self, key: str, kind: type[E]) -> E:
        """The value at a key, which must be there and of that kind."""
        if key not in self.table:
            raise self.fault(key, "it is missing", f"add {key}")
        value = self.table[key]
        if not isinstance(value, kind) or (kind is not bool and isinstance(value, bool)):
            raise self.fault(key, f"expected {kind.__name__}, found {type(value).__name__}", "correct the value")
        return value

    def words(self, key: str) -> tuple[str, ...]:
        """A list of texts; missing means none."""
        return tuple(str(word) for word in self.table.get(key, ()))

    def inner(self, key: str) -> "Entry":
        """The table at a key."""
        return Entry(self.get(key, dict), f"{self.path}.{key}", self.sources)

    def each(self, key: str, make: Callable[["Entry", str], E]) -> tuple[E, ...]:
        """An entry made of each table within the table at a key, in order; missing means none."""
        inner = self.table.get(key, {})
        return tuple(
            make(Entry(table, f"{self.path}.{key}.{name}", self.sources), name) for name, table in inner.items()
        )

    def number(self, key: str, unit: str | None = None) -> Sourced:
        """A sourced number; its unit is the one its key ends with, unless given."""
        held = self.inner(key)
        value = held.plain("value")
        low, high = held.plain("low", value), held.plain("high", value)
        if not low <= value <= high:
            raise held.fault(
                "low", f"expected low <= value <= high, found {low:g}, {value:g}, {high:g}", "put in order"
            )
        source = held.get("source", str)
        if source not in self.sources:
            raise held.fault("source", f"“{source}” is not in sources.toml", "name a source that is there")
        return Sourced(
            value, low, high, unit or _unit(held, key), source,
            str(held.table.get("where", "")), str(held.table.get("note", "")),
        )  # fmt: skip

    def maybe_number(self, key: str) -> Sourced | None:
        """A sourced number where the key is there."""
        return self.number(key) if key in self.table else None

    def plain(self, key: str, otherwise: float | None = None) -> float:
        """A bare number."""
        value = self.table.get(key, otherwise)
        if not isinstance(value, (int, float)) or isinstance(value, bool):
            raise self.fault(key, "expected a number", "give a number")
        return float(value)


def _unit(entry: Entry, key: str) -> str:
    if key in PRICED:
        return "currency"
    unit = unit_of(key)
    if unit is not None:
        return unit.suffix
    last = key.rsplit("_", 1)[-1]
    if last in DIMENSIONLESS or last in BY_SUFFIX:
        return last
    raise entry.fault("", f"the name “{key}” does not end with a unit", "name the unit, such as _mm, _c or _ratio")


@cache
def load_catalogue() -> Catalogue:
    """The catalogue shipped with this version; raises BadEntry where an entry is at fault."""
    texts = {name: files("feedwright.catalogue").joinpath(name).read_bytes() for name in FILES}
    return parse_catalogue(texts)


def parse_catalogue(texts: Mapping[str, bytes]) -> Catalogue:
    """The catalogue from the bytes of its files, by file name."""
    held = {name: _toml(name, text) for name, text in texts.items()}
    sources = {key: _source(key, table) for key, table in held["sources.toml"].items()}
    materials = {
        key: _material(Entry(table, f"materials.toml: {key}", sources), key)
        for key, table in held["materials.toml"].items()
    }
    parts = {
        key: _part(Entry(table, f"{name}: {key}", sources), key)
        for name in ("parts_feed.toml", "parts_machine.toml")
        for key, table in held[name].items()
    }
    builds = {
        key: _build(Entry(table, f"builds.toml: {key}", sources), key, parts)
        for key, table in held["builds.toml"].items()
    }
    figures = Entry(held["figures.toml"], "figures.toml: ", sources)
    numbers = figures.inner("numbers")
    return Catalogue(
        parts=parts,
        materials=materials,
        builds=builds,
        figures=Figures(figures.get("currency", str), {key: numbers.number(key) for key in numbers.table}),
        sources=sources,
        digest=hashlib.sha256(b"".join(texts[name] for name in sorted(texts))).hexdigest(),
    )


def _toml(name: str, text: bytes) -> dict[str, Any]:
    try:
        return tomllib.loads(text.decode())
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadEntry(name, expected=str(error), remedy="correct the file") from error


def _source(key: str, table: Mapping[str, Any]) -> Source:
    return Source(key, table["kind"], table["title"], table.get("year"), str(table.get("identifier", "")))


def _material(entry: Entry, key: str) -> Material:
    flow = entry.inner("rheology")
    constants = flow.inner("constants")
    return Material(
        id=key,
        title=entry.get("title", str),
        polymer=entry.get("polymer", str),
        filler=str(entry.table.get("filler", "")),
        nozzle_c=entry.number("nozzle_c"),
        bed_c=entry.number("bed_c"),
        glass_c=entry.number("glass_c"),
        density_g_cm3=entry.number("density_g_cm3"),
        abrasive_ratio=entry.number("abrasive_ratio"),
        modulus_mpa=entry.number("modulus_mpa"),
        rheology=Rheology(
            law=flow.get("law", str),  # type: ignore[arg-type]
            at_c=flow.plain("at_c") if "at_c" in flow.table else None,
            constants={name: constants.number(name) for name in constants.table},
        ),
        enclosure=entry.get("enclosure", bool),
        moisture=entry.get("moisture", str),
    )


def _part(entry: Entry, key: str) -> PartKind:
    exposure, life, renewal = entry.inner("exposure"), entry.inner("life"), entry.inner("renewal")
    numbers = Entry(exposure.table.get("numbers", {}), f"{exposure.path}.numbers", entry.sources)
    return PartKind(
        id=key,
        title=entry.get("title", str),
        place=entry.get("place", str),  # type: ignore[arg-type]
        does=entry.get("does", str),
        drive=entry.table.get("drive", "any"),
        hot_end=entry.table.get("hot_end", "any"),
        exposure=Exposure(
            law=exposure.get("law", str),
            unit=exposure.get("unit", str),
            unit_words=exposure.get("unit_words", str),
            numbers={name: numbers.number(name) for name in numbers.table},
        ),
        life=Life(
            distribution=life.table.get("distribution", "weibull"),
            median=life.number("median", EXPOSURE_UNIT),
            shape=life.number("shape", "ratio"),
        ),
        grades=entry.each("grades", _grade),
        products=entry.each("products", _product),
        failures=entry.each("failures", _failure),
        renewal=Renewal(
            title=renewal.get("title", str),
            minutes=renewal.number("minutes"),
            parts_cost=renewal.number("parts_cost", "currency"),
            parts=renewal.words("parts"),
            tools=renewal.words("tools"),
            heats=renewal.get("heats", bool),
            needs_tram=renewal.get("needs_tram", bool),
            trims_mm=renewal.maybe_number("trims_mm"),
        ),
        spoils_frac=entry.number("spoils_frac"),
        look_for=entry.words("look_for"),
        cautions=entry.words("cautions"),
    )


def _grade(entry: Entry, key: str) -> Grade:
    return Grade(
        id=key,
        title=entry.get("title", str),
        look=entry.get("look", str),
        life_low_frac=entry.plain("life_low_frac"),
        life_high_frac=entry.plain("life_high_frac"),
        failed=bool(entry.table.get("failed", False)),
    )


def _product(entry: Entry, key: str) -> Product:
    return Product(
        id=key,
        title=entry.get("title", str),
        life_ratio=entry.number("life_ratio"),
        price=entry.number("price", "currency") if "price" in entry.table else None,
        nozzle_limit_c=entry.maybe_number("nozzle_limit_c"),
    )


def _failure(entry: Entry, key: str) -> Failure:
    return Failure(key, entry.get("title", str), entry.get("shows", str), bool(entry.table.get("hidden", False)))


def _build(entry: Entry, key: str, parts: Mapping[str, PartKind]) -> Build:
    drive, hot_end = entry.get("drive", str), entry.get("hot_end", str)
    fitted = []
    for part, product, count in entry.get("parts", list):
        if part not in parts or parts[part].product(product) is None:
            raise entry.fault("parts", f"no part kind “{part}” with a product “{product}”", "name one that is there")
        if parts[part].drive not in ("any", drive) or parts[part].hot_end not in ("any", hot_end):
            raise entry.fault("parts", f"“{part}” is not found on a {drive} drive, {hot_end} hot end", "leave it out")
        fitted.append((part, product, count))
    x_mm, y_mm, z_mm = entry.get("box_mm", list)
    return Build(
        id=key,
        title=entry.get("title", str),
        drive=drive,  # type: ignore[arg-type]
        hot_end=hot_end,  # type: ignore[arg-type]
        box_mm=(x_mm, y_mm, z_mm),
        tube_length_mm=entry.plain("tube_length_mm"),
        tube_needed_mm=entry.plain("tube_needed_mm"),
        enclosure_c=entry.plain("enclosure_c"),
        motion=dict(entry.get("motion", dict)),
        parts=tuple(fitted),
        source=entry.get("source", str),
    )
