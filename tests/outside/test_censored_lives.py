"""Lives from censored data against published fits, in the limit of a flat prior.

Sources (log-likelihoods on the natural scale; the fits were recomputed to more digits than printed):

- NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3: 20 units, 10 failures by 500 h: shape 1.7208,
  scale 606.5280.
- Nelson, Applied Life Data Analysis (1982), p. 318, generator fans (also SAS/QC RELIABILITY's first example and a test
  of SciPy's own): shape 1.0584, scale 26.2968 thousand hours.
- Abernethy, The New Weibull Handbook, appendix C.5: shape 2.257, scale 4900.1.
- Nelson (1982), p. 415, turbine parts inspected at eight ages (R survival's ``cracks``): scale 71.6904, shape 1.48537
  months, log-likelihood -309.668; intercept 7.6880 and scale 0.674 in days.
- Nelson (1982), p. 409, turbine wheels inspected once each (Meeker & Escobar 1998, p. 135): lognormal mu 3.6999,
  sigma 0.7199; Weibull scale 46.7772, shape 2.17578, log-likelihood -189.2872.
- Finkelstein & Wolfe, Biometrics 41 (1985), breast cosmesis, all 94 intervals: Weibull scale 37.3848, shape 1.5000.
- The general-purpose survival library ``lifelines`` as second judge on interval-censored rows of our own.
"""

import math
import warnings

import numpy as np
import pytest
from scipy import optimize

from feedwright.catalogue.entry import Distribution, Life, Sourced
from feedwright.wear.likelihood import Rows, log_likelihood
from feedwright.wear.posterior import mean_of, posterior

INF = math.inf
LN2 = math.log(2.0)


def rows(low: list[float], high: list[float], entry: float = 0.0) -> Rows:
    lower, upper = np.array(low, dtype=float)[:, None], np.array(high, dtype=float)[:, None]
    return Rows(lower, upper, np.full_like(lower, entry), np.zeros(lower.shape[0], dtype=np.intp))


def counted(low: list[float], high: list[float], count: list[int]) -> Rows:
    return rows(list(np.repeat(low, count)), list(np.repeat(high, count)))


def best(distribution: Distribution, held: Rows, start: tuple[float, float]) -> tuple[float, float, float]:
    """Median, shape and log-likelihood where our likelihood is greatest."""

    def cost(at: np.ndarray) -> float:
        return -float(log_likelihood(distribution, at[:1], np.exp(at[1:]), held, 1)[0, 0, 0])

    found = optimize.minimize(cost, np.log(start), method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-10})
    return float(np.exp(found.x[0])), float(np.exp(found.x[1])), -float(found.fun)


def scale_of(median: float, shape: float) -> float:
    return median / LN2 ** (1 / shape)


FAILED_BY_500 = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
NIST = rows([*FAILED_BY_500, *[500] * 10], [*FAILED_BY_500, *[INF] * 10])

FANS_FAILED = [450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750]
FANS_RUNNING = (
    [460, 1560, 1660] + [1850] * 5 + [2030] * 3 + [2200] + [3000] * 4 + [3200] + [3750] * 2 + [4150] * 4 + [4300] * 4
    + [4850] * 4 + [5000] * 3 + [6100] * 3 + [6300] + [6450] * 2 + [6700, 7450] + [7800] * 2 + [8100] * 2 + [8200]
    + [8500] * 3 + [8750] * 2 + [9400, 9900] + [10100] * 3 + [11500]
)  # fmt: skip
FANS = rows(FANS_FAILED + FANS_RUNNING, FANS_FAILED + [INF] * len(FANS_RUNNING))

HANDBOOK_FAILED = [1500, 2250, 4000, 4300, 7000]
HANDBOOK = rows([*HANDBOOK_FAILED, 1750, 5000], [*HANDBOOK_FAILED, INF, INF])

AGES = [6.12, 19.92, 29.64, 35.40, 39.72, 45.24, 52.32, 63.48]
CRACKED = [5, 16, 12, 18, 18, 2, 6, 17]
TURBINE_PARTS = counted([0.0, *AGES], [*AGES, INF], [*CRACKED, 73])

WHEEL_AGES = [4, 10, 14, 18, 22, 26, 30, 34, 38, 42, 46]
WHEELS_CRACKED = [0, 4, 2, 7, 5, 9, 9, 6, 22, 21, 21]
WHEELS_SOUND = [39, 49, 31, 66, 25, 30, 33, 7, 12, 19, 15]
WHEELS = counted([0.0] * 11 + WHEEL_AGES, WHEEL_AGES + [INF] * 11, WHEELS_CRACKED + WHEELS_SOUND)

COSMESIS = """45- 25/37 37- 6/10 46- 0/5 0/7 26/40 18- 46- 46- 24- 46- 27/34 36- 7/16 36/44 5/11 17- 46- 19/35 7/14
36/48 17/25 37/44 37- 24- 0/8 40- 32- 4/11 17/25 33- 15- 46- 19/26 11/15 11/18 37- 22- 38- 34- 46- 5/12 36- 46- 8/12 0/5
30/34 0/22 5/8 13- 24/31 12/20 10/17 17/27 11- 8/21 17/23 33/40 4/9 24/30 31- 11- 16/24 13/39 14/19 13- 19/32 4/8 11/13
34- 34- 16/20 13- 30/36 18/25 16/24 18/24 17/26 35- 16/60 32- 15/22 35/39 23- 11/17 21- 44/48 22/32 11/20 14/17 10/35
48-"""


def cosmesis() -> Rows:
    pairs = [
        (float(word[:-1]), INF) if word.endswith("-") else tuple(map(float, word.split("/")))
        for word in COSMESIS.split()
    ]
    return rows([low for low, _ in pairs], [high for _, high in pairs])


@pytest.mark.parametrize(
    ("held", "start", "scale", "shape", "log_likelihood_there", "within"),
    [
        (NIST, (500.0, 2.0), 606.5280, 1.7208, -75.135, 1e-4),
        (FANS, (20_000.0, 1.2), 26_296.8, 1.0584, None, 1e-4),
        (HANDBOOK, (4000.0, 2.0), 4900.1, 2.257, None, 5e-4),
        (TURBINE_PARTS, (60.0, 1.5), 71.6904, 1.48537, -309.668, 1e-5),
        (WHEELS, (40.0, 2.0), 46.7772, 2.17578, -189.2872, 1e-5),
        (cosmesis(), (30.0, 1.5), 37.3848, 1.5000, -148.79243, 1e-5),
    ],
    ids=["nist", "fans", "handbook", "turbine parts", "turbine wheels", "cosmesis"],
)
def test_weibull_fit_is_the_published_one(
    held: Rows, start: tuple[float, float], scale: float, shape: float, log_likelihood_there: float | None,
    within: float,
) -> None:  # fmt: skip
    median, steep, there = best("weibull", held, start)
    assert scale_of(median, steep) == pytest.approx(scale, rel=within)
    assert steep == pytest.approx(shape, rel=within)
    if log_likelihood_there is not None:
        assert there == pytest.approx(log_likelihood_there, abs=1e-3)


def test_turbine_parts_in_days_as_r_prints_them() -> None:
    """Intercept 7.6880, scale 0.674; the printed days rest on rounded inspection days."""
    median, shape, _ = best("weibull", TURBINE_PARTS, (60.0, 1.5))
    days = scale_of(median, shape) * 365.25 / 12
    assert math.log(days) == pytest.approx(7.6880, abs=1e-3)
    assert 1 / shape == pytest.approx(0.674, abs=1e-3)


def test_lognormal_fit_of_the_turbine_wheels() -> None:
    median, shape, there = best("lognormal", WHEELS, (40.0, 1.4))
    assert math.log(median) == pytest.approx(3.699908, abs=1e-4)
    assert 1 / shape == pytest.approx(0.719886, abs=1e-4)
    assert there == pytest.approx(-190.7316, abs=1e-3)


def life(median: float, median_sd: float, shape: float, shape_sd: float) -> Life:
    def band(value: float, sd: float) -> Sourced:
        return Sourced(
            value, value * math.exp(-1.6448536 * sd), value * math.exp(1.6448536 * sd), "exposure", "assumed"
        )

    return Life("weibull", band(median, median_sd), band(shape, shape_sd))


def test_a_flat_prior_puts_the_belief_about_the_published_fit() -> None:
    """With a prior wide beyond all reason the posterior's mode is the fit, and its band is as wide as printed there."""
    belief = posterior(life(60.0, 5.0, 2.0, 2.0), TURBINE_PARTS, points=61)
    g, s = np.unravel_index(int(belief.weight.argmax()), belief.weight.shape)
    shape = float(np.exp(belief.log_shape[s]))
    step = float(belief.log_median[1] - belief.log_median[0])
    assert belief.log_median[g] == pytest.approx(math.log(71.6904 * LN2 ** (1 / 1.48537)), abs=step)
    assert math.log(shape) == pytest.approx(math.log(1.48537), abs=step)
    spread = math.sqrt(mean_of(belief, (belief.log_shape - math.log(shape))[None, :] ** 2))
    assert spread == pytest.approx(0.0987, rel=0.03), "R prints the standard error of log scale as 0.0987"


@pytest.mark.parametrize("points", [13, 17, 41])
def test_the_grid_is_fine_enough_at_any_number_of_points(points: int) -> None:
    belief = posterior(life(50.0, 0.7, 2.0, 0.35), TURBINE_PARTS, points=points)
    finest = posterior(life(50.0, 0.7, 2.0, 0.35), TURBINE_PARTS, points=161)
    for quantity in (lambda b: np.exp(b.log_median)[:, None], lambda b: np.exp(b.log_shape)[None, :]):
        assert mean_of(belief, quantity(belief)) == pytest.approx(mean_of(finest, quantity(finest)), rel=1e-4)


def test_a_survival_library_agrees_on_interval_censored_rows() -> None:
    """1000 parts looked at every 120 to 300 h, a third still alive."""
    import lifelines  # heavy: only here

    draw = np.random.default_rng(7)
    lives, step = 1000 * draw.weibull(1.7, 1000), draw.uniform(120, 300, 1000)
    low = np.floor(lives / step) * step
    high = np.where(draw.random(1000) < 0.33, INF, low + step)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitted = lifelines.WeibullFitter().fit_interval_censoring(low, high)
    median, shape, there = best("weibull", rows(list(low), list(high)), (800.0, 1.5))
    assert scale_of(median, shape) == pytest.approx(fitted.lambda_, rel=1e-4)
    assert shape == pytest.approx(fitted.rho_, rel=1e-4)
    assert there == pytest.approx(fitted.log_likelihood_, rel=1e-6)
    believed = posterior(life(900.0, 3.0, 2.0, 2.0), rows(list(low), list(high)))
    assert mean_of(believed, np.exp(believed.log_shape)[None, :]) == pytest.approx(fitted.rho_, rel=2e-3)


def test_binning_an_exact_life_to_its_date_of_finding_is_not_the_same_as_knowing_it() -> None:
    """As intervals shrink the interval fit becomes that of exact times; scaling all times scales the median alone."""
    exact = best("weibull", NIST, (500.0, 2.0))
    narrow = rows([t - 0.01 for t in FAILED_BY_500] + [500] * 10, [t + 0.01 for t in FAILED_BY_500] + [INF] * 10)
    assert best("weibull", narrow, (500.0, 2.0))[:2] == pytest.approx(exact[:2], rel=1e-4)
    tenfold = rows([10 * t for t in [*FAILED_BY_500, *[500] * 10]], [10 * t for t in FAILED_BY_500] + [INF] * 10)
    assert best("weibull", tenfold, (5000.0, 2.0))[0] == pytest.approx(10 * exact[0], rel=1e-5)
