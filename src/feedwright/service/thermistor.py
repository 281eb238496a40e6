"""Thermistors: temperature and resistance, and what a machine set for another type shows.

The dangerous case: a part of smaller B than the machine is set for reads cold, so that the nozzle is hotter than shown.
"""

import math
from collections.abc import Sequence

import numpy as np

from feedwright.errors import BadInput
from feedwright.service.values import SensorCheck

ZERO_C_KELVIN = 273.15
REFERENCE_KELVIN = 298.15
"""25 °C, where thermistors are rated."""
SAME_TYPE_FRAC = 0.08
"""Part tolerance and a meter's error, together (assumed)."""


def resistance_ohm(at_c: float, *, rated_ohm: float = 100_000.0, beta_kelvin: float = 3950.0) -> float:
    """``R = R25 exp[B (1/T - 1/T25)]`` (IEC 60539-1, from memory).

    >>> round(resistance_ohm(210.0), 3)
    626.454
    """
    return rated_ohm * math.exp(beta_kelvin * (1 / (at_c + ZERO_C_KELVIN) - 1 / REFERENCE_KELVIN))


def temperature_c(ohm: float, *, rated_ohm: float = 100_000.0, beta_kelvin: float = 3950.0) -> float:
    """The same read backwards.

    >>> round(temperature_c(1000.0), 6)
    183.856943
    """
    if not ohm > 0:
        raise BadInput("resistance", place=f"{ohm:g} Ω", expected="expected more than 0", remedy="check the meter")
    return 1 / (1 / REFERENCE_KELVIN + math.log(ohm / rated_ohm) / beta_kelvin) - ZERO_C_KELVIN


def true_c(shown_c: float, *, fitted_beta_kelvin: float, set_beta_kelvin: float) -> float:
    """What the nozzle truly is where the machine is set for another B than the fitted part's (equal R25)."""
    return temperature_c(resistance_ohm(shown_c, beta_kelvin=set_beta_kelvin), beta_kelvin=fitted_beta_kelvin)


def coefficients(points: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    """A, B, C of ``1/T = A + B ln R + C (ln R)³`` through three points of (°C, Ω).

    Source: Steinhart & Hart, Deep-Sea Research 15 (1968) 497.
    """
    logs = np.array([math.log(ohm) for _, ohm in points])
    inverse = np.array([1 / (at_c + ZERO_C_KELVIN) for at_c, _ in points])
    a, b, c = np.linalg.solve(np.column_stack([np.ones(3), logs, logs**3]), inverse)
    return float(a), float(b), float(c)


def temperature_by_coefficients_c(ohm: float, a: float, b: float, c: float) -> float:
    """Temperature by that curve."""
    log = math.log(ohm)
    return 1 / (a + b * log + c * log**3) - ZERO_C_KELVIN


def check_sensor(
    points: Sequence[tuple[float, float]], *, rated_ohm: float = 100_000.0, beta_kelvin: float = 3950.0
) -> SensorCheck:
    """Whether a sensor measured with a meter at known temperatures (°C, Ω) is of the type that the machine is set for.

    One reading at room temperature tells the rated resistance, a second one (in hot water, say) also B.
    """
    if not points:
        raise BadInput("sensor", expected="expected a resistance", remedy="measure it, unplugged, at room temperature")
    for at_c, ohm in points:
        if not -20 <= at_c <= 120 or not 10 <= ohm <= 1e7:
            raise BadInput(
                "sensor", place=f"{ohm:g} Ω at {at_c:g} °C", expected="expected -20 to 120 °C, and 10 Ω to 10 MΩ",
                remedy="give °C and Ω; a much greater one is a broken wire, a much smaller one a short",
            )  # fmt: skip
    off = [ohm / resistance_ohm(at_c, rated_ohm=rated_ohm, beta_kelvin=beta_kelvin) - 1 for at_c, ohm in points]
    found = _beta(points)
    at_210 = None if found is None else true_c(210.0, fitted_beta_kelvin=found, set_beta_kelvin=beta_kelvin)
    good = max(abs(one) for one in off) <= SAME_TYPE_FRAC
    said = [
        f"{ohm:,.0f} Ω at {at_c:g} °C is {one:+.1%} against the type set."
        for (at_c, ohm), one in zip(points, off, strict=True)
    ]
    if found is not None and at_210 is not None:
        said.append(f"B is about {found:.0f} K: where the machine shows 210 °C the nozzle is at about {at_210:.0f} °C.")
    elif good:
        said.append("One temperature does not tell B: measure once more in hot water, the wires kept dry.")
    said.append("It fits." if good else "It is of another type, or damaged: do not heat with it.")
    return SensorCheck(good, found, at_210, tuple(said))


def _beta(points: Sequence[tuple[float, float]]) -> float | None:
    """B from the two readings furthest apart; None where they are nearer than 20 K."""
    (cold_c, cold_ohm), (warm_c, warm_ohm) = min(points), max(points)
    if warm_c - cold_c < 20:
        return None
    return math.log(cold_ohm / warm_ohm) / (1 / (cold_c + ZERO_C_KELVIN) - 1 / (warm_c + ZERO_C_KELVIN))
