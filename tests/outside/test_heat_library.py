"""Heat numbers against the libraries that carry the published correlations: ht 1.2, and CoolProp 8.0.0 for air."""

import ht
import pytest

from feedwright.catalogue.hot_ends import hot_end_of, load_hot_ends
from feedwright.physics.air import KELVIN_AT_0_C, air_at, free_h_w_m2k, radiation_h_w_m2k
from feedwright.physics.hot_end import envelope_m2, finned_area_m2, sink_w_k

# Dry air at 101 325 Pa by CoolProp 8.0.0 (PropsSI, fluid 'Air'): K, kinematic viscosity m²/s, W/(m K), Prandtl.
COOLPROP_AIR = (
    (293.15, 1.51138e-5, 0.0258738, 0.707956),
    (313.15, 1.69987e-5, 0.0273543, 0.705479),
    (333.15, 1.89681e-5, 0.0288041, 0.703384),
    (400.00, 2.61308e-5, 0.0334532, 0.698932),
)


@pytest.mark.parametrize("row", COOLPROP_AIR)
def test_air_is_that_of_the_property_library(row: tuple[float, float, float, float]) -> None:
    """Between the rows of the table too."""
    assert air_at(row[0]) == pytest.approx(row[1:], rel=1e-3)


def test_free_convection_is_churchill_and_chu_1975() -> None:
    """Upright 26 mm at 60 °C in air of 25 °C: 8.0756 W/(m² K); the library's own sample value holds."""
    assert ht.Nu_vertical_plate_Churchill(0.69, 2.63e9) == pytest.approx(147.16185223770603, rel=1e-9)
    assert free_h_w_m2k(60, 25, 26) == pytest.approx(8.0756, rel=2e-4)


@pytest.mark.parametrize(("emissivity_frac", "expected"), [(0.85, 6.0819), (0.1, 0.71552)])
def test_radiation_is_the_library_s_heat_divided_by_the_difference(emissivity_frac: float, expected: float) -> None:
    """Anodised and bare metal at 60 °C in surroundings of 25 °C."""
    direct = ht.q_rad(emissivity_frac, 60 + KELVIN_AT_0_C, 25 + KELVIN_AT_0_C) / 35
    assert radiation_h_w_m2k(60, 25, emissivity_frac) == pytest.approx(direct, rel=1e-5)  # older constants there
    assert direct == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(("h_w_m2k", "expected_w_k"), [(8, 0.0632083), (40, 0.314038), (50, 0.391773)])
def test_the_finned_sink_is_kern_and_kraus_1972(h_w_m2k: float, expected_w_k: float) -> None:
    """Eleven annular fins, efficiency 0.998 to 0.989 (library sample: 0.8412588620231153 for theirs)."""
    sample = ht.fin_efficiency_Kern_Kraus(0.0254, 0.05715, 3.8e-4, 200, 58)
    assert sample == pytest.approx(0.8412588620231153, rel=1e-9)
    assert sink_w_k(hot_end_of("lined"), h_w_m2k) == pytest.approx(expected_w_k, rel=2e-6)


def test_the_areas_of_the_sink_are_its_geometry() -> None:
    """One fin, all fins with the bare root, and the envelope that still air sees."""
    hot_end = hot_end_of("lined")
    assert finned_area_m2(hot_end) == pytest.approx((6.72301e-4, 7.913672e-3), rel=2e-6)
    assert envelope_m2(hot_end) == pytest.approx(2.660929e-3, rel=1e-6)


@pytest.mark.parametrize(
    ("air_m_s", "plate", "cylinder"), [(1, 26.440, 22.639), (2, 37.392, 32.318), (4, 52.881, 46.538)]
)
def test_the_catalogue_s_healthy_fan_lies_among_the_published_correlations(
    air_m_s: float, plate: float, cylinder: float
) -> None:
    """Laminar plate (Baehr & Stephan) and cylinder in crossflow (Churchill & Bernstein 1977), 22 mm, film 40 °C."""
    viscosity, conducts, prandtl = air_at(313.15)
    reynolds = air_m_s * 0.022 / viscosity
    found = (
        ht.Nu_external_horizontal_plate(Re=reynolds, Pr=prandtl) * conducts / 0.022,
        ht.Nu_cylinder_Churchill_Bernstein(Re=reynolds, Pr=prandtl) * conducts / 0.022,
    )
    assert found == pytest.approx((plate, cylinder), rel=3e-4)
    healthy = hot_end_of("lined").fan_h_w_m2k
    assert all(healthy.low < h < healthy.high for h in found)


def test_plain_material_constants_are_those_of_din_en_12524() -> None:
    """As the library tables the standard: fluoropolymer liner, polyamide, steel's density."""
    lined, polymers = hot_end_of("lined"), load_hot_ends().polymers
    fluoropolymer = "Plastics, polytetrafluoroethylene (PTFE)"
    assert lined.liner_conductivity_w_mk.value == ht.insulation.k_material(fluoropolymer)
    assert lined.liner_density_kg_m3.value == ht.insulation.rho_material(fluoropolymer)
    assert lined.liner_heat_capacity_j_kgk.value == ht.insulation.Cp_material(fluoropolymer)
    assert polymers["pa6"].conductivity_w_mk.value == ht.insulation.k_material("Plastics, polyamide (nylon)")
    assert lined.neck_density_kg_m3.value == ht.insulation.rho_material("Metals, stainless steel")
    assert lined.neck_conductivity_w_mk.low < ht.insulation.k_material("Metals, stainless steel")


def test_between_close_fins_still_air_carries_next_to_nothing() -> None:
    """Elenbaas number and the parallel-plate rule of Bar-Cohen & Rohsenow 1984 (its constants are from memory).

    1.5 mm gaps, 22 mm long, 35 K: El 0.5616, Nu 0.0234, h 0.43 W/(m² K): less than a tenth of what the envelope gives
    off even over the whole finned area, which is why the model leaves it out.
    """
    hot_end = hot_end_of("lined")
    gap_m = (hot_end.sink_height_mm.value - hot_end.fins_count.value * hot_end.fin_thickness_mm.value) / 11000
    viscosity, conducts, prandtl = 1.7725e-5, 0.0277, 0.7052
    elenbaas = 9.80665 / 315.65 * 35 * gap_m**4 * prandtl / (viscosity**2 * 0.022)
    assert elenbaas == pytest.approx(0.561649, rel=2e-4)
    h_w_m2k = (576 / elenbaas**2 + 2.873 / elenbaas**0.5) ** -0.5 * conducts / gap_m
    assert h_w_m2k == pytest.approx(0.4317, rel=1e-3)
    still = free_h_w_m2k(60, 25, 27.5) + radiation_h_w_m2k(60, 25, 0.85)
    assert h_w_m2k * finned_area_m2(hot_end)[1] < 0.1 * still * envelope_m2(hot_end)
