"""Hot ends, drives and polymers as the physics room needs them: geometry, heat numbers, strength.

Kept apart from the wear part of the catalogue: a wear part's life is learned, these numbers are measured or looked up.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from typing import Any, TypeVar, cast

from feedwright.catalogue.entry import Material, Source, Sourced, SourceKind
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.table import Table
from feedwright.errors import BadEntry, NotFound


@dataclass(frozen=True, slots=True)
class HotEnd:
    """One kind of hot end along the feed axis: finned sink, neck of the heat break, heated block with the nozzle."""

    id: str
    title: str
    lined: bool
    """True where the liner runs down to the nozzle."""
    sink_height_mm: Sourced
    sink_root_mm: Sourced
    """Outer diameter of the sink's core, at the root of the fins."""
    sink_tip_mm: Sourced
    sink_bore_mm: Sourced
    fins_count: Sourced
    fin_thickness_mm: Sourced
    sink_conductivity_w_mk: Sourced
    sink_density_kg_m3: Sourced
    sink_heat_capacity_j_kgk: Sourced
    emissivity_frac: Sourced
    fan_h_w_m2k: Sourced
    """Heat transfer at the fins with a healthy fan."""
    neck_length_mm: Sourced
    neck_outer_mm: Sourced
    neck_bore_mm: Sourced
    neck_conductivity_w_mk: Sourced
    neck_density_kg_m3: Sourced
    neck_heat_capacity_j_kgk: Sourced
    block_length_mm: Sourced
    """Heated length, the nozzle included."""
    block_j_k: Sourced
    """Heat capacity of block and nozzle."""
    block_loss_w_k: Sourced
    """Heat lost from block and nozzle to the air, fan or no fan."""
    liner_outer_mm: Sourced
    liner_bore_mm: Sourced
    liner_reach_mm: Sourced
    """How far the liner reaches, counted from the top of the sink."""
    liner_conductivity_w_mk: Sourced
    liner_density_kg_m3: Sourced
    liner_heat_capacity_j_kgk: Sourced
    liner_caution_c: Sourced
    liner_limit_c: Sourced
    fume_c: Sourced
    """Fluoropolymer gives off hazardous fumes from here."""
    melt_length_mm: Sourced
    """Length over which the filament touches hot metal before the cone."""
    melt_bore_mm: Sourced
    cone_half_angle_deg: Sourced
    orifice_mm: Sourced
    land_mm: Sourced
    """Length of the orifice."""

    @property
    def path_mm(self) -> float:
        """Length from the top of the sink to the end of the heated part."""
        return self.sink_height_mm.value + self.neck_length_mm.value + self.block_length_mm.value


@dataclass(frozen=True, slots=True)
class Drive:
    """One kind of drive with the guide tube behind it, as it comes."""

    id: str
    title: str
    tube_length_mm: Sourced
    tube_bend_deg: Sourced
    """All bends added up, whichever way they turn."""
    tube_radius_mm: Sourced
    """Radius of its tightest bend."""
    tube_bore_mm: Sourced
    coupler_play_mm: Sourced
    gap_mm: Sourced
    """Filament that nothing guides, between gear and tube."""
    grip_n: Sourced
    """Push at which a sharp gear starts to slip."""
    gear_radius_mm: Sourced
    """Effective radius: teeth sink in."""
    motor_torque_nmm: Sourced
    spool_pull_n: Sourced
    force_scale_ratio: Sourced
    """Measured push over reckoned push: c of F = c F_model + F0."""
    force_offset_n: Sourced
    """F0 of the same: what the filament resists before it flows."""
    grip_share: dict[str, Sourced]
    """Share of the grip left, by grade of the drive gear."""
    friction: dict[str, Sourced]
    """Friction of filament in the tube, by grade of the guide tube."""


@dataclass(frozen=True, slots=True)
class Polymer:
    """What the physics needs of a plain polymer beyond its catalogue material."""

    id: str
    conductivity_w_mk: Sourced
    heat_capacity_j_kgk: Sourced
    softens_c: Sourced
    """From here filament swells and sticks when pushed: glass transition, or softening of a crystalline polymer."""
    flows_c: Sourced
    """The core must be at least this warm to pass an orifice."""
    flow_activation_ev: Sourced
    """Activation energy of viscous flow, per chain segment."""
    yield_mpa: Sourced


@dataclass(frozen=True, slots=True)
class FeedPathKinds:
    """All that ``hot_ends.toml`` holds."""

    hot_ends: dict[str, HotEnd]
    drives: dict[str, Drive]
    polymers: dict[str, Polymer]
    sources: dict[str, Source]
    """The sources named there, those of the wear catalogue included."""


Kind = TypeVar("Kind", HotEnd, Drive, Polymer)


@cache
def load_hot_ends() -> FeedPathKinds:
    """Hot ends, drives and polymers shipped with this version; raises BadEntry where one is at fault."""
    folder = files("feedwright.catalogue")
    texts = {name: folder.joinpath(name).read_bytes() for name in ("hot_ends.toml", "sources_physics.toml")}
    return parse_hot_ends(texts, load_catalogue().sources)


def parse_hot_ends(texts: Mapping[str, bytes], shared_sources: Mapping[str, Source]) -> FeedPathKinds:
    """The same from the bytes of the two files, by file name."""
    named = _read("sources_physics.toml", texts, {})
    sources = {**shared_sources, **{key: _source(named.inner(key), key) for key in named.held}}
    table = _read("hot_ends.toml", texts, sources)
    table.only("hot_end", "drive", "polymer")
    return FeedPathKinds(
        hot_ends=_each(table, "hot_end", HotEnd),
        drives=_each(table, "drive", Drive),
        polymers=_each(table, "polymer", Polymer),
        sources=sources,
    )


def hot_end_of(hot_end_id: str) -> HotEnd:
    """A hot end by id."""
    return _known("hot end", hot_end_id, load_hot_ends().hot_ends)


def drive_of(drive_id: str) -> Drive:
    """A drive by id."""
    return _known("drive", drive_id, load_hot_ends().drives)


def polymer_of(material: Material) -> Polymer:
    """The plain polymer that a material is made of."""
    return _known("polymer", material.polymer, load_hot_ends().polymers)


def heat_j_m3k(material: Material) -> float:
    """Heat capacity by volume. A filler is taken to hold as much by volume as the polymer it displaces."""
    plain = load_catalogue().materials[material.polymer]
    return plain.density_g_cm3.value * 1000 * polymer_of(material).heat_capacity_j_kgk.value


Held = TypeVar("Held")


def _known(what: str, key: str, held: Mapping[str, Held]) -> Held:
    if key not in held:
        raise NotFound(f"{what} “{key}”", expected=f"one of {', '.join(held)}", remedy="name one of these")
    return held[key]


def _read(name: str, texts: Mapping[str, bytes], sources: Mapping[str, Source]) -> Table:
    try:
        return Table(tomllib.loads(texts[name].decode()), name, "", sources)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadEntry(name, expected=str(error), remedy="correct the file") from error


def _source(table: Table, key: str) -> Source:
    return Source(
        key, table.one_of("kind", SourceKind), table.get("title", str), int(table.plain("year", 0)) or None,
        table.get("identifier", str, ""),
    )  # fmt: skip


def _each(root: Table, key: str, kind: type[Kind]) -> dict[str, Kind]:
    held = root.inner(key)
    return {name: _kind(kind, name, held.inner(name)) for name in held.held}


def _kind(kind: type[Kind], name: str, table: Table) -> Kind:
    """Every field by its type: a sourced number, numbers by grade of a part, a text, a yes or no."""
    table.only(*Table.keys_of(kind))
    values: dict[str, Any] = {"id": name}
    for field in fields(kind):
        if field.type is Sourced:
            values[field.name] = table.number(field.name)
        elif field.type in (str, bool) and field.name != "id":
            values[field.name] = table.get(field.name, cast(type, field.type))
        elif field.name != "id":
            inner = table.inner(field.name)
            values[field.name] = {grade: inner.number(grade, "ratio") for grade in inner.held}
    return kind(**values)
