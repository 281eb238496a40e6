"""Thermal ageing factors against published worked examples.

Sources, by example:

- NIST/SEMATECH e-Handbook of Statistical Methods, section 8.1.5.1 (Arrhenius): 25 °C to 125 °C gives 133 for 0.5 eV and
  17 597 for 1.0 eV. The numbers are quoted from memory of that page; our arithmetic reproduces both to their rounding
  (it uses k = 1/11605 eV/K and 273.16, hence the tolerance).
- Documentation of the open ``reliability`` library, ``acceleration_factor``: 60 °C, 100 °C, 1.2 eV: 88.29574588.
- Yang, Life Cycle Reliability Engineering (2007), example 7.1: 0.323 eV between 35 °C and 70 °C: 3.46.
- Nelson's motor insulation as fitted in SAS LIFEREG example 1: slope 8.322 on 1000/(273.2 + °C); medians at
  130 °C and 150 °C of 26 095.677 h and 9 838.864 h.
- Modarres, Kaminskiy & Krivtsov, Reliability Engineering and Risk Analysis (2017), pp. 33-37: Miner's sum over three
  stress levels, life 7400.37951 cycles.
"""

import math

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import BOLTZMANN_EV_K, KELVIN_AT_0_C, arrhenius_factor, arrhenius_hours
from feedwright.wear.values import Surroundings


@pytest.mark.parametrize(("activation_ev", "factor", "within"), [(0.5, 133.0, 0.5), (1.0, 17_597.0, 15.0)])
def test_e_handbook_from_25_to_125_degrees(activation_ev: float, factor: float, within: float) -> None:
    assert arrhenius_factor(125.0, 25.0, activation_ev) == pytest.approx(factor, abs=within)


def test_library_example_from_60_to_100_degrees() -> None:
    assert arrhenius_factor(100.0, 60.0, 1.2) == pytest.approx(88.29574588, rel=1e-8)


def test_yang_example_from_35_to_70_degrees() -> None:
    assert arrhenius_factor(70.0, 35.0, 0.323) == pytest.approx(3.46, abs=0.005)


def test_motor_insulation_medians_stand_in_the_ratio_of_the_factor() -> None:
    activation_ev = 8322.0 * BOLTZMANN_EV_K
    assert arrhenius_factor(150.0, 130.0, activation_ev) == pytest.approx(26_095.677 / 9_838.864, rel=1e-3)


def test_hours_at_three_temperatures_add_as_miner_s_sum() -> None:
    """Rated lives 50 000, 6 500 and 1 000 h; 40, 15 and 5 min at each per cycle; so 7 400.37951 cycles."""
    numbers = {"reference_c": 100.0, "activation_ev": 0.8}

    def ages_as_fast(factor: float) -> float:
        kelvin = 1 / (1 / (100.0 + KELVIN_AT_0_C) - math.log(factor) * BOLTZMANN_EV_K / 0.8)
        return kelvin - KELVIN_AT_0_C

    minutes = {50_000.0: 40.0, 6_500.0: 15.0, 1_000.0: 5.0}
    cycle = Stretch(nozzle_s=tuple((ages_as_fast(50_000 / life), held * 60) for life, held in minutes.items()))
    causes = arrhenius_hours(cycle, numbers, Surroundings(""), load_catalogue().materials["pla"])
    total = sum(cause.exposure for cause in causes)
    assert 50_000 / total == pytest.approx(7400.37951, rel=1e-6)
    shares = sorted(cause.exposure / total for cause in causes)
    assert shares == pytest.approx([0.0986717, 0.28463, 0.6166983], rel=1e-5)
