"""Flow and orifice from a single wall's thickness and from weighed filament, with uncertainty by the GUM."""

import math
from collections.abc import Sequence

from feedwright.errors import BadInput
from feedwright.service.gum import coverage, mean_and_scatter, of_product, rectangular
from feedwright.service.values import FlowSheet, Measured

FLOW_FRAC = 0.15
"""A flow further out than this is a clog, slip or a wrong width on record, not calibration (assumed)."""


def flow_by_wall(
    asked_mm: float, measured_mm: Sequence[float], *, was_ratio: float = 1.0, gauge_mm: float = 0.02
) -> FlowSheet:
    """Flow ratio from the thickness of a single wall: ``new = old asked / measured``.

    ``gauge_mm`` is the half-width of the caliper's error. Measure on straight stretches, away from corner and seam.
    """
    _within("width asked", asked_mm, 0.1, 2.0, "mm")
    mean, scatter = _mean("wall thickness", measured_mm, asked_mm)
    u_mm = of_product(rectangular(gauge_mm), scatter)
    return _sheet("wall", asked_mm / mean, u_mm / mean, scatter / mean, len(measured_mm), was_ratio)


def flow_by_weight(
    commanded_mm: float,
    weighed_g: Sequence[float],
    density_g_cm3: float,
    *,
    diameter_mm: float = 1.75,
    diameter_u_mm: float = 0.0173,
    density_u_frac: float = 0.01,
    balance_g: float = 0.01,
    was_ratio: float = 1.0,
) -> FlowSheet:
    """Flow ratio from the weight of a commanded length of filament: asked mass over weighed mass.

    ``m = rho pi/4 d² L``; the diameter counts twice: ``u(m)/m`` holds ``2 u(d)/d`` (JCGM 100:2008, 5.1.6).
    """
    _within("commanded length", commanded_mm, 20, 5000, "mm")
    _within("filament diameter", diameter_mm, 1.5, 3.2, "mm")
    _within("density", density_g_cm3, 0.8, 8.0, "g/cm³")
    asked_g = density_g_cm3 * math.pi / 4 * diameter_mm**2 * commanded_mm / 1000
    mean, scatter = _mean("weight", weighed_g, asked_g)
    weighed = of_product(rectangular(balance_g), scatter) / mean
    relative = of_product(weighed, 2 * diameter_u_mm / diameter_mm, density_u_frac)
    return _sheet("weight", asked_g / mean, relative, scatter / mean, len(weighed_g), was_ratio)


def orifice_by_strand(
    strand_new_g: float, strand_now_g: Sequence[float], bore_new_mm: float, *, balance_g: float = 0.01
) -> Measured:
    """Bore of the nozzle from the weight of a hanging strand of one length, against one from when it was new.

    A strand swells as it leaves the orifice; at the same material, temperature and flow it is taken to swell by the
    same ratio (assumed, good for small changes), so that ``d_now = d_new sqrt(m_now / m_new)``.
    """
    _within("bore when new", bore_new_mm, 0.1, 2.0, "mm")
    _within("strand when new", strand_new_g, 0.01, 100, "g")
    mean, scatter = mean_and_scatter(strand_now_g)
    _within("strand now", mean, 0.25 * strand_new_g, 4 * strand_new_g, "g")
    u_now = of_product(rectangular(balance_g), scatter) / mean
    relative = of_product(u_now, rectangular(balance_g) / strand_new_g) / 2
    bore = bore_new_mm * math.sqrt(mean / strand_new_g)
    return Measured(bore, relative, coverage(scatter / mean / 2, relative, len(strand_now_g)))


def _sheet(by: str, ratio: float, relative: float, scatter: float, count: int, was_ratio: float) -> FlowSheet:
    _within("flow ratio set", was_ratio, 0.5, 1.5, "")
    if abs(ratio - 1) > FLOW_FRAC:
        raise BadInput(
            by,
            place=f"it asks for {ratio:.2f} times the flow",
            expected=f"more than {FLOW_FRAC:.0%} is a clog, slip or a wrong width or diameter on record",
            remedy="do not write it into the machine; check the numbers, else open a case (`feedwright case`)",
        )
    flow = Measured(was_ratio * ratio, relative, coverage(scatter, relative, count))
    expanded = flow.coverage_ratio * relative
    change = abs(ratio - 1) > expanded
    return FlowSheet(
        flow, was_ratio, change,
        (
            f"By {by} it gives {1 / ratio - 1:+.1%} against what was asked, known to ±{expanded:.1%}.",
            "Set the new flow ratio." if change else "That is less than these readings can tell: leave it as it is.",
        ),
    )  # fmt: skip


def _mean(what: str, readings: Sequence[float], asked: float) -> tuple[float, float]:
    if not readings:
        raise BadInput(what, expected="expected at least one reading", remedy="measure it")
    for number, reading in enumerate(readings, 1):
        if not 0.4 * asked <= reading <= 2.5 * asked:
            raise BadInput(
                what, place=f"reading {number}, {reading:g}", expected=f"expected something near {asked:.3g}",
                remedy="give mm and g: 0.0165 inch is 0.42 mm",
            )  # fmt: skip
    return mean_and_scatter(readings)


def _within(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        expected = f"expected {low:g} to {high:g} {unit}".strip()
        raise BadInput(
            what, place=f"{value:g} {unit}".strip(), expected=expected, remedy="check the number and its unit"
        )
