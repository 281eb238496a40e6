"""Age replacement against published optima.

Source: Barlow & Proschan, Mathematical Theory of Reliability (1965); the worked example
eta 1000, shape 2.5, costs 1 and 5 is printed as 493.0470 in reliability-engineering teaching pages.
The uniform life is solved with pencil and paper: t* = -1/(c-1) + sqrt(1/(c-1)^2 + 2/(c-1)).
"""

import math

import numpy as np
import pytest

from feedwright.planning.prospect import age_optimum, age_policy, prospect, weighed
from feedwright.planning.values import RenewalCosts
from feedwright.wear.life import LifeTable, RenewalRates, integral, life_table
from feedwright.wear.standing import Standing
from feedwright.wear.values import Interval


def renewal_rates(exposure: np.ndarray, lives: np.ndarray, weight: np.ndarray) -> RenewalRates:
    table = LifeTable(exposure, lives, integral(exposure, lives), np.arange(weight.size))
    return table.curves(weight[None], "known")[0].rates


def weibull(eta: float, shape: float, points: int = 200_001) -> RenewalRates:
    exposure = np.linspace(0.0, 6 * eta, points)
    return one_life(exposure, np.exp(-((exposure / eta) ** shape)))


def one_life(exposure: np.ndarray, survival: np.ndarray) -> RenewalRates:
    return renewal_rates(exposure, survival[:, None], np.ones(1))


@pytest.mark.parametrize(
    ("eta", "shape", "failure", "best", "rate"),
    [
        (1000.0, 2.5, 5.0, 493.046958, 0.003462043),
        (1000.0, 2.5, 10.0, 354.574410, 0.004750547),
        (1.0, 2.0, 5.0, 0.510655, 4.085241794),
        (1.0, 2.0, 10.0, 0.336451, 6.056121443),
    ],
)
def test_weibull_optimum_is_the_published_one(
    eta: float, shape: float, failure: float, best: float, rate: float
) -> None:
    optimum = age_optimum(weibull(eta, shape), RenewalCosts(1.0, failure, 0.1, "EUR"))
    assert optimum.exposure == pytest.approx(best, rel=2e-3)
    assert optimum.cost_rate == pytest.approx(rate, rel=1e-5)


@pytest.mark.parametrize(("failure", "best", "rate"), [(5.0, 0.5, 8.0), (2.0, math.sqrt(3) - 1, 2 + math.sqrt(3))])
def test_uniform_life_gives_the_pencil_answer(failure: float, best: float, rate: float) -> None:
    exposure = np.linspace(0.0, 1.0, 100_001)
    optimum = age_optimum(one_life(exposure, 1.0 - exposure), RenewalCosts(1.0, failure, 0.1, "EUR"))
    assert optimum.exposure == pytest.approx(best, abs=2e-3)
    assert optimum.cost_rate == pytest.approx(rate, rel=1e-5)


def test_constant_hazard_is_never_renewed_by_age() -> None:
    optimum = age_optimum(weibull(1000.0, 1.0), RenewalCosts(1.0, 10.0, 0.1, "EUR"))
    assert math.isinf(optimum.exposure)


def test_waiting_past_the_best_age_costs_risk_less_life_gained() -> None:
    """The marginal rule of the same source: (cf - cp) P(fail) - C* x exposure gained, C* = 0.003462043 as printed."""
    costs, shape = RenewalCosts(1.0, 5.0, 0.1, "EUR"), 2.5
    median = 1000.0 * math.log(2.0) ** (1 / shape)
    table = life_table("weibull", np.log([median]), np.log([shape]), np.ones((1, 1)))
    one = table.of(np.ones((1, 1, 1)))
    policy = age_policy(table, table.curves(one, "")[0].rates, costs)
    surviving, earning = weighed(table, one, [policy])

    def waiting(age: float, more: float) -> float:
        standing = Standing.of(Interval(age, age, age))
        return prospect(table.exposure, surviving[:, 0], earning[:, 0], costs, standing).waiting(more)

    assert waiting(100.0, 50.0) == 0.0
    age, more = 700.0, 20.0
    risk = 1.0 - math.exp((age / 1000) ** shape - ((age + more) / 1000) ** shape)
    gained = more * (1.0 - 0.5 * risk)
    assert waiting(age, more) == pytest.approx(4.0 * risk - 0.003462043 * gained, rel=1e-2)


def test_unknown_life_is_weighed_whole_and_not_by_its_mean() -> None:
    exposure = np.linspace(0.0, 30_000.0, 60_001)
    lives = np.stack([np.exp(-((exposure / eta) ** 3.0)) for eta in (500.0, 1000.0, 2000.0)], axis=1)
    costs = RenewalCosts(1.0, 5.0, 0.1, "EUR")
    unsure = age_optimum(renewal_rates(exposure, lives, np.array([0.25, 0.5, 0.25])), costs)
    known = age_optimum(one_life(exposure, lives[:, 1]), costs)
    assert unsure.exposure < known.exposure
    assert unsure.cost_rate > known.cost_rate
