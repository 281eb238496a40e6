"""Intervals of what was counted: rates, shares, times between failures, and sums of unequal things that happened.

All are exact in the sense of their sources: they hold at least as often as they say, however small the count, and are
the wider for it. They take what happened as independent of one another (a Poisson or binomial count).
"""

import math
from collections.abc import Sequence

import numpy as np

from feedwright.errors import OutOfRange
from feedwright.wear.values import Interval

HELD = 0.9
"""How often an interval of a figure holds what it tells of."""


def expected_count(count: int, held: float = HELD) -> Interval:
    """The count to be expected where ``count`` was seen.

    Source: F. Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936) 437-442.
    """
    _refuse(count, held)
    from scipy.special import gammaincinv

    tail = (1 - held) / 2
    low = float(gammaincinv(count, tail)) if count else 0.0
    return Interval(low, float(count), float(gammaincinv(count + 1, 1 - tail)))


def time_between(total_h: float, failures: int, held: float = HELD) -> Interval:
    """Mean time between failures in hours, from a time watched; without a bound above where none was seen.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods 8.4.5.1, constant repair rate, time-censored test.
    """
    expected = expected_count(failures, held)
    return Interval(*(total_h / many if many else math.inf for many in (expected.high, expected.mid, expected.low)))


def share(count: int, of: int, held: float = HELD) -> Interval:
    """The share of which ``count`` out of ``of`` were seen; anything from 0 to 1 where nothing was watched.

    Source: C. J. Clopper, E. S. Pearson, The use of confidence or fiducial limits illustrated in the case of the
    binomial, Biometrika 26 (1934) 404-413.
    """
    from scipy.special import betaincinv

    _refuse(count, held)
    if count > of:
        raise OutOfRange("count", count, 0, of)
    tail = (1 - held) / 2
    low = float(betaincinv(count, of - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, of - count, 1 - tail)) if count < of else 1.0
    return Interval(low, count / of if of else math.nan, high)


def expected_sum(weights: Sequence[float], heaviest: float = 0.0, held: float = HELD) -> Interval:
    """The sum to be expected of things that each happen by chance and weigh so much, such as money or minutes.

    ``heaviest`` is the most that one more would weigh; at least the heaviest seen. With equal weights this is
    :func:`expected_count` times the weight.

    Source: M. P. Fay, E. J. Feuer, Confidence intervals for directly standardized rates: a method based on the gamma
    distribution, Statistics in Medicine 16 (1997) 791-801.
    """
    from scipy.special import gammaincinv

    _refuse(len(weights), held)
    tail = (1 - held) / 2
    each = np.asarray(weights, dtype=float)
    total, squares = float(each.sum()), float((each**2).sum())
    most = max(heaviest, float(each.max(initial=0.0)))
    if most == 0:
        return Interval(0.0, 0.0, 0.0)
    low = squares / total * float(gammaincinv(total**2 / squares, tail)) if total > 0 else 0.0
    more, spread = total + most, squares + most**2
    return Interval(low, total, spread / more * float(gammaincinv(more**2 / spread, 1 - tail)))


def _refuse(count: int, held: float) -> None:
    if count < 0:
        raise OutOfRange("count", count, 0, math.inf)
    if not 0 < held < 1:
        raise OutOfRange("how often an interval holds", held, 0, 1)
