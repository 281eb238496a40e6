"""Reading the catalogue's TOML files into typed entries, once per process.

A fault names its file and the path of the table, such as ``parts_feed.toml: nozzle.life.median``.
"""

import hashlib
import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files

from feedwright.catalogue.entry import (
    EXPOSURE_LAWS,
    BedShape,
    Build,
    Catalogue,
    Distribution,
    Drive,
    Exposure,
    Failure,
    Figures,
    FitsDrive,
    FitsHotEnd,
    FlowLaw,
    Frame,
    Grade,
    HotEnd,
    Life,
    Material,
    PartKind,
    Place,
    Product,
    Renewal,
    Rheology,
    Source,
    SourceKind,
)
from feedwright.catalogue.table import E, Table
from feedwright.errors import BadEntry

PART_FILES = ("parts_feed.toml", "parts_machine.toml")
FILES = ("sources.toml", "materials.toml", *PART_FILES, "builds.toml", "figures.toml")
EXPOSURE_UNIT = "exposure"
"""Unit of a life: the part's own exposure unit."""


@cache
def load_catalogue() -> Catalogue:
    """The catalogue shipped with this version; raises BadEntry where an entry is at fault."""
    texts = {name: files("feedwright.catalogue").joinpath(name).read_bytes() for name in FILES}
    return parse_catalogue(texts)


def parse_catalogue(texts: Mapping[str, bytes]) -> Catalogue:
    """The catalogue from the bytes of its files, by file name."""
    sources = _entries(_read("sources.toml", texts, {}), _source)
    materials = _entries(_read("materials.toml", texts, sources), _material)
    for material in materials.values():
        if material.polymer not in materials:
            raise BadEntry("materials.toml", place=f"{material.id}.polymer",
                           expected=f"no material “{material.polymer}”", remedy="name one that is there")  # fmt: skip
    parts: dict[str, PartKind] = {}
    for name in PART_FILES:
        more = _entries(_read(name, texts, sources), _part)
        for twice in parts.keys() & more.keys():
            raise BadEntry(name, place=twice, expected="a part kind of that id is there already", remedy="rename one")
        parts |= more
    figures = _read("figures.toml", texts, sources)
    figures.only(*Table.keys_of(Figures))
    return Catalogue(
        parts=parts,
        materials=materials,
        builds=_entries(_read("builds.toml", texts, sources), lambda table, key: _build(table, key, parts)),
        figures=Figures(figures.get("currency", str), figures.numbers("numbers")),
        sources=sources,
        digest=hashlib.sha256(b"".join(texts[name] for name in sorted(texts))).hexdigest(),
    )


def _read(name: str, texts: Mapping[str, bytes], sources: Mapping[str, Source]) -> Table:
    try:
        return Table(tomllib.loads(texts[name].decode()), name, "", sources)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadEntry(name, expected=str(error), remedy="correct the file") from error


def _entries(table: Table, make: Callable[[Table, str], E]) -> dict[str, E]:
    return {key: make(table.inner(key), key) for key in table.held}


def _source(table: Table, key: str) -> Source:
    table.only(*Table.keys_of(Source))
    return Source(
        key=key,
        kind=table.one_of("kind", SourceKind),
        title=table.get("title", str),
        year=table.get("year", int) if "year" in table.held else None,
        identifier=table.get("identifier", str, ""),
    )


def _material(table: Table, key: str) -> Material:
    table.only(*Table.keys_of(Material))
    return Material(
        id=key,
        title=table.get("title", str),
        polymer=table.get("polymer", str),
        filler=table.get("filler", str, ""),
        nozzle_c=table.number("nozzle_c"),
        bed_c=table.number("bed_c"),
        glass_c=table.number("glass_c"),
        density_g_cm3=table.number("density_g_cm3", above_zero=True),
        abrasive_ratio=table.number("abrasive_ratio", above_zero=True),
        modulus_mpa=table.number("modulus_mpa", above_zero=True),
        rheology=_rheology(table.inner("rheology")),
        enclosure=table.get("enclosure", bool),
        moisture=table.get("moisture", str),
    )


def _rheology(table: Table) -> Rheology:
    table.only(*Table.keys_of(Rheology))
    return Rheology(
        law=table.one_of("law", FlowLaw),
        at_c=table.plain("at_c") if "at_c" in table.held else None,
        constants=table.numbers("constants"),
    )


def _part(table: Table, key: str) -> PartKind:
    table.only(*Table.keys_of(PartKind))
    return PartKind(
        id=key,
        title=table.get("title", str),
        place=table.one_of("place", Place),
        does=table.get("does", str),
        drive=table.one_of("drive", FitsDrive, "any"),
        hot_end=table.one_of("hot_end", FitsHotEnd, "any"),
        exposure=_exposure(table.inner("exposure")),
        life=_life(table.inner("life")),
        grades=table.each("grades", _grade),
        products=table.each("products", _product),
        failures=table.each("failures", _failure),
        renewal=_renewal(table.inner("renewal")),
        spoils_frac=table.number("spoils_frac"),
        look_for=table.words("look_for"),
        cautions=table.words("cautions"),
    )


def _exposure(table: Table) -> Exposure:
    table.only(*Table.keys_of(Exposure))
    law, numbers = table.get("law", str), table.numbers("numbers")
    if law not in EXPOSURE_LAWS:
        raise table.fault("law", f"no law “{law}”", f"use one of {', '.join(EXPOSURE_LAWS)}")
    if set(numbers) != set(EXPOSURE_LAWS[law]):
        asked = ", ".join(EXPOSURE_LAWS[law]) or "none"
        raise table.fault("numbers", f"{law} asks for {asked}, found {', '.join(numbers) or 'none'}", "give just those")
    return Exposure(law, table.get("unit", str), table.get("unit_words", str), numbers)


def _life(table: Table) -> Life:
    table.only(*Table.keys_of(Life))
    return Life(
        distribution=table.one_of("distribution", Distribution, "weibull"),
        median=table.number("median", EXPOSURE_UNIT, above_zero=True),
        shape=table.number("shape", "ratio", above_zero=True),
    )


def _renewal(table: Table) -> Renewal:
    table.only(*Table.keys_of(Renewal))
    return Renewal(
        title=table.get("title", str),
        minutes=table.number("minutes"),
        parts_cost=table.number("parts_cost", "currency"),
        parts=table.words("parts"),
        tools=table.words("tools"),
        heats=table.get("heats", bool),
        needs_tram=table.get("needs_tram", bool),
        trims_mm=table.maybe_number("trims_mm"),
    )


def _grade(table: Table, key: str) -> Grade:
    table.only(*Table.keys_of(Grade))
    low, high = table.plain("life_low_frac"), table.plain("life_high_frac")
    if not 0 <= low < high:
        raise table.fault("life_low_frac", f"expected 0 <= low < high, found {low:g}, {high:g}", "put in order")
    return Grade(
        id=key,
        title=table.get("title", str),
        look=table.get("look", str),
        life_low_frac=low,
        life_high_frac=high,
        failed=table.get("failed", bool, False),
        source=table.source() if "source" in table.held else "assumed",
    )


def _product(table: Table, key: str) -> Product:
    table.only(*Table.keys_of(Product))
    return Product(
        id=key,
        title=table.get("title", str),
        life_ratio=table.number("life_ratio", above_zero=True),
        price=table.maybe_number("price", "currency"),
        nozzle_limit_c=table.maybe_number("nozzle_limit_c"),
    )


def _failure(table: Table, key: str) -> Failure:
    table.only(*Table.keys_of(Failure))
    return Failure(key, table.get("title", str), table.get("shows", str), table.get("hidden", bool, False))


def _build(table: Table, key: str, parts: Mapping[str, PartKind]) -> Build:
    table.only(*Table.keys_of(Build))
    drive, hot_end = table.one_of("drive", Drive), table.one_of("hot_end", HotEnd)
    box_mm = table.get("box_mm", list)
    if len(box_mm) != 3 or not all(isinstance(mm, (int, float)) and mm > 0 for mm in box_mm):
        raise table.fault("box_mm", "expected three lengths above 0", "give width, depth and height")
    return Build(
        id=key,
        title=table.get("title", str),
        frame=table.one_of("frame", Frame),
        drive=drive,
        hot_end=hot_end,
        box_mm=(box_mm[0], box_mm[1], box_mm[2]),
        tube_length_mm=table.plain("tube_length_mm"),
        tube_needed_mm=table.plain("tube_needed_mm"),
        enclosure_c=table.plain("enclosure_c"),
        motion=table.get("motion", dict),
        parts=tuple(_fitted(table, row, parts, drive, hot_end) for row in table.get("parts", list)),
        source=table.source(),
        bed=table.one_of("bed", BedShape, "rectangular"),
    )


def _fitted(table: Table, row: object, parts: Mapping[str, PartKind], drive: str, hot_end: str) -> tuple[str, str, int]:
    match row:
        case [str(part), str(product), int(count)] if count > 0:
            pass
        case _:
            raise table.fault("parts", f"expected [part kind, product, how many], found {row}", "write it so")
    if part not in parts or parts[part].product(product) is None:
        raise table.fault("parts", f"no part kind “{part}” with a product “{product}”", "name one that is there")
    if parts[part].drive not in ("any", drive) or parts[part].hot_end not in ("any", hot_end):
        raise table.fault("parts", f"“{part}” is not found on a {drive} drive, {hot_end} hot end", "leave it out")
    return part, product, count
