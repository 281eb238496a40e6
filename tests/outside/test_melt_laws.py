"""Melt laws and pressure drops against published formulas, direct integration and the library fluids.

Laws as used in Materials 16 (2023) 7664, table 1; pressure drops of Bellini, Guceri & Bertoldi, J. Manuf. Sci. Eng.
126 (2004) 237, as reviewed by Turner, Strong & Gold, Rapid Prototyping J. 20 (2014) 192.
"""

import math
from dataclasses import replace

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from feedwright.catalogue.entry import Material, Rheology, Sourced
from feedwright.catalogue.hot_ends import hot_end_of, polymer_of
from feedwright.catalogue.load import load_catalogue
from feedwright.physics.melt import cone_pa, flow_curve, nozzle_pressure, shift_ratio, tube_pa, viscosity_pa_s
from feedwright.physics.melting import still_cold_frac

ONE = np.array(1.0)
FILAMENT_MM2 = math.pi / 4 * 1.75**2
WLF = {
    "n_ratio": 0.25,
    "tau_star_mpa": 0.100861,
    "d1_pa_s": 3.31719e9,
    "d2_kelvin": 373.15,
    "a1_ratio": 20.194,
    "a2_dk": 51.6,
}


def law(kind: str, at_c: float | None = 200.0, **constants: float) -> Rheology:
    """A law with exact constants."""
    held = {key: Sourced(value, value, value, "ratio", "assumed") for key, value in constants.items()}
    return Rheology(kind, at_c, held)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("rheology", "melt_c", "expected"),
    [
        (law("cross", eta0_pa_s=1480, lambda_s=0.013, n_ratio=0.37), None, (1159.368719, 678.981748, 245.337505)),
        (law("carreau", eta0_pa_s=1945, lambda_s=0.08, n_ratio=0.69), None, (1801.435883, 1018.399167, 499.978342)),
        (law("cross_wlf", None, **WLF), 200.0, (None, 1198.579482, 260.276489)),
        (law("cross_wlf", None, **WLF), 220.0, (None, 830.396583, 204.963269)),
    ],
)
def test_the_laws_give_the_reckoned_viscosities(
    rheology: Rheology, melt_c: float | None, expected: tuple[float | None, float, float]
) -> None:
    """At 10, 100 and 1000 1/s."""
    for rate, value in zip((10.0, 100.0, 1000.0), expected, strict=True):
        if value is not None:
            assert viscosity_pa_s(rheology, rate, melt_c) == pytest.approx(value, rel=1e-8)


@pytest.mark.parametrize(
    ("k_pa_sn", "n", "zones", "sum_mpa", "push_n"),
    [
        (1000, 1.0, (0.2172090, 0.9079085, 4.7746483), 5.8997658, 14.190600),
        (10000, 0.35, (0.5744346, 0.3076108, 0.7102264), 1.5922718, 3.829862),
        (9000, 0.45, (0.6388627, 0.4542519, 1.2298644), 2.3229790, 5.587419),
        (12189, 0.42, (0.8124285, 0.5297828, 1.3694521), 2.7116634, 6.522315),
    ],
)
def test_three_zones_of_a_power_law_melt(
    k_pa_sn: float, n: float, zones: tuple[float, float, float], sum_mpa: float, push_n: float
) -> None:
    """5 mm³/s of 1.75 mm filament; melt zone 0.875 x 10 mm, cone 30 degrees, orifice 0.2 x 0.6 mm."""
    curve, flow = flow_curve(law("power", k_pa_sn=k_pa_sn, n_ratio=n)), np.array(5.0)
    found = (
        float(tube_pa(curve, ONE, flow, 0.875, 10.0)) / 1e6,
        float(cone_pa(curve, ONE, flow, 0.875, 0.2, 30.0)) / 1e6,
        float(tube_pa(curve, ONE, flow, 0.2, 0.6)) / 1e6,
    )
    assert found == pytest.approx(zones, rel=1e-6)
    assert sum(found) == pytest.approx(sum_mpa, rel=1e-6)
    assert sum(found) * FILAMENT_MM2 == pytest.approx(push_n, rel=1e-6)


@given(k_pa_sn=st.floats(10, 1e5), n=st.floats(0.15, 1.0), flow=st.floats(0.05, 60), half_deg=st.floats(15, 75))
@settings(max_examples=60, deadline=None)
def test_tube_and_cone_of_any_power_law_are_the_closed_forms(
    k_pa_sn: float, n: float, flow: float, half_deg: float
) -> None:
    """Cylinder and cone, SI units inside."""
    curve, q = flow_curve(law("power", k_pa_sn=k_pa_sn, n_ratio=n)), flow * 1e-9
    radius, length, wide = 0.2e-3, 0.6e-3, 0.875e-3
    cylinder = 2 * k_pa_sn * length / radius * ((3 * n + 1) / n * q / (math.pi * radius**3)) ** n
    slope = math.tan(math.radians(half_deg))
    funnel = (
        2 * k_pa_sn / (3 * n * slope) * ((3 * n + 1) / n * q / math.pi) ** n * (radius ** (-3 * n) - wide ** (-3 * n))
    )
    assert float(tube_pa(curve, ONE, np.array(flow), 0.2, 0.6)) == pytest.approx(cylinder, rel=1e-6)
    assert float(cone_pa(curve, ONE, np.array(flow), 0.875, 0.2, half_deg)) == pytest.approx(funnel, rel=1e-6)


def test_a_newtonian_melt_is_hagen_and_poiseuille_by_the_library_fluids() -> None:
    """4 774 648.29 Pa through the orifice; 0.3026362 MPa through a 60 degree cone."""
    library = fluids.one_phase_dP(m=1240 * 5e-9, rho=1240, mu=1000, D=0.4e-3, roughness=0, L=0.6e-3)
    curve = flow_curve(law("power", k_pa_sn=1000, n_ratio=1.0))
    assert float(tube_pa(curve, ONE, np.array(5.0), 0.2, 0.6)) == pytest.approx(library, rel=1e-6)
    assert library == pytest.approx(4774648.29, rel=1e-8)
    assert float(cone_pa(curve, ONE, np.array(5.0), 0.875, 0.2, 60.0)) / 1e6 == pytest.approx(0.3026362, rel=1e-6)


@pytest.mark.parametrize(
    "rheology",
    [
        law("cross", eta0_pa_s=1480, lambda_s=0.013, n_ratio=0.37),
        law("carreau", eta0_pa_s=1945, lambda_s=0.08, n_ratio=0.69),
        law("cross_wlf", None, **WLF),
    ],
)
@pytest.mark.parametrize("flow", [0.3, 5.0, 25.0])
def test_other_laws_agree_with_the_velocity_profile_integrated_directly(rheology: Rheology, flow: float) -> None:
    """Q = pi ∫ r² γ(r) dr with γ from the law at each radius, the pressure sought that gives the flow (scipy)."""
    radius, length = 0.2e-3, 0.6e-3

    def rate_at(stress: float) -> float:
        return float(
            np.exp(
                brentq(lambda x: x + math.log(float(viscosity_pa_s(rheology, math.exp(x)))) - math.log(stress), -30, 25)
            )
        )

    def through(wall_stress: float) -> float:
        return math.pi * quad(lambda r: r**2 * rate_at(wall_stress * r / radius), 1e-9, radius, epsrel=1e-8)[0]

    wall = brentq(lambda s: through(s) - flow * 1e-9, 1e2, 1e7, rtol=1e-9)
    found = float(tube_pa(flow_curve(rheology), ONE, np.array(flow), 0.2, 0.6))
    assert found == pytest.approx(2 * wall * length / radius, rel=2e-5)


def _wlf_material() -> Material:
    return replace(load_catalogue().materials["pla"], rheology=law("cross_wlf", None, **WLF))


@pytest.mark.parametrize("melt_c", [185.0, 200.0, 220.0])
def test_shifting_a_curve_in_temperature_is_the_law_itself(melt_c: float) -> None:
    """Cross-WLF: a table made at one temperature and shifted gives the law at another."""
    material = _wlf_material()
    shift = float(shift_ratio(material, polymer_of(material), melt_c))
    for rate in (3.0, 300.0, 30000.0):
        shifted = shift * float(viscosity_pa_s(material.rheology, shift * rate))
        assert shifted == pytest.approx(float(viscosity_pa_s(material.rheology, rate, melt_c)), rel=1e-9)


@pytest.mark.parametrize(
    ("n", "bore_ratio", "pressure_ratio"),
    [
        (1.0, 0.9, 1.524158),
        (1.0, 0.8, 2.441406),
        (1.0, 1.1, 0.683013),
        (0.35, 0.9, 1.241089),
        (0.35, 0.8, 1.580031),
        (0.35, 1.1, 0.822517),
    ],
)
def test_pressure_goes_as_the_bore_to_the_minus_3n_plus_1(n: float, bore_ratio: float, pressure_ratio: float) -> None:
    """At fixed flow through a plain orifice; derived from the tube formula."""
    curve = flow_curve(law("power", k_pa_sn=5000, n_ratio=n))
    new, now = (float(tube_pa(curve, ONE, np.array(5.0), 0.2 * ratio, 0.6)) for ratio in (1.0, bore_ratio))
    assert now / new == pytest.approx(pressure_ratio, rel=2e-6)


def test_the_core_warms_as_the_first_term_of_the_cylinder_solution_says() -> None:
    """Incropera: 1.6021 exp(-5.7832 Fo), 0.50393 at Fo 0.2 (further terms add 0.5 %); 95 % through after 7.8806 s."""
    pla, hot_end = load_catalogue().materials["pla"], hot_end_of("lined")
    diffusivity = 0.13 / (1240 * 1800) * 1e6
    assert diffusivity == pytest.approx(5.82437e-2, rel=1e-5)
    for fourier, core in ((0.2, 0.50393), (7.8806 / 13.1452, 0.05)):
        flow = math.pi * diffusivity * hot_end.melt_length_mm.value / fourier
        assert float(still_cold_frac(hot_end, pla, np.array(flow))[1]) == pytest.approx(core, rel=6e-3)


def test_the_mean_of_a_plug_agrees_with_its_section_integrated() -> None:
    """The mean of the full series over the section, integrated by scipy."""
    from scipy.special import j0, j1, jn_zeros

    pla, hot_end = load_catalogue().materials["pla"], hot_end_of("lined")
    fourier = 0.05
    flow = math.pi * 5.82437e-2 * hot_end.melt_length_mm.value / fourier
    zeros = jn_zeros(0, 80)

    def across(r: float) -> float:
        return float(np.sum(2 / (zeros * j1(zeros)) * j0(zeros * r) * np.exp(-(zeros**2) * fourier)))

    mean = quad(lambda r: 2 * r * across(r), 0, 1)[0]
    assert float(still_cold_frac(hot_end, pla, np.array(flow))[0]) == pytest.approx(mean, rel=1e-4)


def test_published_pla_laws_give_pushes_of_the_measured_size() -> None:
    """Measured pushes of PLA through 0.4 to 0.8 mm at 170 to 250 °C span a few to some tens of newtons.

    Andreucci, Pace & Lambiase, Int. J. Adv. Manuf. Technol. (abstract): 267 conditions, 1.64 to 25.8 mm³/s.
    """
    pla, hot_end = load_catalogue().materials["pla"], hot_end_of("lined")
    for flow, low, high in ((1.64, 1.0, 15.0), (10.0, 3.0, 40.0)):
        assert low < nozzle_pressure(hot_end, pla, flow_mm3_s=flow, melt_c=200).sum_mpa * FILAMENT_MM2 < high
