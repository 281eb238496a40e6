"""How warm filament gets on its way through the hot metal: what bounds the flow of every hot end."""

import math
from functools import cache

import numpy as np

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd, heat_j_m3k, polymer_of
from feedwright.physics.air import Floats


@cache
def _eigenvalues() -> tuple[Floats, Floats]:
    """Zeros of the Bessel function J0, and J1 there."""
    from scipy.special import j1, jn_zeros

    zeros = jn_zeros(0, 60)
    return zeros, j1(zeros)


def still_cold_frac(hot_end: HotEnd, material: Material, flow_mm3_s: Floats) -> tuple[Floats, Floats]:
    """What a plug of filament still lacks when it leaves a warm tube: mean and core, 1 = as it came, 0 = as the wall.

    ``Θ_mean = 4 Σ exp(−λ² Fo)/λ²``, ``Θ_core = 2 Σ exp(−λ² Fo)/(λ J₁(λ))`` over the zeros λ of J₀, with
    ``Fo = α t/R² = π α L/Q``: the time in the tube does not depend on the filament's diameter. Source: Incropera,
    transient conduction in a cylinder of fixed wall temperature.
    """
    diffusivity_mm2_s = polymer_of(material).conductivity_w_mk.value / heat_j_m3k(material) * 1e6
    flow = np.maximum(np.asarray(flow_mm3_s, dtype=np.float64), 1e-6)
    fourier = math.pi * diffusivity_mm2_s * hot_end.melt_length_mm.value / flow
    zeros, slopes = _eigenvalues()
    decay = np.exp(-np.multiply.outer(fourier, zeros**2))
    mean, core = decay @ (4 / zeros**2), decay @ (2 / (zeros * slopes))
    return np.clip(mean, 0.0, 1.0), np.clip(core, 0.0, 1.0)
