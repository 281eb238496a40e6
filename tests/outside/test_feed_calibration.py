"""Feed calibration against JCGM 100:2008 (GUM) and the arithmetic of steps per millimetre."""

import math

import numpy as np
import pytest
from scipy import stats

from feedwright.errors import BadInput
from feedwright.service.feed_rate import feed_rate
from feedwright.service.flow import flow_by_weight
from feedwright.service.gum import coverage, mean_and_scatter, of_product, of_scale, rectangular


def test_new_steps_per_mm_and_their_uncertainty() -> None:
    """Steps: new = 93 * 100/96.2. GUM 5.1.6, a ruler of 0.5 mm divisions: u = 0.5/sqrt(12) a mark, two marks."""
    sheet = feed_rate(93, 100, [96.2])
    assert sheet.new_steps_per_mm.value == pytest.approx(96.673597, rel=1e-8)
    assert sheet.error_frac == pytest.approx(-0.038)
    assert of_scale(0.5, marks=1) == pytest.approx(0.144338, rel=1e-5)
    assert of_scale(0.5) == pytest.approx(0.204124, rel=1e-5)
    assert sheet.new_steps_per_mm.standard_ratio == pytest.approx(0.00212187, rel=1e-5)
    assert sheet.new_steps_per_mm.value * sheet.new_steps_per_mm.standard_ratio == pytest.approx(0.205129, rel=1e-5)
    assert sheet.new_steps_per_mm.coverage_ratio * sheet.new_steps_per_mm.standard_ratio == pytest.approx(
        0.00424, rel=1e-3
    )


def test_a_gear_by_its_diameter() -> None:
    """steps/mm = steps a turn / (pi d); 3200 steps: 10.95 mm -> 93.022067, 8 -> 127.323954, 7.3 -> 139.533101."""
    for diameter, steps in ((10.95, 93.022067), (8.0, 127.323954), (7.3, 139.533101)):
        assert 200 * 16 / (math.pi * diameter) == pytest.approx(steps, rel=1e-8)
    assert 200 * 16 / (math.pi * 93) == pytest.approx(10.952598, rel=1e-7)


def test_how_long_to_feed_for_two_tenths_of_a_percent() -> None:
    """k u / L = 0.002 with k = 2 and two marks of a 0.5 mm ruler wants 204.124 mm."""
    assert 2 * of_scale(0.5) / 0.002 == pytest.approx(204.124, rel=1e-5)


def test_scatter_of_a_mean() -> None:
    """GUM 4.2.3: s 0.3 over 5 readings is 0.134164."""
    readings = np.array([-1.0, 1, -1, 1, 0]) * 0.3
    readings = 100 + readings * 0.3 / np.std(readings, ddof=1)
    assert mean_and_scatter(list(readings))[1] == pytest.approx(0.134164, rel=1e-5)


def test_the_diameter_counts_twice() -> None:
    """GUM 5.1.6: Q ~ d², 1.75 ± 0.03 mm rectangular: u 0.0173205 mm, 1.979 % of flow."""
    assert rectangular(0.03) == pytest.approx(0.0173205, rel=1e-5)
    assert 2 * rectangular(0.03) / 1.75 == pytest.approx(0.01979, rel=1e-3)
    sheet = flow_by_weight(1000, [2.98], 1.24, diameter_u_mm=rectangular(0.03), density_u_frac=0.0, balance_g=1e-6)
    assert sheet.flow_ratio.standard_ratio == pytest.approx(0.01979, rel=1e-3)


def test_gum_end_gauge_example_by_degrees_of_freedom() -> None:
    """GUM G.4.1 (Welch-Satterthwaite) against Student's t of a statistics library."""
    for count, scatter, other in ((5, 0.134164, 0.204124), (3, 0.4, 0.1), (10, 0.05, 0.2)):
        combined = math.hypot(scatter, other)
        freedom = combined**4 / (scatter**4 / (count - 1))
        assert coverage(scatter, combined, count) == pytest.approx(float(stats.t.ppf(0.97725, freedom)))
    assert coverage(0.0, 0.2, 1) == 2.0


def test_the_quotient_law_against_chance() -> None:
    """GUM 5.1.6 against its Supplement 1 (propagation of distributions by simulation, JCGM 101:2008)."""
    rng = np.random.default_rng(1)
    asked, measured = rng.normal(100, 0.3, 400_000), rng.normal(96.2, 0.25, 400_000)
    simulated = float(np.std(93 * asked / measured) / (93 * 100 / 96.2))
    assert of_product(0.3 / 100, 0.25 / 96.2) == pytest.approx(simulated, rel=0.01)


@pytest.mark.parametrize(("reading", "word"), [(3.79, "inches"), (9.62, "ten"), (88.0, "open a case")])
def test_what_is_no_calibration_is_refused(reading: float, word: str) -> None:
    with pytest.raises(BadInput, match=word):
        feed_rate(93, 100, [reading])
