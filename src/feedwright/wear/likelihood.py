"""How likely what was found is under every life of a grid, for many groups of parts at once.

A part's life lies in an interval (low, high]: ``S(low) - S(high)``; still alive: high is infinite; seen failing: low
equals high, the density. Parts met in mid-life count by ``/ S(entry)``. With the Weibull hazard
``H(t) = ln 2 (t/median)^shape`` all terms but one are sums that need the rows once for each shape; the one left,
``log(1 - exp(-(H(high) - H(low))))``, depends on the median by a shift alone, so that many rows are spread over bins
of ``log(high^shape - low^shape)`` and shifted together (four-point Lagrange spreading, error below 1e-6 a row).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.entry import Distribution
from feedwright.wear.findings import Floats

Numbers = NDArray[np.intp]

LOG_LN2 = math.log(math.log(2.0))
BIN = 0.05
ROWS_TO_BIN = 300
"""Below this many intervals they are summed one by one."""
TINY = 1e-300
MOST_LOG = 300.0


@dataclass(frozen=True, slots=True)
class Rows:
    """Bounds of many parts' lives: ``low``, ``high``, ``entry`` (n, ages), ``cell`` (n,) the group of each."""

    low: Floats
    high: Floats
    entry: Floats
    cell: Numbers

    def only(self, chosen: Numbers) -> "Rows":
        """Some of the rows."""
        return Rows(self.low[chosen], self.high[chosen], self.entry[chosen], self.cell[chosen])


def log_likelihood(distribution: Distribution, log_median: Floats, shape: Floats, rows: Rows, cells: int) -> Floats:
    """Log-likelihood of each group's rows, (cells, g, s), on a grid of ``log_median`` (g,) and ``shape`` (s,)."""
    if rows.cell.size == 0:
        return np.zeros((cells, log_median.size, shape.size))
    if distribution == "lognormal" or rows.low.shape[1] > 1:
        return _one_by_one(distribution, log_median, shape, rows, cells)
    return _weibull(log_median, shape, rows, cells)


def row_log_likelihood(distribution: Distribution, log_median: Floats, shape: Floats, rows: Rows) -> Floats:
    """Log-likelihood of each row by itself, (n, g, s), in logs throughout: a life far beyond belief still counts."""
    median, steep = log_median[None, None, :, None], shape[None, None, None, :]
    low, high, entry = (
        _log_survival(distribution, part[:, :, None, None], median, steep) for part in (rows.low, rows.high, rows.entry)
    )
    with np.errstate(invalid="ignore"):  # both beyond all belief
        failed_between = low + np.log(np.maximum(-np.expm1(np.minimum(high - low, 0.0)), TINY))
    exact = (rows.low == rows.high).all(axis=1)
    if exact.any():
        failed_between[exact] = _log_density(distribution, rows.low[exact][:, :, None, None], median, steep)
    return np.asarray(_log_sum(failed_between) - _log_sum(entry))


def _log_sum(log_values: Floats) -> Floats:
    """Log of the sum over the ages, axis 1."""
    top = log_values.max(axis=1, keepdims=True)
    return np.asarray(np.log(np.exp(log_values - top).sum(axis=1)) + top[:, 0])


def _log_survival(distribution: Distribution, exposure: Floats, log_median: Floats, shape: Floats) -> Floats:
    """Log of the share alive: Weibull ``-ln 2 (t/median)^shape``, lognormal ``log Phi(-shape ln(t/median))``."""
    with np.errstate(divide="ignore"):
        steps = shape * (np.log(exposure) - log_median)
    if distribution == "weibull":
        return np.asarray(-math.log(2.0) * np.exp(np.where(np.isposinf(steps), np.inf, np.minimum(steps, MOST_LOG))))
    from scipy.special import log_ndtr

    return np.asarray(log_ndtr(-steps))


def _log_density(distribution: Distribution, exposure: Floats, log_median: Floats, shape: Floats) -> Floats:
    steps = shape * (np.log(exposure) - log_median)
    if distribution == "weibull":
        hazard = LOG_LN2 + np.minimum(steps, MOST_LOG)
        return np.asarray(np.log(shape / exposure) + hazard - np.exp(hazard))
    return np.asarray(np.log(shape / exposure) - 0.5 * steps**2 - 0.5 * math.log(2 * math.pi))


def _one_by_one(distribution: Distribution, log_median: Floats, shape: Floats, rows: Rows, cells: int) -> Floats:
    total = np.zeros((cells, log_median.size, shape.size))
    step = max(1, 2_000_000 // (rows.low.shape[1] * log_median.size * shape.size))
    for begin in range(0, rows.cell.size, step):
        part = rows.only(np.arange(begin, min(begin + step, rows.cell.size)))
        np.add.at(total, part.cell, row_log_likelihood(distribution, log_median, shape, part))
    return total


def _weibull(log_median: Floats, shape: Floats, rows: Rows, cells: int) -> Floats:
    low, high, entry = rows.low[:, 0], rows.high[:, 0], rows.entry[:, 0]
    exact, between = low == high, np.isfinite(high) & (low < high)
    failed = np.bincount(rows.cell[exact], minlength=cells)
    log_times = np.bincount(rows.cell[exact], np.log(low[exact]), minlength=cells)
    log_high = np.log(high[between])
    with np.errstate(divide="ignore"):
        log_ratio = np.log(low[between]) - log_high
    total = np.empty((cells, log_median.size, shape.size))
    scale = math.exp(float(log_median.mean()))
    for at, steep in enumerate(shape):
        shifted = steep * (log_median - math.log(scale))
        with np.errstate(over="ignore"):  # lives beyond belief: their likelihood is nought
            lived = np.bincount(rows.cell, _power(low / scale, steep) - _power(entry / scale, steep), minlength=cells)
            total[:, :, at] = -math.log(2.0) * lived[:, None] * np.exp(np.minimum(-shifted, MOST_LOG))
        total[:, :, at] += failed[:, None] * (math.log(steep) + LOG_LN2 - steep * log_median)
        total[:, :, at] += (steep - 1.0) * log_times[:, None]
        if log_high.size:
            gap = steep * (log_high - math.log(scale)) + np.log(-np.expm1(steep * log_ratio))
            total[:, :, at] += _failed_between(gap, shifted - LOG_LN2, rows.cell[between], cells)
    return total


def _power(base: Floats, exponent: float) -> Floats:
    with np.errstate(divide="ignore"):
        return np.asarray(np.exp(np.minimum(exponent * np.log(base), MOST_LOG)))


def _failed_between(gap: Floats, shift: Floats, cell: Numbers, cells: int) -> Floats:
    """Sum over each group of ``log(1 - exp(-exp(gap - shift)))``, (cells, g)."""
    if gap.size < ROWS_TO_BIN:
        total = np.zeros((cells, shift.size))
        np.add.at(total, cell, _log_fails(gap[:, None] - shift))
        return total
    first = math.floor(gap.min() / BIN) - 1
    place = gap / BIN - first
    base = np.floor(place).astype(np.intp)
    t = place - base
    bins = int(base.max()) + 3
    spread = np.zeros(cells * bins)
    for off, weight in ((-1, -t * (t - 1) * (t - 2) / 6), (0, (t + 1) * (t - 1) * (t - 2) / 2),
                        (1, -(t + 1) * t * (t - 2) / 2), (2, (t + 1) * t * (t - 1) / 6)):  # fmt: skip
        spread += np.bincount(cell * bins + base + off, weight, minlength=cells * bins)
    held = np.flatnonzero(spread.reshape(cells, bins).any(axis=0))
    table = _log_fails(((held + first) * BIN)[:, None] - shift)
    return np.asarray(spread.reshape(cells, bins)[:, held] @ table)


def _log_fails(log_hazard: Floats) -> Floats:
    """``log(1 - exp(-exp(y)))``, exact for small and large y."""
    return np.asarray(np.log(-np.expm1(-np.exp(np.clip(log_hazard, -690.0, 50.0)))))
