"""The heat model's choices held against forms that it does not use itself.

Sources: Incropera, Fundamentals of Heat and Mass Transfer (straight fin; slug flow in a tube); Churchill & Chu 1975,
Churchill & Bernstein 1977, Zukauskas 1972 and Shah & London 1978 as the libraries ht and fluids carry them.
"""

import math

import fluids
import ht
import pytest

from feedwright.catalogue.hot_ends import heat_j_m3k, hot_end_of, polymer_of
from feedwright.catalogue.load import load_catalogue
from feedwright.physics.air import KELVIN_AT_0_C, air_at, free_h_w_m2k
from feedwright.physics.heat_flow import steady
from feedwright.physics.hot_end import heat_path


def test_the_annular_fin_hardly_differs_from_the_straight_one() -> None:
    """40 W/(m² K), 167 W/(m K), 1 mm thick, 6 mm high: m 21.887 1/m, efficiency 0.9933077."""
    m = math.sqrt(2 * 40 / (167 * 1e-3))
    straight = math.tanh(m * 6.5e-3) / (m * 6.5e-3)
    assert m == pytest.approx(21.88703, rel=1e-6)
    assert straight == pytest.approx(0.9933077, rel=1e-6)
    sink = hot_end_of("lined")
    annular = ht.fin_efficiency_Kern_Kraus(
        sink.sink_root_mm.value / 1000, sink.sink_tip_mm.value / 1000, sink.fin_thickness_mm.value / 1000,
        sink.sink_conductivity_w_mk.value, sink.fan_h_w_m2k.value,
    )  # fmt: skip
    assert annular == pytest.approx(straight, abs=0.003)


def test_an_upright_sink_and_a_lying_cylinder_shed_heat_alike_within_the_correlations_own_accuracy() -> None:
    """The lying 22 mm cylinder at 60 °C in 25 °C gives 6.9942 W/(m² K); our upright 26 mm wall 8.0756: within 20 %."""
    assert ht.Nu_horizontal_cylinder_Churchill_Chu(0.69, 2.63e9) == pytest.approx(139.13493970073597, rel=1e-9)
    film_kelvin = 42.5 + KELVIN_AT_0_C
    viscosity_m2_s, conducts_w_mk, prandtl = air_at(film_kelvin)
    grashof = 9.80665 / film_kelvin * 35 * 0.022**3 / viscosity_m2_s**2
    lying = ht.Nu_horizontal_cylinder_Churchill_Chu(prandtl, grashof) * conducts_w_mk / 0.022
    assert lying == pytest.approx(6.9942, rel=2e-3)
    assert free_h_w_m2k(60, 25, 26) == pytest.approx(lying, rel=0.2)


def test_the_catalogue_s_fan_lies_where_the_forced_correlations_put_it() -> None:
    """A sink of 22 mm in air of 1 to 4 m/s, across and along: our band of 20 to 60 W/(m² K) holds all of them."""
    assert fluids.Reynolds(2.5, 0.25, 1.1613, 1.9e-5) == pytest.approx(38200.65789473684, rel=1e-12)
    assert ht.Nu_cylinder_Zukauskas(7992, 0.707, 0.69) == pytest.approx(50.523612661934386, rel=1e-9)
    assert ht.Nu_laminar_rectangular_Shan_London(0.7) == pytest.approx(3.751762675455, rel=1e-9)
    assert ht.Nu_laminar_rectangular_Shan_London(0.25) == pytest.approx(5.332666732910, rel=1e-9)
    viscosity_m2_s, conducts_w_mk, prandtl = air_at(40 + KELVIN_AT_0_C)
    fan = hot_end_of("lined").fan_h_w_m2k
    for speed_m_s in (1.0, 2.0, 4.0):
        reynolds = speed_m_s * 0.022 / viscosity_m2_s
        across = ht.Nu_cylinder_Churchill_Bernstein(reynolds, prandtl) * conducts_w_mk / 0.022
        along = ht.Nu_external_horizontal_plate(reynolds, prandtl) * conducts_w_mk / 0.022
        assert fan.low <= across <= fan.high
        assert fan.low <= along <= fan.high


def test_a_stopped_fan_is_not_reckoned_over_the_whole_finned_area() -> None:
    """Still air over all fins would leave the sink at 75.9 °C at 210 °C; ours is hotter, as the envelope makes it."""
    material = load_catalogue().materials["pla"]
    stopped = steady(heat_path(hot_end_of("lined"), material, ambient_c=25.0), 210.0, 0.0)
    conducted, over_all_fins = 0.02396073, 0.0632083
    assert 25 + 185 * conducted / (conducted + over_all_fins) == pytest.approx(75.8522, rel=1e-5)
    assert stopped.sink_top_c > 80


def test_filament_carries_heat_faster_than_it_conducts_it() -> None:
    """At 5 mm³/s of 1.75 mm filament the Péclet number is about 31 (31.229 for 0.13 W/(m K), 1800 J/(kg K))."""
    material = load_catalogue().materials["pla"]
    radius_m = 0.875e-3
    speed_m_s = 5e-9 / (math.pi * radius_m**2)
    assert speed_m_s * 1000 == pytest.approx(2.07876, rel=1e-5)
    assert speed_m_s * radius_m / (0.13 / (1240 * 1800)) == pytest.approx(31.229, rel=1e-4)
    ours = polymer_of(material).conductivity_w_mk.value / heat_j_m3k(material)
    assert speed_m_s * radius_m / ours == pytest.approx(31.229, rel=0.25)
