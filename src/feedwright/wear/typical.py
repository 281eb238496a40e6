"""What printing usually asks, for runs that were recorded without a file."""

import math

from feedwright.catalogue.entry import Figures, Material
from feedwright.toolpath.values import Stretch


def typical_stretch(
    hours: float,
    nozzle_c: float,
    material: Material,
    filament_g: float | None,
    figures: Figures,
    *,
    filament_diameter_mm: float = 1.75,
) -> Stretch:
    """A stretch of so many hours at that temperature, by the figures' usual flow, reversals and travel.

    Where the filament used is known, it takes the place of the usual flow.
    """
    usual = {name: sourced.value for name, sourced in figures.numbers.items()}
    area_mm2 = math.pi / 4 * filament_diameter_mm**2
    if filament_g is None:
        net_mm = usual["usual_flow_mm3_s"] * hours * 3600 / area_mm2
    else:
        net_mm = filament_g / material.density_g_cm3.value * 1000 / area_mm2
    reversals = usual["usual_reversals_per_h"] * hours
    back_mm = reversals * usual["usual_retraction_mm"]
    seconds = hours * 3600
    return Stretch(
        printing_s=seconds,
        filament_forward_mm=net_mm + back_mm,
        filament_back_mm=back_mm,
        reversals=reversals,
        travel_x_mm=usual["usual_travel_x_m"] * 1000 * hours,
        travel_y_mm=usual["usual_travel_y_m"] * 1000 * hours,
        travel_z_mm=usual["usual_travel_z_m"] * 1000 * hours,
        part_fan_s=usual["usual_part_fan_frac"] * seconds,
        nozzle_heat_ups=1.0 if hours > 0 else 0.0,
        bed_heat_ups=1.0 if hours > 0 else 0.0,
        nozzle_s=((nozzle_c, seconds),) if hours > 0 else (),
        bed_s=((material.bed_c.value, seconds),) if hours > 0 else (),
    )
