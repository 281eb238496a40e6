"""What is left on a spool, as a distribution."""

import math

import pytest
from scipy import stats

from feedwright.planning.spool_mass import DRAWN_RELATIVE_SD, MassLeft, mass_left, verdict


def test_the_band_holds_eight_in_ten_of_a_normal_distribution() -> None:
    left = mass_left(1000.0, 600.0, weighed=False)
    sd = math.hypot(10.0, DRAWN_RELATIVE_SD * 600.0)
    low, high = stats.norm(400, sd).interval(0.8)
    assert (left.interval.low, left.interval.mid, left.interval.high) == pytest.approx((low, 400.0, high), rel=1e-9)


def test_the_tolerance_of_the_diameter_is_the_spread_of_what_is_drawn() -> None:
    """1.75 mm with 0.05 mm either way, taken as two standard deviations (common practice)."""
    by_area = ((1.80 / 1.75) ** 2 - (1.70 / 1.75) ** 2) / 2
    assert pytest.approx(by_area / 2, rel=0.06) == DRAWN_RELATIVE_SD


def test_a_weighing_narrows_what_is_known() -> None:
    assert mass_left(400.0, 0.0, weighed=True).sd_g < mass_left(1000.0, 600.0, weighed=False).sd_g / 5


@pytest.mark.parametrize("needed", [50.0, 380.0, 400.0, 420.0, 900.0])
def test_the_chance_to_finish_is_that_of_the_difference(needed: float) -> None:
    left = MassLeft(400.0, 15.0)
    exact = stats.norm(400.0 - needed, math.hypot(15.0, DRAWN_RELATIVE_SD * needed)).sf(0.0)
    assert left.enough_frac(needed) == pytest.approx(exact, rel=1e-9)


def test_nothing_left_finishes_nothing_and_certainty_is_certain() -> None:
    assert MassLeft(0.0, 0.0).enough_frac(10.0) < 1e-9
    assert MassLeft(10.0, 0.0).enough_frac(0.0) == 1.0
    assert MassLeft(-5.0, 3.0).interval.mid == 0.0
    assert [verdict(chance) for chance in (1.0, 0.95, 0.5, 0.2, 0.1)] == [
        "enough", "enough", "doubtful", "doubtful", "short"
    ]  # fmt: skip
