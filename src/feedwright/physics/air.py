"""Still and moving air at the hot end: properties, and how much heat a stopped fan leaves to free air and radiation."""

import math
from functools import cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

KELVIN_AT_0_C = 273.15
GRAVITY_M_S2 = 9.80665
STEFAN_BOLTZMANN_W_M2K4 = 5.670374419e-8

# Dry air at 101 325 Pa: kelvin, kinematic viscosity m²/s, conductivity W/(m K), Prandtl number.
# Source: CoolProp 8.0.0, PropsSI of the fluid 'Air'.
AIR = np.array([
    (250, 1.13479e-05, 0.022564, 0.714711),
    (275, 1.34785e-05, 0.024502, 0.710551),
    (300, 1.57497e-05, 0.026384, 0.707064),
    (325, 1.81556e-05, 0.028217, 0.704193),
    (350, 2.06908e-05, 0.030003, 0.701902),
    (375, 2.33506e-05, 0.031748, 0.700158),
    (400, 2.61308e-05, 0.033453, 0.698932),
    (450, 3.20377e-05, 0.036760, 0.697888),
    (500, 3.83853e-05, 0.039945, 0.698449),
    (550, 4.51518e-05, 0.043024, 0.700258),
    (600, 5.23191e-05, 0.046011, 0.702962),
    (650, 5.98721e-05, 0.048919, 0.706243),
    (700, 6.77977e-05, 0.051755, 0.709836),
])  # fmt: skip
LOG_AIR = np.log(AIR)


def air_at(at_kelvin: float) -> tuple[float, float, float]:
    """Kinematic viscosity (m²/s), conductivity (W/(m K)) and Prandtl number of dry air at 101 325 Pa.

    Straight lines between the logarithms of the rows of :data:`AIR`, 250 to 700 K: within 0.02 % of their source.

    >>> round(air_at(300)[2], 3)
    0.707
    """
    viscosity, conductivity, prandtl = (
        math.exp(np.interp(math.log(at_kelvin), LOG_AIR[:, 0], LOG_AIR[:, i])) for i in (1, 2, 3)
    )
    return viscosity, conductivity, prandtl


def free_h_w_m2k(surface_c: float, ambient_c: float, height_mm: float) -> float:
    """Free convection at an upright surface.

    ``Nu = (0.825 + 0.387 Ra^(1/6) / (1 + (0.492/Pr)^(9/16))^(8/27))²``, ``Ra = g (Ts − Ta) L³ Pr / (T ν²)``, air
    at the mean of surface and ambient. Source: Churchill & Chu 1975, through the library ht. Between close fins
    it does not apply: there the air stands (see docs/models/heat.md), so use it on the envelope.

    >>> round(free_h_w_m2k(60, 25, 26), 2)
    8.08
    """
    import ht

    film_kelvin = (surface_c + ambient_c) / 2 + KELVIN_AT_0_C
    viscosity, conductivity, prandtl = air_at(film_kelvin)
    height_m = height_mm / 1000
    grashof = GRAVITY_M_S2 * abs(surface_c - ambient_c) * height_m**3 / (film_kelvin * viscosity**2)
    return float(ht.Nu_vertical_plate_Churchill(prandtl, grashof)) * conductivity / height_m


def radiation_h_w_m2k(surface_c: float, ambient_c: float, emissivity_frac: float) -> float:
    """Radiation to surroundings at ambient, as heat per area and per kelvin of difference.

    ``h = ε σ (Ts² + Ta²) (Ts + Ta)``, kelvin: the Stefan–Boltzmann law divided by Ts − Ta.

    >>> round(radiation_h_w_m2k(60, 25, 0.85), 4)
    6.0819
    """
    surface, ambient = surface_c + KELVIN_AT_0_C, ambient_c + KELVIN_AT_0_C
    return emissivity_frac * STEFAN_BOLTZMANN_W_M2K4 * (surface**2 + ambient**2) * (surface + ambient)


@cache
def still_air(ambient_c: float, height_mm: float, emissivity_frac: float) -> tuple[Floats, Floats]:
    """Free convection and radiation together, tabled over the surface: (surface °C, h in W/(m² K)).

    Every 2 K from ambient to 400 K above it; straight lines between are within 0.1 % beyond the first 2 K.
    """
    surface_c = ambient_c + np.arange(0.0, 401.0, 2.0)
    h = [free_h_w_m2k(t, ambient_c, height_mm) + radiation_h_w_m2k(t, ambient_c, emissivity_frac) for t in surface_c]
    return surface_c, np.array(h)
