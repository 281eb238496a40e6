"""The hot end cut into cells along the feed axis: what each holds, conducts and loses.

Two temperatures a cell: the wall (sink, neck or block with the liner that touches it) and the filament in it.
Equations and limits: docs/models/heat.md.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd, heat_j_m3k, polymer_of
from feedwright.errors import OutOfRange
from feedwright.physics.air import Floats, still_air

SLUG_NUSSELT = 5.783186
"""Heat into a plug sliding through a warm tube: the square of the first zero of J0 (Incropera, transient cylinder)."""
ISOTHERMAL_W_M_K = 10.0
"""Conductivity × section of the block: so much more than the neck's that the block is of one temperature."""
GAP_AIR_W_MK = 0.03
"""Air in the clearances, near 80 °C (CoolProp 8.0.0)."""


@dataclass(frozen=True, slots=True, eq=False)
class HeatPath:
    """The cells from the top of the sink down; arrays of shape (n,), links of shape (n − 1,)."""

    z_mm: Floats
    width_mm: Floats
    wall_j_k: Floats
    wall_link_w_k: Floats
    core_j_k: Floats
    core_link_w_k: Floats
    cross_w_k: Floats
    """Between wall and filament."""
    forced_w_k: Floats
    """To the air with a healthy fan."""
    still_m2: Floats
    """Envelope that still air and radiation cool once the fan stops."""
    fixed_w_k: Floats
    """To the air, fan or no fan."""
    heated: Floats
    """1 where the heater holds the wall, else 0."""
    stream_w_k: float
    """Heat the moving filament carries per kelvin: density × heat capacity × flow."""
    ambient_c: float
    still_c: Floats
    """Surface temperatures of the still-air table ..."""
    still_w_m2k: Floats
    """... and its heat transfer there."""
    liner_end: int
    """Cell at the liner's hot end."""
    neck_top: int
    """Lowest cell of the sink."""
    block_top_mm: float


def finned_area_m2(hot_end: HotEnd) -> tuple[float, float]:
    """Area of one fin (two faces and rim) and of fins and bare root together, in m²."""
    root_m, tip_m = hot_end.sink_root_mm.value / 1000, hot_end.sink_tip_mm.value / 1000
    thick_m, count = hot_end.fin_thickness_mm.value / 1000, hot_end.fins_count.value
    fin_m2 = math.pi / 2 * (tip_m**2 - root_m**2) + math.pi * tip_m * thick_m
    root_m2 = math.pi * root_m * (hot_end.sink_height_mm.value / 1000 - count * thick_m)
    return fin_m2, count * fin_m2 + root_m2


def envelope_m2(hot_end: HotEnd) -> float:
    """Outer cylinder of the sink with both ends: between close fins still air does not move, so only this cools."""
    tip_m, height_m = hot_end.sink_tip_mm.value / 1000, hot_end.sink_height_mm.value / 1000
    return math.pi * tip_m * height_m + math.pi / 2 * tip_m**2


def sink_w_k(hot_end: HotEnd, h_w_m2k: float) -> float:
    """Heat an array of annular fins gives off per kelvin: ``G = η₀ h A``, ``η₀ = 1 − (N A_f / A)(1 − η)``.

    Fin efficiency η: Kern & Kraus 1972, annular fin of constant thickness, through the library ht.
    """
    import ht

    fin_m2, all_m2 = finned_area_m2(hot_end)
    efficiency = ht.fin_efficiency_Kern_Kraus(
        hot_end.sink_root_mm.value / 1000, hot_end.sink_tip_mm.value / 1000, hot_end.fin_thickness_mm.value / 1000,
        hot_end.sink_conductivity_w_mk.value, h_w_m2k,
    )  # fmt: skip
    overall = 1 - hot_end.fins_count.value * fin_m2 / all_m2 * (1 - float(efficiency))
    return overall * h_w_m2k * all_m2


def sink_j_k(hot_end: HotEnd) -> float:
    """Heat capacity of the sink's metal."""
    root_mm, tip_mm = hot_end.sink_root_mm.value, hot_end.sink_tip_mm.value
    core_mm3 = math.pi / 4 * (root_mm**2 - hot_end.sink_bore_mm.value**2) * hot_end.sink_height_mm.value
    fins_mm3 = hot_end.fins_count.value * math.pi / 4 * (tip_mm**2 - root_mm**2) * hot_end.fin_thickness_mm.value
    density, capacity = hot_end.sink_density_kg_m3.value, hot_end.sink_heat_capacity_j_kgk.value
    return (core_mm3 + fins_mm3) * 1e-9 * density * capacity


def heat_path(
    hot_end: HotEnd,
    material: Material,
    *,
    flow_mm3_s: float = 0.0,
    ambient_c: float = 22.0,
    filament_mm: float = 1.75,
    cells_per_mm: float = 2.0,
) -> HeatPath:
    """The cells of a hot end with a filament moving through it.

    ``ambient_c`` is the air around the hot end (an enclosure runs at 40 to 60 °C); flow 0 = filament standing.
    Raises OutOfRange for an ambient, flow or diameter beyond what the model was checked for.
    """
    within("ambient_c", ambient_c, -20.0, 100.0)
    within("flow_mm3_s", flow_mm3_s, 0.0, 60.0)
    within("filament_mm", filament_mm, 1.0, 3.5)
    polymer = polymer_of(material)
    zones = _zones(hot_end, polymer.conductivity_w_mk.value, filament_mm)
    counts = [max(4, math.ceil(zone.length_mm * cells_per_mm)) for zone in zones]

    def spread(values: list[float]) -> Floats:
        return np.repeat(np.array(values), counts)

    width_mm = spread([zone.length_mm / count for zone, count in zip(zones, counts, strict=True)])
    width_m = width_mm / 1000
    ends_mm = np.cumsum(width_mm)
    heated = spread([zone.part == "block" for zone in zones])
    sink_share = spread([zone.part == "sink" for zone in zones]) * width_mm / hot_end.sink_height_mm.value
    core_m2 = math.pi / 4 * filament_mm**2 * 1e-6
    core_j_m3k = heat_j_m3k(material)
    still_c, still_w_m2k = still_air(ambient_c, hot_end.sink_height_mm.value, hot_end.emissivity_frac.value)
    z_mm = ends_mm - width_mm / 2
    return HeatPath(
        z_mm=z_mm,
        width_mm=width_mm,
        wall_j_k=spread([zone.wall_j_mk for zone in zones]) * width_m,
        wall_link_w_k=_links(spread([zone.wall_w_m_k for zone in zones]), width_m),
        core_j_k=core_j_m3k * core_m2 * width_m,
        core_link_w_k=_links(np.full(len(width_m), polymer.conductivity_w_mk.value * core_m2), width_m),
        cross_w_k=spread([zone.cross_w_mk for zone in zones]) * width_m,
        forced_w_k=sink_w_k(hot_end, hot_end.fan_h_w_m2k.value) * sink_share,
        still_m2=envelope_m2(hot_end) * sink_share,
        fixed_w_k=hot_end.block_loss_w_k.value * heated * width_mm / hot_end.block_length_mm.value,
        heated=heated,
        stream_w_k=core_j_m3k * flow_mm3_s * 1e-9,
        ambient_c=ambient_c,
        still_c=still_c,
        still_w_m2k=still_w_m2k,
        liner_end=int(np.searchsorted(ends_mm, hot_end.liner_reach_mm.value - 1e-6)),
        neck_top=int(np.searchsorted(ends_mm, hot_end.sink_height_mm.value - 1e-6)),
        block_top_mm=hot_end.path_mm - hot_end.block_length_mm.value,
    )


@dataclass(frozen=True, slots=True)
class _Zone:
    """A length over which nothing changes; wall figures are per metre of length."""

    part: str
    length_mm: float
    wall_w_m_k: float
    """Conductivity × section, W m/K."""
    wall_j_mk: float
    cross_w_mk: float


def _zones(hot_end: HotEnd, core_w_mk: float, filament_mm: float) -> list[_Zone]:
    sink_mm, total_mm = hot_end.sink_height_mm.value, hot_end.path_mm
    neck_mm, reach_mm = sink_mm + hot_end.neck_length_mm.value, hot_end.liner_reach_mm.value
    melt_mm = total_mm - hot_end.melt_length_mm.value
    cuts = sorted({0.0, sink_mm, neck_mm, total_mm, min(reach_mm, total_mm), melt_mm})
    found = []
    for top_mm, end_mm in pairwise(cuts):
        middle_mm = (top_mm + end_mm) / 2
        part = "sink" if middle_mm < sink_mm else "neck" if middle_mm < neck_mm else "block"
        lined, melt = middle_mm < reach_mm, middle_mm > melt_mm
        conducts, holds = _wall(hot_end, part)
        if lined:
            area_m2 = ring_m2(hot_end.liner_outer_mm.value, hot_end.liner_bore_mm.value)
            conducts += area_m2 * hot_end.liner_conductivity_w_mk.value
            holds += area_m2 * hot_end.liner_density_kg_m3.value * hot_end.liner_heat_capacity_j_kgk.value
        cross = _cross(hot_end, core_w_mk, filament_mm, lined=lined, melt=melt, part=part)
        found.append(_Zone(part, end_mm - top_mm, conducts, holds, cross))
    return found


def ring_m2(outer_mm: float, inner_mm: float) -> float:
    """Section of a tube, ``π/4 (Do² − Di²)``, in m²."""
    return math.pi / 4 * (outer_mm**2 - inner_mm**2) * 1e-6


def _wall(hot_end: HotEnd, part: str) -> tuple[float, float]:
    """Conductivity × section (W m/K) and heat capacity (J/(m K)) of the metal alone."""
    if part == "sink":
        ring = ring_m2(hot_end.sink_root_mm.value, hot_end.sink_bore_mm.value)
        return ring * hot_end.sink_conductivity_w_mk.value, sink_j_k(hot_end) / hot_end.sink_height_mm.value * 1000
    if part == "neck":
        ring = ring_m2(hot_end.neck_outer_mm.value, hot_end.neck_bore_mm.value)
        holds = hot_end.neck_density_kg_m3.value * hot_end.neck_heat_capacity_j_kgk.value
        return ring * hot_end.neck_conductivity_w_mk.value, ring * holds
    return ISOTHERMAL_W_M_K, hot_end.block_j_k.value / hot_end.block_length_mm.value * 1000


def _cross(hot_end: HotEnd, core_w_mk: float, filament_mm: float, *, lined: bool, melt: bool, part: str) -> float:
    """Between wall and filament per metre: the resistances of filament, clearance, liner and its fit in series."""
    resistance = 1 / (SLUG_NUSSELT * math.pi * core_w_mk)
    if melt and not lined:
        return 1 / resistance
    bore_mm = hot_end.liner_bore_mm.value if lined else hot_end.neck_bore_mm.value
    resistance += _shell(bore_mm, filament_mm, GAP_AIR_W_MK)
    if lined:
        seat_mm = hot_end.sink_bore_mm.value if part == "sink" else hot_end.neck_bore_mm.value
        resistance += _shell(hot_end.liner_outer_mm.value, bore_mm, hot_end.liner_conductivity_w_mk.value)
        resistance += _shell(seat_mm, hot_end.liner_outer_mm.value, GAP_AIR_W_MK)
    return 1 / resistance


def _shell(outer_mm: float, inner_mm: float, conducts_w_mk: float) -> float:
    return math.log(max(1.0, outer_mm / inner_mm)) / (2 * math.pi * conducts_w_mk)


def _links(conducts_w_m_k: Floats, width_m: Floats) -> Floats:
    """Two half cells in series: the flow is exact where the conductivity jumps at a face."""
    half = width_m / (2 * conducts_w_m_k)
    return 1 / (half[:-1] + half[1:])


def within(quantity: str, value: float, low: float, high: float, *, remedy: str = "") -> float:
    """The value, if it lies in the range (NaN does not); else OutOfRange."""
    if not low <= value <= high:
        raise OutOfRange(quantity, value, low, high, remedy=remedy)
    return value
