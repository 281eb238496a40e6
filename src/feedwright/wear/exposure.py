"""The laws of wear: what a stretch of printing takes out of each part, in the part's own unit.

Every law is additive over stretches and linear in copies, so that a run's charge may be added, taken back
and counted again. A law is a function of this file; the catalogue names it and gives its numbers.
"""

import hashlib
import math
from collections.abc import Mapping
from typing import NamedTuple

from feedwright.catalogue.entry import Catalogue, Material, PartKind
from feedwright.toolpath.values import Stretch
from feedwright.units import show_rounded
from feedwright.wear.values import Share, Surroundings

BOLTZMANN_EV_K = 8.617333262e-5
"""CODATA 2018, in eV per kelvin."""
KELVIN_AT_0_C = 273.15
USUAL_AMBIENT_C = 22.0
"""Air around the machine at which a fan's ``running_c`` holds."""
LAWS_EDITION = 2
"""To be raised whenever a law's arithmetic changes, so that kept totals are counted again."""

NEGLIGIBLE_FRAC = 0.02
"""A cause that brought no more than this share is not worth a word."""

Numbers = Mapping[str, float]


class Cause(NamedTuple):
    """One thing that brought exposure: how much of what, and the exposure it brought."""

    quantity: float
    what: str
    """With its unit, to be read after the quantity: 'h at 215 °C'."""
    exposure: float


Causes = list[Cause]


def arrhenius_factor(at_c: float, reference_c: float, activation_ev: float) -> float:
    """How much faster a thermally driven ageing runs at one temperature than at another.

    ``AF = exp(Ea/kB (1/T_ref - 1/T))``, temperatures in kelvin inside. Source: NIST/SEMATECH e-Handbook of
    Statistical Methods, section 8.1.5.1, Arrhenius.

    >>> round(arrhenius_factor(260, 240, 0.8), 6)
    1.971238
    """
    at_kelvin, reference_kelvin = at_c + KELVIN_AT_0_C, reference_c + KELVIN_AT_0_C
    return math.exp(activation_ev / BOLTZMANN_EV_K * (1 / reference_kelvin - 1 / at_kelvin))


def arrhenius_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Hours at each nozzle temperature, reckoned at the reference temperature."""
    return [
        Cause(
            seconds / 3600,
            f"h at {at_c:.0f} °C",
            seconds / 3600 * arrhenius_factor(at_c, numbers["reference_c"], numbers["activation_ev"]),
        )
        for at_c, seconds in stretch.nozzle_s
    ]


def filament_kg(stretch: Stretch, around: Surroundings, material: Material) -> float:
    """Mass of the filament that was used up: forward less back, so that a mere unload counts below 0."""
    area_mm2 = math.pi / 4 * around.filament_diameter_mm**2
    return stretch.filament_net_mm * area_mm2 * material.density_g_cm3.value * 1e-6


def abrasive_mass(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Kilograms printed, times what the material wears over the plain polymer."""
    kg = filament_kg(stretch, around, material)
    return [Cause(kg, f"kg of {material.title}", kg * material.abrasive_ratio.value)]


def filament_length(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Metres through the tube either way; abrasive materials count for part of their abrasiveness."""
    metres = (stretch.filament_forward_mm + stretch.filament_back_mm) / 1000
    weight = 1 + numbers["share_of_abrasive_frac"] * (material.abrasive_ratio.value - 1)
    return [Cause(metres, f"m of {material.title}", metres * weight)]


def reversal_count(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Turns of the feed from forward to back."""
    return [Cause(stretch.reversals, "retractions", stretch.reversals)]


def drive_travel(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Metres over the gear either way, each reversal costing some more."""
    metres = (stretch.filament_forward_mm + stretch.filament_back_mm) / 1000
    return [
        Cause(metres, "m of filament", metres),
        Cause(stretch.reversals, "retractions", stretch.reversals * numbers["m_per_reversal_m"]),
    ]


def _fan_factor(numbers: Numbers, around: Surroundings) -> float:
    """Ageing of a fan's bearing by the warmth of its air: a fixed ratio for every 10 K."""
    warmer_dk = max(0.0, around.ambient_c - USUAL_AMBIENT_C)
    return float(numbers["ratio_per_10k_ratio"] ** ((numbers["running_c"] + warmer_dk - numbers["reference_c"]) / 10))


def warm_fan_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Hours of the sink fan, which turns whenever the nozzle is hot or heating."""
    hours = (stretch.hot_s + stretch.heating_s) / 3600
    return [Cause(hours, "h with the nozzle hot", hours * _fan_factor(numbers, around))]


def part_fan_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Hours of the part-cooling fan, counted as at full speed."""
    hours = stretch.part_fan_s / 3600
    return [Cause(hours, "h at full speed", hours * _fan_factor(numbers, around))]


def powered_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Hours the machine was busy."""
    hours = stretch.duration_s / 3600
    return [Cause(hours, "h of running", hours * _fan_factor(numbers, around))]


def heat_cycles(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Hot hours, and heat-ups each counted as several."""
    hours = (stretch.hot_s + stretch.heating_s) / 3600
    return [
        Cause(hours, "h hot", hours),
        Cause(stretch.nozzle_heat_ups, "heat-ups", stretch.nozzle_heat_ups * numbers["hours_per_cycle_h"]),
    ]


def bed_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Hours of warm bed, and prints each counted as several; every heat-up of the nozzle is taken as a print."""
    hours = sum(seconds for _, seconds in stretch.bed_s) / 3600
    prints = stretch.nozzle_heat_ups
    return [
        Cause(hours, "h of warm bed", hours),
        Cause(prints, "prints started", prints * numbers["hours_per_print_h"]),
    ]


def axis_travel(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Kilometres the axes moved, each axis by its share."""
    travel = (("X", stretch.travel_x_mm), ("Y", stretch.travel_y_mm), ("Z", stretch.travel_z_mm))
    return [
        Cause(mm / 1e6, f"km along {axis}", mm / 1e6 * numbers[f"share_{axis.lower()}_frac"]) for axis, mm in travel
    ]


def screw_travel(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Causes:
    """Metres the screw lifted and lowered."""
    metres = stretch.travel_z_mm / 1000
    return [Cause(metres, "m up and down", metres)]


LAWS = {
    law.__name__: law
    for law in (
        arrhenius_hours,
        abrasive_mass,
        filament_length,
        reversal_count,
        drive_travel,
        warm_fan_hours,
        part_fan_hours,
        powered_hours,
        heat_cycles,
        bed_hours,
        axis_travel,
        screw_travel,
    )
}
"""Every law by its own name, so that a label cannot slip."""


def _causes(kind: PartKind, stretch: Stretch, around: Surroundings, material: Material) -> Causes:
    numbers = {name: sourced.value for name, sourced in kind.exposure.numbers.items()}
    return LAWS[kind.exposure.law](stretch, numbers, around, material)


def exposure_of(kind: PartKind, stretch: Stretch, around: Surroundings, material: Material) -> float:
    """What a stretch of printing takes out of a part of this kind, in the kind's own unit."""
    return math.fsum(cause.exposure for cause in _causes(kind, stretch, around, material))


def drivers_of(
    kind: PartKind, charges: Mapping[str, Stretch], around: Surroundings, materials: Mapping[str, Material]
) -> tuple[Share, ...]:
    """What brought the exposure, the largest first; ``charges`` maps each material to all printed with it."""
    alike: dict[str, Cause] = {}
    for material_id, stretch in charges.items():
        for quantity, what, exposure in _causes(kind, stretch, around, materials[material_id]):
            held = alike.get(what, Cause(0.0, what, 0.0))
            alike[what] = Cause(held.quantity + quantity, what, held.exposure + exposure)
    total = math.fsum(cause.exposure for cause in alike.values())
    return tuple(
        Share(f"{show_rounded(cause.quantity)} {cause.what}", cause.exposure, cause.exposure / total)
        for cause in sorted(alike.values(), key=lambda cause: -cause.exposure)
        if total > 0 and cause.exposure > NEGLIGIBLE_FRAC * total
    )


def law_key(kind: PartKind, catalogue: Catalogue) -> str:
    """A short digest of all that a kept total of this part kind was computed from."""
    numbers = sorted((name, sourced.value) for name, sourced in kind.exposure.numbers.items())
    weights = sorted((m.id, m.abrasive_ratio.value, m.density_g_cm3.value) for m in catalogue.materials.values())
    return hashlib.sha256(repr((LAWS_EDITION, kind.exposure.law, numbers, weights)).encode()).hexdigest()[:16]
