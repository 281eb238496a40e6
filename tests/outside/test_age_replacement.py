"""Age replacement against published optima.

Source: Barlow & Proschan, Mathematical Theory of Reliability (1965); the worked example
eta 1000, shape 2.5, costs 1 and 5 is printed as 493.0470 in reliability-engineering teaching pages.
The uniform life is solved with pencil and paper: t* = -1/(c-1) + sqrt(1/(c-1)^2 + 2/(c-1)).
"""

import math

import numpy as np
import pytest

from feedwright.planning.renew import age_optimum, best_wait
from feedwright.planning.values import RenewalCosts


def weibull(eta: float, shape: float, points: int = 200_001) -> tuple[np.ndarray, np.ndarray]:
    exposure = np.linspace(0.0, 6 * eta, points)
    return exposure, np.exp(-((exposure / eta) ** shape))


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
    optimum = age_optimum(*weibull(eta, shape), RenewalCosts(1.0, failure, "EUR"))
    assert optimum.exposure == pytest.approx(best, rel=2e-3)
    assert optimum.cost_rate == pytest.approx(rate, rel=1e-5)


@pytest.mark.parametrize(("failure", "best", "rate"), [(5.0, 0.5, 8.0), (2.0, math.sqrt(3) - 1, 2 + math.sqrt(3))])
def test_uniform_life_gives_the_pencil_answer(failure: float, best: float, rate: float) -> None:
    exposure = np.linspace(0.0, 1.0, 100_001)
    optimum = age_optimum(exposure, 1.0 - exposure, RenewalCosts(1.0, failure, "EUR"))
    assert optimum.exposure == pytest.approx(best, abs=2e-3)
    assert optimum.cost_rate == pytest.approx(rate, rel=1e-5)


def test_constant_hazard_is_never_renewed_by_age() -> None:
    exposure, survival = weibull(1000.0, 1.0)
    costs = RenewalCosts(1.0, 10.0, "EUR")
    optimum = age_optimum(exposure, survival, costs)
    assert math.isinf(optimum.exposure)
    assert math.isinf(best_wait(exposure, survival, 500.0, optimum, costs))


def test_marginal_rule_stops_where_the_optimum_lies() -> None:
    exposure, survival = weibull(1000.0, 2.5)
    costs = RenewalCosts(1.0, 5.0, "EUR")
    optimum = age_optimum(exposure, survival, costs)
    assert best_wait(exposure, survival, 100.0, optimum, costs) == pytest.approx(393.05, abs=0.5)
    assert best_wait(exposure, survival, 700.0, optimum, costs) == 0.0
