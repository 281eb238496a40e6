"""Uncertainty by the GUM (JCGM 100:2008): what a reading is worth, and what their quotient is."""

import math
from collections.abc import Sequence

LEVEL = 0.9545
"""Coverage of k = 2 for a normal spread (JCGM 100:2008, 6.3.3 and G.6)."""


def rectangular(half_width: float) -> float:
    """Standard uncertainty of anything between ± half_width: ``a / sqrt(3)`` (JCGM 100:2008, 4.3.7)."""
    return half_width / math.sqrt(3)


def of_scale(division: float, marks: int = 2) -> float:
    """Standard uncertainty of a length between two marks of a scale with that division.

    Each mark is read to the nearest division: ``division / sqrt(12)``; two marks add in quadrature.

    >>> round(of_scale(0.5), 6)
    0.204124
    """
    return math.sqrt(marks) * rectangular(division / 2)


def mean_and_scatter(readings: Sequence[float]) -> tuple[float, float]:
    """Mean, and its standard uncertainty by scatter, ``s / sqrt(n)`` (4.2.3); nought for one reading."""
    count = len(readings)
    mean = math.fsum(readings) / count
    if count == 1:
        return mean, 0.0
    s = math.sqrt(math.fsum((one - mean) ** 2 for one in readings) / (count - 1))
    return mean, s / math.sqrt(count)


def coverage(scatter: float, combined: float, count: int) -> float:
    """Factor k for 95 in 100 by the effective degrees of freedom (Welch-Satterthwaite, G.4.1).

    The scatter of ``count`` readings has ``count - 1``; everything else is taken as known. Without scatter: 2.
    """
    if scatter == 0 or combined == 0:
        return 2.0
    from scipy.special import stdtrit

    freedom = (count - 1) * (combined / scatter) ** 4
    return float(stdtrit(freedom, (1 + LEVEL) / 2))


def of_product(*relative: float) -> float:
    """Relative standard uncertainty of products and quotients of independent quantities (5.1.6, eq. 12)."""
    return math.sqrt(math.fsum(one**2 for one in relative))
