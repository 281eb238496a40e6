"""The sums over many parts are those of the parts one by one, however they are taken."""

import math

import numpy as np
import pytest
from scipy import stats

from feedwright.wear.likelihood import ROWS_TO_BIN, Rows, log_likelihood, row_log_likelihood

LOG_MEDIAN, SHAPE = np.linspace(6.0, 7.5, 9), np.linspace(0.8, 4.0, 7)


def rows_of(count: int, *, entry: bool = False) -> Rows:
    draw = np.random.default_rng(4)
    low = 1000 * draw.weibull(1.7, (count, 1))
    high = low * draw.uniform(1.001, 3.0, (count, 1))
    high[draw.random((count, 1)) < 0.3] = np.inf
    low[draw.random((count, 1)) < 0.2] = 0.0
    exact = draw.random(count) < 0.1
    high[exact & (low[:, 0] > 0)] = low[exact & (low[:, 0] > 0)]
    met = 0.5 * low if entry else np.zeros_like(low)
    return Rows(low, high, met, draw.integers(0, 3, count).astype(np.intp))


@pytest.mark.parametrize("count", [20, ROWS_TO_BIN * 3])
@pytest.mark.parametrize("entry", [False, True])
def test_groups_together_equal_their_parts_one_by_one(count: int, entry: bool) -> None:
    rows = rows_of(count, entry=entry)
    together = log_likelihood("weibull", LOG_MEDIAN, SHAPE, rows, 3)
    each = row_log_likelihood("weibull", LOG_MEDIAN, SHAPE, rows)
    for cell in range(3):
        own = each[rows.cell == cell]
        sound = own.min(axis=0) > -600.0  # beyond, a single part's chance is below what a number can hold
        assert sound.sum() > 40
        assert together[cell][sound] == pytest.approx(own.sum(axis=0)[sound], rel=1e-6, abs=1e-4)


def test_each_part_counts_as_scipy_says() -> None:
    """Interval, censored, exact and met in mid-life, by scipy.stats.weibull_min."""
    median, shape = math.exp(LOG_MEDIAN[4]), float(SHAPE[3])
    law = stats.weibull_min(shape, scale=median / math.log(2) ** (1 / shape))
    low = np.array([100.0, 500.0, 700.0, 800.0])[:, None]
    high = np.array([400.0, np.inf, 700.0, 900.0])[:, None]
    entry = np.array([0.0, 0.0, 0.0, 300.0])[:, None]
    rows = Rows(low, high, entry, np.zeros(4, dtype=np.intp))
    told = row_log_likelihood("weibull", LOG_MEDIAN, SHAPE, rows)[:, 4, 3]
    expected = [
        math.log(law.sf(100) - law.sf(400)), law.logsf(500), law.logpdf(700),
        math.log(law.sf(800) - law.sf(900)) - law.logsf(300),
    ]  # fmt: skip
    assert told == pytest.approx(expected)


def test_an_unknown_age_is_summed_over_and_each_age_by_the_chance_to_have_lived_to_it() -> None:
    ages = np.array([[0.0, 200.0, 400.0]])
    rows = Rows(ages + 300.0, np.full((1, 3), np.inf), ages, np.zeros(1, dtype=np.intp))
    told = log_likelihood("weibull", LOG_MEDIAN, SHAPE, rows, 1)[0, 4, 3]
    median, shape = math.exp(LOG_MEDIAN[4]), float(SHAPE[3])

    def alive(t: float) -> float:
        return math.exp(-math.log(2) * (t / median) ** shape)

    assert told == pytest.approx(math.log(sum(alive(a + 300) for a in ages[0]) / sum(alive(a) for a in ages[0])))


def test_no_findings_say_nothing() -> None:
    nothing = Rows(np.zeros((0, 1)), np.zeros((0, 1)), np.zeros((0, 1)), np.zeros(0, dtype=np.intp))
    assert (log_likelihood("weibull", LOG_MEDIAN, SHAPE, nothing, 2) == 0).all()
