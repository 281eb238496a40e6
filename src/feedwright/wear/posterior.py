"""One pooled belief about a life from interval-censored findings: a grid over log median and log shape, no sampler.

The grid finds its own place: it is laid wide over the prior, then again over where the mass was found, until its
step is finer than the belief's own standard deviation. On such a grid sums are as good as integrals.
"""

import math

import numpy as np

from feedwright.catalogue.entry import Distribution, Life
from feedwright.wear.findings import HALF_OF_90, Floats
from feedwright.wear.life import Belief
from feedwright.wear.likelihood import Rows, log_likelihood

POINTS = 13
REACH_SD = 5.5
FINE = 1.05
"""A grid is fine where its step is at most so many of the standard deviations found on it."""
RIM = 1e-5
ROUNDS = 16
MANY_ROWS = 1000


def normal_of(low: float, high: float) -> float:
    """Standard deviation of a normal belief on the log whose 90 % band is low to high."""
    return max(math.log(high / low) / (2 * HALF_OF_90), 1e-6)


def log_prior(log_median: Floats, log_shape: Floats, life: Life) -> Floats:
    """Log density of the rule of thumb over a grid, (g, s), up to a constant."""
    of_median = (log_median - math.log(life.median.value)) / normal_of(life.median.low, life.median.high)
    of_shape = (log_shape - math.log(life.shape.value)) / normal_of(life.shape.low, life.shape.high)
    return np.asarray(-0.5 * (of_median[:, None] ** 2 + of_shape[None, :] ** 2))


def posterior(life: Life, rows: Rows, *, points: int = POINTS) -> Belief:
    """The belief about a life after these rows, all of one kind of part and product.

    ``points`` along each axis; the grid covers all but some 1e-7 of the mass. A flat prior is one whose bands are
    wide; with it the mode is the likelihood's.
    """
    centre, sd, reach = _start(life, rows, points)
    belief = _over(life, rows, centre, sd, reach, points)
    for _ in range(ROUNDS if rows.cell.size else 0):
        found, spread = _moments(belief)
        steps = [float(axis[1] - axis[0]) for axis in (belief.log_median, belief.log_shape)]
        fine = all(step <= FINE * s for s, step in zip(spread, steps, strict=True))
        if fine and _covers(belief):
            break
        centre, sd = found, [max(s, 0.6 * step) for s, step in zip(spread, steps, strict=True)]
        belief = _over(life, rows, centre, sd, REACH_SD, points)
    return belief


def _start(life: Life, rows: Rows, points: int) -> tuple[list[float], list[float], float]:
    """Where to lay the first grid: over the prior, or where every eighth of many rows puts the mass."""
    if rows.cell.size > MANY_ROWS:
        centre, sd = _moments(posterior(life, rows.only(np.arange(0, rows.cell.size, 8)), points=points))
        return centre, [s / 2 for s in sd], REACH_SD
    centre = [math.log(life.median.value), math.log(life.shape.value)]
    return centre, [normal_of(life.median.low, life.median.high), normal_of(life.shape.low, life.shape.high)], REACH_SD


def _covers(belief: Belief) -> bool:
    """True where next to nothing of the mass lies on the grid's rim."""
    weight = belief.weight
    return float(max(weight[0].sum(), weight[-1].sum(), weight[:, 0].sum(), weight[:, -1].sum())) < RIM


def _over(life: Life, rows: Rows, centre: list[float], sd: list[float], reach: float, points: int) -> Belief:
    steps = np.linspace(-reach, reach, points)
    log_median, log_shape = centre[0] + sd[0] * steps, centre[1] + sd[1] * steps
    told = log_likelihood(life.distribution, log_median, np.exp(log_shape), rows, 1)[0]
    return belief_of(life.distribution, log_median, log_shape, told + log_prior(log_median, log_shape, life))


def belief_of(distribution: Distribution, log_median: Floats, log_shape: Floats, log_weight: Floats) -> Belief:
    """The belief of unnormalised log weights (g, s)."""
    weight = np.exp(log_weight - log_weight.max())
    return Belief(distribution, log_median, log_shape, weight / weight.sum(), "findings")


def _moments(belief: Belief) -> tuple[list[float], list[float]]:
    mean, spread = [], []
    for axis, weight in ((belief.log_median, belief.weight.sum(axis=1)), (belief.log_shape, belief.weight.sum(axis=0))):
        middle = float(axis @ weight)
        mean.append(middle)
        spread.append(math.sqrt(float((axis - middle) ** 2 @ weight)))
    return mean, spread


def mean_of(belief: Belief, quantity: Floats) -> float:
    """Mean over the belief of a quantity on its grid (g, s)."""
    return float((belief.weight * quantity).sum())


def quantiles(axis: Floats, weight: Floats, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Points of an axis below which these shares of the weight lie, each grid point standing for its own step."""
    step = np.gradient(axis)
    ends = np.concatenate([[axis[0] - step[0] / 2], axis + step / 2])
    below = np.concatenate([[0.0], np.cumsum(weight / weight.sum())])
    return tuple(float(at) for at in np.interp(shares, below, ends))
