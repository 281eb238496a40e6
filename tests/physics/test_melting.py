"""How warm filament gets on its way."""

import numpy as np

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd
from feedwright.physics.melting import still_cold_frac


def test_slow_filament_is_warmed_through_and_fast_filament_hardly(lined: HotEnd, pla: Material) -> None:
    """From nothing lacking to nearly everything, the core always behind the mean."""
    mean, core = still_cold_frac(lined, pla, np.array([1e-6, 1.0, 5.0, 20.0, 1000.0]))
    assert mean[0] == core[0] == 0.0
    assert (np.diff(mean) > 0).all()
    assert (np.diff(core[1:]) > 0).all()
    assert (core >= mean).all()
    assert core[-1] > 0.99


def test_a_longer_hot_bore_warms_more(lined: HotEnd, all_metal: HotEnd, pla: Material) -> None:
    """The all-metal hot end touches filament over more of its length."""
    flow = np.array(8.0)
    assert still_cold_frac(all_metal, pla, flow)[1] < still_cold_frac(lined, pla, flow)[1]


def test_metal_in_the_filament_does_not_make_it_hold_three_times_the_heat(
    lined: HotEnd, materials: dict[str, Material]
) -> None:
    """By volume metals and polymers hold much the same."""
    flow = np.array(5.0)
    plain, filled = (still_cold_frac(lined, materials[key], flow)[1] for key in ("pla", "pla_metal"))
    assert plain == filled
