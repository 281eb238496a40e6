"""The laws of wear: what a stretch of printing takes out of each part, in the part's own unit.

Every law is additive over stretches and linear in copies, so that a run's charge may be added, taken back
and counted again. A law is a function of this file; the catalogue names it and gives its numbers.
"""

import hashlib
import math
from collections.abc import Mapping

from feedwright.catalogue.entry import Catalogue, Material, PartKind
from feedwright.toolpath.values import Stretch
from feedwright.wear.values import Share, Surroundings

BOLTZMANN_EV_K = 8.617333262e-5
"""CODATA 2018, in eV per kelvin."""
KELVIN_AT_0_C = 273.15

Numbers = Mapping[str, float]
Parts = list[tuple[str, float]]
"""What brought an exposure, in words, and how much of it each brought."""


def arrhenius_factor(at_c: float, reference_c: float, activation_ev: float) -> float:
    """How much faster a thermally driven ageing runs at one temperature than at another.

    ``AF = exp(Ea/kB (1/T_ref - 1/T))``, temperatures in kelvin inside. Source: NIST/SEMATECH e-Handbook of
    Statistical Methods, section 8.1.5.1, Arrhenius.

    >>> round(arrhenius_factor(260, 240, 0.8), 6)
    1.971238
    """
    at_kelvin, reference_kelvin = at_c + KELVIN_AT_0_C, reference_c + KELVIN_AT_0_C
    return math.exp(activation_ev / BOLTZMANN_EV_K * (1 / reference_kelvin - 1 / at_kelvin))


def arrhenius_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Hours at each nozzle temperature, reckoned at the reference temperature."""
    return [
        (
            f"{seconds / 3600:,.0f} h at {at_c:.0f} °C",
            seconds / 3600 * arrhenius_factor(at_c, numbers["reference_c"], numbers["activation_ev"]),
        )
        for at_c, seconds in stretch.nozzle_s
    ]


def filament_kg(stretch: Stretch, around: Surroundings, material: Material) -> float:
    """Mass of the filament that was used up."""
    area_mm2 = math.pi / 4 * around.filament_diameter_mm**2
    return stretch.filament_net_mm * area_mm2 * material.density_g_cm3.value * 1e-6


def abrasive_mass(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Kilograms printed, times what the material wears over the plain polymer."""
    kg = max(0.0, filament_kg(stretch, around, material))
    return [(f"{kg:,.2f} kg of {material.title}", kg * material.abrasive_ratio.value)]


def filament_length(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Metres through the tube either way; abrasive materials count for part of their abrasiveness."""
    metres = (stretch.filament_forward_mm + stretch.filament_back_mm) / 1000
    weight = 1 + numbers["share_of_abrasive_frac"] * (material.abrasive_ratio.value - 1)
    return [(f"{metres:,.0f} m of {material.title}", metres * weight)]


def reversal_count(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Turns of the feed from forward to back."""
    return [(f"{stretch.reversals:,.0f} retractions", stretch.reversals)]


def drive_travel(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Metres over the gear either way, each reversal costing some more."""
    metres = (stretch.filament_forward_mm + stretch.filament_back_mm) / 1000
    return [
        (f"{metres:,.0f} m of filament", metres),
        (f"{stretch.reversals:,.0f} retractions", stretch.reversals * numbers["m_per_reversal_m"]),
    ]


def _fan_factor(numbers: Numbers, around: Surroundings) -> float:
    """Ageing of a fan's bearing by the warmth of its air: a fixed ratio for every 10 K."""
    warmer_dk = max(0.0, around.ambient_c - 22.0)
    return float(numbers["ratio_per_10k_ratio"] ** ((numbers["running_c"] + warmer_dk - numbers["reference_c"]) / 10))


def warm_fan_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Hours of the sink fan, which turns whenever the nozzle is hot or heating."""
    hours = (stretch.hot_s + stretch.heating_s) / 3600
    return [(f"{hours:,.0f} h with the nozzle hot", hours * _fan_factor(numbers, around))]


def part_fan_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Hours of the part-cooling fan, counted as at full speed."""
    hours = stretch.part_fan_s / 3600
    return [(f"{hours:,.0f} h at full speed", hours * _fan_factor(numbers, around))]


def powered_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Hours the machine was busy."""
    hours = stretch.duration_s / 3600
    return [(f"{hours:,.0f} h of running", hours * _fan_factor(numbers, around))]


def heat_cycles(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Hot hours, and heat-ups each counted as several."""
    hours = (stretch.hot_s + stretch.heating_s) / 3600
    return [
        (f"{hours:,.0f} h hot", hours),
        (f"{stretch.nozzle_heat_ups:,.0f} heat-ups", stretch.nozzle_heat_ups * numbers["hours_per_cycle_h"]),
    ]


def bed_hours(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Hours of warm bed, and prints started and removed each counted as several."""
    hours = sum(seconds for _, seconds in stretch.bed_s) / 3600
    prints = max(stretch.bed_heat_ups, stretch.nozzle_heat_ups)
    return [
        (f"{hours:,.0f} h of warm bed", hours),
        (f"{prints:,.0f} prints started", prints * numbers["hours_per_print_h"]),
    ]


def axis_travel(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Kilometres the axes moved, each axis by its share."""
    travel = (("X", stretch.travel_x_mm), ("Y", stretch.travel_y_mm), ("Z", stretch.travel_z_mm))
    return [
        (f"{mm / 1e6:,.1f} km along {axis}", mm / 1e6 * numbers[f"share_{axis.lower()}_frac"]) for axis, mm in travel
    ]


def screw_travel(stretch: Stretch, numbers: Numbers, around: Surroundings, material: Material) -> Parts:
    """Metres the screw lifted and lowered."""
    metres = stretch.travel_z_mm / 1000
    return [(f"{metres:,.1f} m up and down", metres)]


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


def _parts(kind: PartKind, stretch: Stretch, around: Surroundings, material: Material) -> Parts:
    numbers = {name: sourced.value for name, sourced in kind.exposure.numbers.items()}
    return LAWS[kind.exposure.law](stretch, numbers, around, material)


def exposure_of(kind: PartKind, stretch: Stretch, around: Surroundings, material: Material) -> float:
    """What a stretch of printing takes out of a part of this kind, in the kind's own unit."""
    return math.fsum(amount for _, amount in _parts(kind, stretch, around, material))


def drivers_of(
    kind: PartKind, charges: Mapping[str, Stretch], around: Surroundings, materials: Mapping[str, Material]
) -> tuple[Share, ...]:
    """What brought the exposure, the largest first; ``charges`` maps each material to all printed with it."""
    brought: dict[str, float] = {}
    for material_id, stretch in charges.items():
        for words, amount in _parts(kind, stretch, around, materials[material_id]):
            brought[words] = brought.get(words, 0.0) + amount
    total = math.fsum(brought.values())
    ranked = sorted(brought.items(), key=lambda pair: -pair[1])
    return tuple(Share(words, amount, amount / total) for words, amount in ranked if amount > 0.02 * total)


def law_key(kind: PartKind, catalogue: Catalogue) -> str:
    """A short digest of all that a kept total of this part kind was computed from."""
    numbers = sorted((name, sourced.value) for name, sourced in kind.exposure.numbers.items())
    weights = sorted((m.id, m.abrasive_ratio.value, m.density_g_cm3.value) for m in catalogue.materials.values())
    return hashlib.sha256(repr((kind.exposure.law, numbers, weights)).encode()).hexdigest()[:16]
