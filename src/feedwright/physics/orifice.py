"""The orifice judged by a flow test against the same test when the nozzle was new: worn, narrowed, or as new."""

import math
from typing import Literal

import numpy as np

from feedwright.catalogue.entry import Material
from feedwright.physics.hot_end import within
from feedwright.physics.melt import apparent_rate_per_s, flow_curve
from feedwright.physics.values import Band, OrificeVerdict

NOTABLE = 0.05
"""Change of bore, up or down, that is called by name (assumed)."""
BAND_SD = 1.645
"""90 % of a normal spread."""


def orifice_by_push(
    material: Material,
    *,
    bore_new_mm: float,
    push_new_n: float,
    push_now_n: float,
    flow_mm3_s: float,
    spread_frac: float = 0.05,
    land_mm: float = 0.6,
    metal_g_cm3: float = 8.5,
    printed_kg: float | None = None,
) -> OrificeVerdict:
    """Bore from the push at the same flow and temperature: ``d = d_new (F_new/F_now)^(1/(3n+1))``.

    ``spread_frac`` is the standard uncertainty of each push. Forces that do not depend on the bore (spool, tube)
    must be taken off first. Raises OutOfRange for a push, bore or flow that cannot be.
    """
    for name, push in (("push_new_n", push_new_n), ("push_now_n", push_now_n)):
        within(name, push, 0.1, 300.0, remedy="give the measured push in newtons")
    n = _exponents(material, flow_mm3_s, bore_new_mm)
    powers = Band(*(1 / (3 * each + 1) for each in (n.high, n.mid, n.low)))
    return _verdict(push_new_n / push_now_n, powers, "push", bore_new_mm, spread_frac, land_mm, metal_g_cm3, printed_kg)


def orifice_by_flow(
    material: Material,
    *,
    bore_new_mm: float,
    flow_new_mm3_s: float,
    flow_now_mm3_s: float,
    spread_frac: float = 0.05,
    land_mm: float = 0.6,
    metal_g_cm3: float = 8.5,
    printed_kg: float | None = None,
) -> OrificeVerdict:
    """Bore from the flow at the same push and temperature: ``d = d_new (Q_now/Q_new)^(n/(3n+1))``."""
    for name, flow in (("flow_new_mm3_s", flow_new_mm3_s), ("flow_now_mm3_s", flow_now_mm3_s)):
        within(name, flow, 0.01, 200.0, remedy="give the measured flow in mm³/s")
    n = _exponents(material, flow_new_mm3_s, bore_new_mm)
    powers = Band(*(each / (3 * each + 1) for each in (n.low, n.mid, n.high)))
    ratio = flow_now_mm3_s / flow_new_mm3_s
    return _verdict(ratio, powers, "flow", bore_new_mm, spread_frac, land_mm, metal_g_cm3, printed_kg)


def _exponents(material: Material, flow_mm3_s: float, bore_mm: float) -> Band:
    """Slope of stress over rate at the orifice's wall, and the catalogue's band of the law's own n around it."""
    within("flow_mm3_s", flow_mm3_s, 0.01, 200.0)
    within("bore_new_mm", bore_mm, 0.05, 2.0)
    curve = flow_curve(material.rheology)
    rate = apparent_rate_per_s(flow_mm3_s, bore_mm / 2)
    low, high = (float(np.log(curve.stress_pa(rate * factor))) for factor in (0.9, 1.1))
    mid = (high - low) / math.log(1.1 / 0.9)
    n = material.rheology.constants["n_ratio"]
    return Band(max(0.05, mid + n.low - n.value), mid, mid + n.high - n.value)


def _verdict(
    ratio: float,
    powers: Band,
    by: str,
    bore_new_mm: float,
    spread_frac: float,
    land_mm: float,
    metal_g_cm3: float,
    printed_kg: float | None,
) -> OrificeVerdict:
    within("spread_frac", spread_frac, 0.0, 0.5)
    half = BAND_SD * math.sqrt(2) * spread_frac
    corners = [(math.log(ratio) + shift) * power for shift in (-half, half) for power in (powers.low, powers.high)]
    grown = Band(math.exp(min(corners)), ratio**powers.mid, math.exp(max(corners)))
    bore = Band(*(bore_new_mm * each for each in (grown.low, grown.mid, grown.high)))
    removed_mm3 = max(0.0, math.pi / 4 * (bore.mid**2 - bore_new_mm**2) * land_mm)
    per_kg = (bore.mid - bore_new_mm) / within("printed_kg", printed_kg, 1e-3, 1e4) if printed_kg is not None else None
    word = _word(grown.mid)
    sure = _word(grown.low) == _word(grown.high)
    because = (
        f"The {by} is {ratio if by == 'flow' else 1 / ratio:.2f} times what it was when new: "
        f"a bore of {bore.mid:.2f} mm ({bore.low:.2f} to {bore.high:.2f}).",
        *(() if sure else ("The band crosses a line: repeat the test, or try a pin gauge.",)),
    )
    return OrificeVerdict(
        word=word,
        sure=sure,
        bore_mm=bore,
        bore_ratio=grown,
        flow_area_ratio=grown.mid**2,
        removed_mm3=removed_mm3,
        removed_mg=removed_mm3 * metal_g_cm3,
        growth_mm_per_kg=per_kg,
        because=because,
    )


def _word(grown_ratio: float) -> Literal["as new", "worn", "narrowed"]:
    if abs(grown_ratio - 1) < NOTABLE:
        return "as new"
    return "worn" if grown_ratio > 1 else "narrowed"
