"""Life curves judged by scipy.stats and by closed forms of the Weibull life.

Sources: scipy.stats ``weibull_min`` and ``lognorm`` as judge; Abernethy, The New Weibull Handbook, and Barlow &
Proschan (1965) for mean life, percentiles and residual life (values recomputed in closed form:
mean residual life by the incomplete gamma function).
"""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from feedwright.catalogue.entry import Life, Sourced
from feedwright.wear.life import Belief, LifeCurve, curve, prior
from feedwright.wear.outlook import still_alive
from feedwright.wear.values import Interval

LN2 = math.log(2.0)
BETWEEN_POINTS = 5e-4
"""The curve is straight between its grid points, 2.3 % of exposure apart."""


def weibull(eta: float, shape: float) -> LifeCurve:
    """The curve of one life known exactly."""
    return known("weibull", eta * LN2 ** (1 / shape), shape)


def known(distribution: str, median: float, shape: float) -> LifeCurve:
    return curve(Belief(distribution, np.log([median]), np.log([shape]), np.ones((1, 1)), "known"))


@pytest.mark.parametrize("shape", [0.8, 1.0, 1.5, 2.5, 4.0])
def test_weibull_survival_agrees_with_scipy(shape: float) -> None:
    held, at = weibull(1000.0, shape), np.geomspace(1.0, 4000.0, 200)
    assert held.alive(at) == pytest.approx(stats.weibull_min(shape, scale=1000.0).sf(at), abs=BETWEEN_POINTS)


@pytest.mark.parametrize("shape", [0.7, 1.5, 3.0])
def test_lognormal_survival_agrees_with_scipy(shape: float) -> None:
    held, at = known("lognormal", 300.0, shape), np.geomspace(1.0, 4000.0, 200)
    assert held.alive(at) == pytest.approx(stats.lognorm(1 / shape, scale=300.0).sf(at), abs=BETWEEN_POINTS)


@pytest.mark.parametrize(
    ("shape", "mean", "first", "tenth", "half"),
    [
        (1.0, 1.000000, 0.010050, 0.105361, 0.693147),
        (1.5, 0.902745, 0.046572, 0.223076, 0.783220),
        (2.0, 0.886227, 0.100251, 0.324593, 0.832555),
        (2.5, 0.887264, 0.158808, 0.406510, 0.863635),
    ],
)
def test_percentiles_and_mean_over_scale(shape: float, mean: float, first: float, tenth: float, half: float) -> None:
    held = weibull(1.0, shape)
    assert held.quantile(0.01) == pytest.approx(first, rel=1e-3)
    assert held.quantile(0.1) == pytest.approx(tenth, rel=1e-3)
    assert held.quantile(0.5) == pytest.approx(half, rel=1e-3)
    assert 1 / held.rates.failures[-1] == pytest.approx(mean, rel=1e-3)


@pytest.mark.parametrize(("age", "tenth", "half"), [(0.0, 324.5928, 832.5546), (500.0, 96.1212, 471.1576)])
def test_residual_life_of_a_part_still_alive(age: float, tenth: float, half: float) -> None:
    """Scale 1000, shape 2: eta ((a/eta)^b - ln(1-p))^(1/b) - a."""
    left = still_alive(weibull(1000.0, 2.0), Interval(age, age, age), np.array([tenth, half]))
    assert left == pytest.approx([0.9, 0.5], abs=2e-4)


def test_the_mixture_over_an_unknown_median_agrees_with_quadrature() -> None:
    """Median lognormal about 100 within a factor 3 (90 %), shape 3: the integral of S over it, by scipy.integrate."""
    belief = prior(
        Life(
            "weibull",
            Sourced(100.0, 100.0 / 3, 300.0, "exposure", "assumed"),
            Sourced(3.0, 3.0, 3.0, "ratio", "assumed"),
        )
    )
    held, sd = curve(belief), math.log(3.0) / stats.norm.ppf(0.95)

    def alive(at: float) -> float:
        def part(z: float) -> float:
            return float(stats.norm.pdf(z) * math.exp(-LN2 * (at / (100.0 * math.exp(sd * z))) ** 3.0))

        return float(integrate.quad(part, -6, 6, epsabs=1e-9)[0])

    for at in (10.0, 40.0, 100.0, 250.0, 800.0):
        assert float(held.alive(at)) == pytest.approx(alive(at), abs=5e-4)
