"""What is believed of a part kind's life: a grid over median life and shape, and the curve it predicts.

The rule of thumb is wide on purpose: its 90 % band becomes a normal belief on the log of the median life,
and the same for the shape. The predictive curve is the mixture over that whole belief, so that what is
uncertain is weighed and not averaged away.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.entry import Life
from feedwright.wear.values import Interval

Floats = NDArray[np.float64]

HALF_OF_90 = 1.6448536269514722
"""Standard normal quantile at 95 %: half the width of a 90 % band in standard deviations."""
GRID_MEDIAN, GRID_SHAPE, GRID_REACH_SD = 41, 15, 4.0
CURVE_POINTS = 600
CURVE_FROM, CURVE_TO = 1e-4, 80.0
"""Reach of the predictive curve, in median lives."""
NEGLIGIBLE = 1e-4
"""Lives less likely than this part of the likeliest are left out of a table."""


@dataclass(frozen=True, slots=True)
class Belief:
    """Weights over log median life, shape (g,), and log shape, shape (s,); ``weight`` (g, s) sums to 1."""

    distribution: str
    log_median: Floats
    log_shape: Floats
    weight: Floats
    source: str
    """What it rests on, in words."""


@dataclass(frozen=True, slots=True)
class RenewalRates:
    """What renewing at an age brings in the long run: planned renewals and failures per unit of exposure.

    All shape (n,), by the age on ``exposure``. Each is the mean over the belief of that life's own rates,
    since the true life, though unknown, stays the same from one part to the next.
    """

    exposure: Floats
    planned: Floats
    failures: Floats


@dataclass(frozen=True, slots=True)
class LifeCurve:
    """Share of such parts alive by exposure: ``survival`` (n,) on an ascending grid ``exposure`` (n,) from 0."""

    exposure: Floats
    survival: Floats
    source: str
    rates: "RenewalRates"

    def alive(self, exposure: Floats | float) -> Floats:
        """Share alive at each exposure; beyond the grid its last value."""
        return np.asarray(np.interp(exposure, self.exposure, self.survival))

    def quantile(self, failed_frac: float) -> float:
        """Exposure by which that share has failed."""
        return float(np.interp(-failed_frac, -(1.0 - self.survival)[::-1], self.exposure[::-1]))

    @property
    def life(self) -> Interval:
        """The life such a part is believed to have: the median, and the band that holds 80 %."""
        return Interval(self.quantile(0.1), self.quantile(0.5), self.quantile(0.9))


def _axis(mid: float, low: float, high: float, points: int) -> tuple[Floats, Floats]:
    """Grid over a log-normal belief whose 90 % band is low to high, and the weights on it."""
    sd = max(math.log(high / low) / (2 * HALF_OF_90), 1e-6)
    steps = np.linspace(-GRID_REACH_SD, GRID_REACH_SD, points)
    weights = np.exp(-0.5 * steps**2)
    return math.log(mid) + sd * steps, weights / weights.sum()


def prior(life: Life, product_ratio: float = 1.0) -> Belief:
    """The belief that the catalogue's rule of thumb amounts to, for a product that lasts so many times longer."""
    median, shape = life.median, life.shape
    log_median, over_median = _axis(median.value, median.low, median.high, GRID_MEDIAN)
    log_shape, over_shape = _axis(shape.value, shape.low, shape.high, GRID_SHAPE)
    return Belief(
        distribution=life.distribution,
        log_median=log_median + math.log(product_ratio),
        log_shape=log_shape,
        weight=over_median[:, None] * over_shape[None, :],
        source="the rule of thumb",
    )


def curve(belief: Belief) -> LifeCurve:
    """The predictive survival curve of a belief, and its renewal rates."""
    table = life_table(belief.distribution, belief.log_median, belief.log_shape, belief.weight)
    return table.curves(table.of(belief.weight)[None], belief.source)[0]


@dataclass(frozen=True, slots=True)
class LifeTable:
    """Every believable life of one part kind on a common grid, from which any belief about it is a weighted sum.

    ``alive`` (n, m): share alive at ``exposure`` (n,) for each of m lives; ``length`` (n, m) its integral up to there.
    ``kept`` picks those lives out of a flattened grid (g, s).
    """

    exposure: Floats
    alive: Floats
    length: Floats
    kept: NDArray[np.intp]

    def of(self, weight: Floats) -> Floats:
        """Weights (..., g, s) as weights (..., m) of the lives in the table, each summing to 1."""
        kept = weight.reshape(*weight.shape[:-2], -1)[..., self.kept]
        return np.asarray(kept / kept.sum(axis=-1, keepdims=True))

    def curves(self, weights: Floats, source: str) -> list[LifeCurve]:
        """The predictive curves of some beliefs, weights (c, m), with their renewal rates.

        A cycle that ends at age t or at failure lasts ``L = integral of S to t`` and ends planned with chance ``S(t)``.
        Source: Barlow & Proschan 1965.
        """
        survival = self.alive @ weights.T
        planned = (self.alive[1:] / self.length[1:]) @ weights.T
        failures = ((1.0 - self.alive[1:]) / self.length[1:]) @ weights.T
        return [
            LifeCurve(self.exposure, alive, source, RenewalRates(self.exposure[1:], good, failed))
            for alive, good, failed in zip(survival.T, planned.T, failures.T, strict=True)
        ]

    def survivals(self, weights: Floats, source: str) -> list[LifeCurve]:
        """The same without their renewal rates, for what only outlives."""
        nothing = RenewalRates(self.exposure[:0], self.exposure[:0], self.exposure[:0])
        return [LifeCurve(self.exposure, alive, source, nothing) for alive in (self.alive @ weights.T).T]


def life_table(distribution: str, log_median: Floats, log_shape: Floats, most: Floats) -> LifeTable:
    """The table of all lives whose weight is not negligible; ``most`` (g, s) the greatest weight each will get."""
    kept = np.flatnonzero(most.ravel() > NEGLIGIBLE * most.max())
    over, at = np.divmod(kept, log_shape.size)
    middle = math.exp(float(log_median @ most.sum(axis=1)) / float(most.sum()))
    exposure = np.concatenate([[0.0], middle * np.geomspace(CURVE_FROM, CURVE_TO, CURVE_POINTS)])
    alive = _survivals(distribution, exposure, log_median[over], np.exp(log_shape[at]))
    return LifeTable(exposure, alive, integral(exposure, alive), kept)


def integral(exposure: Floats, alive: Floats) -> Floats:
    """Integral of each column (n, m) up to each exposure (n,), straight between the points."""
    steps = np.diff(exposure)[:, None] * 0.5 * (alive[1:] + alive[:-1])
    return np.concatenate([np.zeros((1, alive.shape[1])), np.cumsum(steps, axis=0)])


def _survivals(distribution: str, exposure: Floats, log_median: Floats, shape: Floats) -> Floats:
    """Share alive for each of m lives, (n, m).

    Weibull: ``S = exp(-ln 2 (t/median)^shape)``; lognormal: ``S = Phi(-shape ln(t/median))``.
    """
    steps = shape * (np.log(np.maximum(exposure, 1e-300))[:, None] - log_median)
    if distribution == "weibull":
        alive = np.exp(-math.log(2.0) * np.exp(np.minimum(steps, 50.0)))
    else:
        from scipy.special import ndtr

        alive = ndtr(-steps)
    alive[exposure <= 0] = 1.0
    return np.asarray(alive)
