"""Melt in a nozzle: one flow curve a material, shifted by temperature, and the pressure each zone takes.

Every law of the catalogue (power, Cross, Carreau, Cross-WLF) becomes the same thing: wall stress over apparent
shear rate, tabled once. Tube and cone then follow without assuming a power law. Equations: docs/models/force.md.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from feedwright.catalogue.entry import Material, Rheology
from feedwright.catalogue.hot_ends import HotEnd, Polymer, polymer_of
from feedwright.errors import BadEntry
from feedwright.physics.air import KELVIN_AT_0_C, Floats
from feedwright.physics.hot_end import within
from feedwright.physics.values import Pressure

BOLTZMANN_EV_K = 8.617333262e-5
"""CODATA 2018."""
RATES_PER_S = np.geomspace(1e-5, 1e8, 1301)
"""True shear rates of the table: a hundred a decade."""


def viscosity_pa_s(rheology: Rheology, rate_per_s: ArrayLike, melt_c: float | None = None) -> Floats:
    """Viscosity over shear rate by the law that the material's source uses.

    - power: ``η = K γ^(n−1)``
    - Cross: ``η = η₀ / (1 + (λ γ)^(1−n))``
    - Carreau: ``η = η₀ (1 + (λ γ)²)^((n−1)/2)``
    - Cross-WLF: ``η₀ = D₁ exp(−A₁ (T − D₂) / (A₂ + T − D₂))``, ``η = η₀ / (1 + (η₀ γ / τ*)^(1−n))``, T in kelvin

    The first three hold at the temperature of their constants, so ``melt_c`` matters to the last alone.
    """
    rate = np.asarray(rate_per_s, dtype=np.float64)
    held = {key: number.value for key, number in rheology.constants.items()}
    try:
        n = held["n_ratio"]
        if rheology.law == "power":
            return held["k_pa_sn"] * rate ** (n - 1)
        if rheology.law == "carreau":
            return held["eta0_pa_s"] * (1 + (held["lambda_s"] * rate) ** 2) ** ((n - 1) / 2)
        if rheology.law == "cross":
            eta0, relaxation_s = held["eta0_pa_s"], held["lambda_s"]
        else:
            eta0 = zero_rate_pa_s(rheology, reference_c(rheology) if melt_c is None else melt_c)
            relaxation_s = eta0 / (held["tau_star_mpa"] * 1e6)
        return eta0 / (1 + (relaxation_s * rate) ** (1 - n))
    except KeyError as error:
        raise BadEntry(
            "materials.toml", place="rheology.constants", expected=f"the law “{rheology.law}” needs {error.args[0]}",
            remedy="give that constant",
        ) from None  # fmt: skip


def zero_rate_pa_s(rheology: Rheology, melt_c: float) -> float:
    """Zero-rate viscosity of the Cross-WLF law. Valid above its D₂, up to about 100 K over it for most fits."""
    held = {key: number.value for key, number in rheology.constants.items()}
    over = melt_c + KELVIN_AT_0_C - held["d2_kelvin"]
    within("melt_c", melt_c, held["d2_kelvin"] - KELVIN_AT_0_C, 450.0)
    return held["d1_pa_s"] * math.exp(-held["a1_ratio"] * over / (held["a2_dk"] + over))


def reference_c(rheology: Rheology) -> float:
    """Temperature that the table of a material is made at."""
    if rheology.at_c is not None:
        return rheology.at_c
    return rheology.constants["d2_kelvin"].value - KELVIN_AT_0_C + 100.0


def shift_ratio(material: Material, polymer: Polymer, melt_c: Floats | float) -> Floats:
    """How many times stiffer the melt is than at its table's temperature, shape of ``melt_c``.

    ``a_T = exp(E/k (1/T − 1/T_ref))``, Arrhenius, or the ratio of zero-rate viscosities for a law that carries
    temperature itself. Time and temperature superpose: ``η(γ, T) = a_T η(a_T γ, T_ref)``.
    """
    at_c = np.asarray(melt_c, dtype=np.float64)
    base_c = reference_c(material.rheology)
    if material.rheology.law == "cross_wlf":
        base = zero_rate_pa_s(material.rheology, base_c)
        floor_c = material.rheology.constants["d2_kelvin"].value - KELVIN_AT_0_C
        shifted = [zero_rate_pa_s(material.rheology, max(float(c), floor_c)) for c in at_c.ravel()]
        return np.array(shifted).reshape(at_c.shape) / base
    inverse = 1 / (at_c + KELVIN_AT_0_C) - 1 / (base_c + KELVIN_AT_0_C)
    return np.asarray(np.exp(polymer.flow_activation_ev.value / BOLTZMANN_EV_K * inverse))


@dataclass(frozen=True, slots=True, eq=False)
class FlowCurve:
    """Wall stress over apparent shear rate ``4Q/(πR³)`` at one temperature; arrays of shape (n,), all rising.

    Between rows the melt is a power law, so that a power law is exact.
    """

    log_rate: Floats
    log_stress: Floats
    """Natural logarithms of 1/s and Pa."""
    cone_pa: Floats
    """Integral of the stress over the logarithm of the rate, from the first row."""

    def stress_pa(self, rate_per_s: Floats) -> Floats:
        """Wall stress at an apparent shear rate."""
        return np.asarray(np.exp(np.interp(np.log(rate_per_s), self.log_rate, self.log_stress)))

    def cone_to_pa(self, rate_per_s: Floats) -> Floats:
        """The integral up to an apparent shear rate."""
        log_rate = np.log(rate_per_s)
        row = np.clip(np.searchsorted(self.log_rate, log_rate) - 1, 0, len(self.log_rate) - 2)
        slope = np.diff(self.log_stress)[row] / np.diff(self.log_rate)[row]
        low = np.exp(self.log_stress[row])
        return np.asarray(self.cone_pa[row] + low * np.expm1(slope * (log_rate - self.log_rate[row])) / slope)


def flow_curve(rheology: Rheology) -> FlowCurve:
    """The table of one material at its own temperature.

    Rabinowitsch: ``4Q/(πR³) = (4/τ_w³) ∫ τ² γ dτ`` from 0 to τ_w. Within a row τ goes as γ^m, where the integral is
    ``m/(3m+1) τ³ γ``; below the first row the same holds down to nothing. Raises BadEntry for a law whose stress
    does not rise with the rate.
    """
    log_true = np.log(RATES_PER_S)
    log_stress = log_true + np.log(viscosity_pa_s(rheology, RATES_PER_S))
    slope = np.diff(log_stress) / np.diff(log_true)
    if not (slope > 0).all():
        raise BadEntry("materials.toml", place="rheology", expected="stress must rise with the shear rate",
                       remedy="correct the constants of the law")  # fmt: skip
    product = np.exp(3 * log_stress + log_true)
    integral = slope[0] / (3 * slope[0] + 1) * product[0]
    integral = integral + np.append(0.0, np.cumsum(slope / (3 * slope + 1) * np.diff(product)))
    log_rate = np.log(4 * integral) - 3 * log_stress
    per_row = np.diff(np.exp(log_stress)) / (np.diff(log_stress) / np.diff(log_rate))
    return FlowCurve(log_rate, log_stress, np.append(0.0, np.cumsum(per_row)))


def tube_pa(curve: FlowCurve, shift: Floats, flow_mm3_s: Floats, radius_mm: float, length_mm: float) -> Floats:
    """Pressure drop of a round tube: ``2 τ_w L / R`` at the apparent rate ``4Q/(πR³)``.

    For a power law ``(2KL/R) [((3n+1)/n) Q/(πR³)]^n`` (Bellini, Guceri & Bertoldi, J. Manuf. Sci. Eng. 126 (2004)
    237, as reviewed by Turner, Strong & Gold 2014).
    """
    return 2 * length_mm / radius_mm * curve.stress_pa(shift * apparent_rate_per_s(flow_mm3_s, radius_mm))


def cone_pa(
    curve: FlowCurve, shift: Floats, flow_mm3_s: Floats, wide_mm: float, narrow_mm: float, half_angle_deg: float
) -> Floats:
    """Pressure drop of a cone from radius ``wide_mm`` to ``narrow_mm``: slices of tube, ``∫ 2 τ_w / (r tan α) dr``.

    Since the rate goes as r⁻³ this is ``2/(3 tan α)`` times the integral of τ_w over the logarithm of the rate.
    """
    within("half_angle_deg", half_angle_deg, 1.0, 89.0)
    wide = curve.cone_to_pa(shift * apparent_rate_per_s(flow_mm3_s, wide_mm))
    narrow = curve.cone_to_pa(shift * apparent_rate_per_s(flow_mm3_s, narrow_mm))
    return 2 / (3 * math.tan(math.radians(half_angle_deg))) * (narrow - wide)


def apparent_rate_per_s(flow_mm3_s: Floats | float, radius_mm: float) -> Floats:
    """``4Q/(πR³)``, the Newtonian wall shear rate.

    >>> float(apparent_rate_per_s(5.0, 0.2).round(4))
    795.7747
    """
    return np.maximum(np.asarray(flow_mm3_s, dtype=np.float64), 1e-9) * 4 / (math.pi * radius_mm**3)


def nozzle_pa(
    hot_end: HotEnd, material: Material, flow_mm3_s: Floats, melt_c: Floats, orifice_mm: float
) -> tuple[Floats, Floats, Floats]:
    """Pressure drop of melt zone, cone and orifice in Pa, for arrays of flow and melt temperature of one shape."""
    within("orifice_mm", orifice_mm, 0.05, hot_end.melt_bore_mm.value, remedy="give the nozzle's bore in mm")
    curve, shift = flow_curve(material.rheology), shift_ratio(material, polymer_of(material), melt_c)
    wide_mm, narrow_mm = hot_end.melt_bore_mm.value / 2, orifice_mm / 2
    return (
        tube_pa(curve, shift, flow_mm3_s, wide_mm, hot_end.melt_length_mm.value),
        cone_pa(curve, shift, flow_mm3_s, wide_mm, narrow_mm, hot_end.cone_half_angle_deg.value),
        tube_pa(curve, shift, flow_mm3_s, narrow_mm, hot_end.land_mm.value),
    )


def nozzle_pressure(
    hot_end: HotEnd, material: Material, *, flow_mm3_s: float, melt_c: float, orifice_mm: float | None = None
) -> Pressure:
    """Pressure drop of the nozzle for a melt of one temperature.

    Raises OutOfRange for a flow or temperature beyond the law.
    """
    within("flow_mm3_s", flow_mm3_s, 0.0, 200.0)
    within("melt_c", melt_c, 40.0, 450.0)
    bore_mm = hot_end.orifice_mm.value if orifice_mm is None else orifice_mm
    zones = nozzle_pa(hot_end, material, np.array(flow_mm3_s), np.array(melt_c), bore_mm)
    return Pressure(*(float(zone) / 1e6 for zone in zones))
