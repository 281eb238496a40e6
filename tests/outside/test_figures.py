"""Intervals of counted figures against printed tables, worked examples and general libraries; calendars against theory.

Sources, as remembered and reproduced here digit by digit:
- from memory: NIST/SEMATECH e-Handbook of Statistical Methods 8.4.5.1 (factors for the mean time between failures of a
  time-censored test, and the example of 800 hours with 2 failures) and 7.2.4.1 (4 defective of 20);
- from memory: Garwood's 95 % limits of a Poisson count, as printed in Biometrika Tables for Statisticians I, table 40;
- Barlow & Proschan, Mathematical Theory of Reliability (1965), chapter 3: the renewal equation, solved here by steps;
- MIL-HDBK-338B 5.4: inherent availability is MTBF over MTBF and MTTR.
The libraries are SciPy's statistics (binomial test, chi-square) and lifelines (exponential lives).
"""

import math
from datetime import UTC, datetime

import numpy as np
import pytest
from lifelines import ExponentialFitter
from scipy.stats import binomtest, chi2, poisson

from feedwright.planning.intervals import expected_count, expected_sum, share, time_between
from feedwright.planning.keeping import Printed, Work, machine_line
from feedwright.planning.replay import NEVER, Place, replay
from feedwright.planning.values import RenewalCosts

GARWOOD_95 = {
    0: (0.0, 3.689), 1: (0.0253, 5.572), 2: (0.242, 7.225), 3: (0.619, 8.767), 4: (1.090, 10.242), 5: (1.623, 11.668),
    6: (2.202, 13.059), 7: (2.814, 14.423), 8: (3.454, 15.763), 9: (4.115, 17.085), 10: (4.795, 18.390),
}  # fmt: skip
NIST_FACTORS = {
    # failures: (confidence: lower, upper factor on the estimate)
    1: {0.6: (0.3340, 4.4814), 0.8: (0.2571, 9.4912), 0.9: (0.2108, 19.4958), 0.95: (0.1795, 39.4978)},
    2: {0.6: (0.4674, 2.4260), 0.8: (0.3758, 3.7607), 0.9: (0.3177, 5.6281), 0.95: (0.2768, 8.2573)},
}
NIST_NONE_FAILED = {0.6: 0.6213, 0.8: 0.4343, 0.9: 0.3338, 0.95: 0.2711}


@pytest.mark.parametrize("count", GARWOOD_95)
def test_the_limits_of_a_count_are_those_of_the_printed_table(count: int) -> None:
    held = expected_count(count, 0.95)
    assert (held.low, held.high) == pytest.approx(GARWOOD_95[count], abs=6e-4)


def test_time_between_failures_by_the_handbooks_factors_and_its_example() -> None:
    for failures, factors in NIST_FACTORS.items():
        for confidence, printed in factors.items():
            held = time_between(1000.0, failures, confidence)
            assert (held.low / held.mid, held.high / held.mid) == pytest.approx(printed, abs=5e-5, rel=1e-5)
    for confidence, factor in NIST_NONE_FAILED.items():
        held = time_between(1000.0, 0, confidence)
        assert held.low == pytest.approx(1000 * factor, abs=0.06)
        assert held.mid == held.high == math.inf
    example = time_between(800.0, 2, 0.9)
    assert (round(example.low), example.mid, round(example.high)) == (127, 400.0, 2251)


def test_time_between_failures_is_what_a_survival_library_makes_of_the_gaps() -> None:
    draw = np.random.default_rng(5)
    gaps, seen = draw.exponential(120.0, 40), draw.random(40) < 0.7
    fitted = ExponentialFitter().fit(gaps, seen)
    assert time_between(float(gaps.sum()), int(seen.sum())).mid == pytest.approx(fitted.lambda_, rel=1e-4)


def test_a_share_is_that_of_the_handbooks_example_and_of_the_exact_test_of_a_library() -> None:
    example = share(4, 20, 0.9)
    assert (example.low, example.high) == pytest.approx((0.071354, 0.401029), abs=1e-6)
    for count, of in ((0, 7), (1, 3), (7, 7), (3, 250), (40, 90), (0, 1)):
        judged = binomtest(count, of).proportion_ci(0.9, method="exact")
        held = share(count, of, 0.9)
        assert (held.low, held.high) == pytest.approx((judged.low, judged.high), abs=1e-9)


def test_a_sum_of_equal_things_is_a_count_and_of_unequal_ones_the_published_gamma_limits() -> None:
    """Fay & Feuer (1997), by SciPy's chi-square with broken degrees of freedom."""
    equal, count = expected_sum([12.5] * 7), expected_count(7).times(12.5)
    assert (equal.low, equal.mid, equal.high) == pytest.approx((count.low, count.mid, count.high))
    weights = np.array([3.0, 18.0, 18.0, 45.0, 4.5])
    y, v, most = weights.sum(), (weights**2).sum(), 60.0
    held = expected_sum(list(weights), heaviest=most)
    assert held.low == pytest.approx(v / (2 * y) * chi2.ppf(0.05, 2 * y**2 / v))
    low_df = 2 * (y + most) ** 2 / (v + most**2)
    assert held.high == pytest.approx((v + most**2) / (2 * (y + most)) * chi2.ppf(0.95, low_df))


def test_what_failures_cost_lies_within_its_band_at_least_as_often_as_it_says() -> None:
    """Made-up years: four failures expected of each of three costs; the true mean is known."""
    draw, costs = np.random.default_rng(11), np.array([5.0, 20.0, 60.0])
    truth, held, years = 4 * costs.sum(), 0, 2000
    for _ in range(years):
        happened = np.repeat(costs, draw.poisson(4.0, 3))
        band = expected_sum(list(happened), heaviest=60.0)
        held += band.low <= truth <= band.high
    assert 0.89 <= held / years <= 0.97


def _repair(number: int, hours: float) -> Work:
    at = datetime(2026, 5, 1, tzinfo=UTC)
    return Work(at, "failed", "Alder", "Nozzle", "Nozzle failed", str(number), True, False, hours * 60, 0.0, 0.0, 0.0,
                "", f"renewal {number}", number)  # fmt: skip


def test_availability_is_mtbf_over_mtbf_and_mttr() -> None:
    hours = (0.5, 1.0, 2.5, 0.8)
    line = machine_line("Alder", [_repair(n, h) for n, h in enumerate(hours)], Printed(500.0, 9.0, 60, 3), 0.0)
    mtbf, mttr = 500.0 / 4, sum(hours) / 4
    assert line.availability_frac
    assert line.availability_frac.mid == pytest.approx(mtbf / (mtbf + mttr))
    assert line.time_between_h.mid == mtbf


def test_availability_lies_within_its_band_when_machines_run_and_fail_by_chance() -> None:
    """Up times exponential with mean 100 h over 1000 h of printing, repairs of 0.5 to 3 h: long-run share known."""
    draw = np.random.default_rng(3)
    truth, held, tries = 100.0 / (100.0 + 1.75), 0, 1000
    for _ in range(tries):
        repairs = draw.uniform(0.5, 3.0, draw.poisson(10.0))
        line = machine_line("Alder", [_repair(n, h) for n, h in enumerate(repairs)], Printed(1000.0, 9.0, 60, 3), 0.0)
        band = line.availability_frac
        assert band
        held += band.low <= truth <= band.high
    assert held / tries >= 0.89


FARMS = 3000
COSTS = RenewalCosts(planned=1.0, failure=5.0, look=0.0, currency="EUR")


def _place(weeks: int, median: float, shape: float, *, lived: float = 0.0, failed: bool = False) -> Place:
    return Place(0, np.full(weeks, 1.0), 0.0, lived, failed, np.full(FARMS, median), np.full(FARMS, shape), False,
                 COSTS)  # fmt: skip


def test_parts_that_do_not_age_fail_as_often_whatever_the_calendar() -> None:
    """An exponential life knows no wear: failures are Poisson with total exposure over the mean life."""
    mean, weeks = 20.0, 100
    for every in (10, NEVER):
        made = replay([_place(weeks, mean * math.log(2), 1.0)], every, 0.0, np.random.default_rng(1))
        judged = poisson(weeks / mean).ppf([0.05, 0.5, 0.95])
        assert (made.failures.low, made.failures.mid, made.failures.high) == tuple(judged)


def _renewal_function(until: float, shape: float, steps: int = 2000) -> float:
    """M(t) = F(t) + integral of M(t - x) dF(x), by steps."""
    grid = np.linspace(0.0, until, steps + 1)
    failed = 1.0 - np.exp(-(grid**shape))
    chance = np.diff(failed)
    held = np.zeros(steps + 1)
    for at in range(1, steps + 1):
        held[at] = failed[at] + held[at - 1 :: -1][:at] @ chance[:at] if at > 1 else failed[at]
    return float(held[-1])


def test_block_replacement_fails_as_the_renewal_equation_says() -> None:
    """Rounds every 10 weeks of parts with shape 2 and a characteristic life of 20 weeks, over whole cycles."""
    shape, eta, every, cycles = 2.0, 20.0, 10, 6
    weeks = every * cycles
    places = [_place(weeks, eta * math.log(2) ** (1 / shape), shape) for _ in range(60)]
    made = replay(places, every, 0.0, np.random.default_rng(2))
    expected = 60 * cycles * _renewal_function(every / eta, shape)
    # rounds begin anywhere in a cycle, so that the weeks hold five whole cycles and two parts of one: a little off
    assert made.failures.mid == pytest.approx(expected, rel=0.06)
    assert made.renewals.mid == 60 * cycles


def test_the_part_that_was_there_lasts_as_long_as_it_truly_did() -> None:
    """It failed in week 7; parts after it are nearly everlasting."""
    made = replay([_place(20, 1e6, 3.0, lived=6.5, failed=True)], NEVER, 3.0, np.random.default_rng(4))
    assert (made.failures.low, made.failures.high) == (1.0, 1.0)
    assert made.saved.mid == pytest.approx(5.0 - 3.0)
    outlived = replay([_place(20, 1.0, 3.0, lived=21.0)], NEVER, 0.0, np.random.default_rng(4))
    assert outlived.failures.high == 0
