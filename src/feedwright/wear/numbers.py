"""What the findings say of a number of a wear law, such as an activation energy or an abrasive weight.

For each value it may have, all exposures are reckoned anew and the life is learned; how likely the findings then are,
times what was believed of the number, is its posterior. The life itself stays unknown throughout.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from feedwright.catalogue.entry import Sourced
from feedwright.wear.findings import HALF_OF_90, Floats
from feedwright.wear.posterior import quantiles
from feedwright.wear.values import Interval

NODES = np.linspace(-2.4, 2.4, 9)
"""Values tried, in standard deviations of what was believed."""
FINE = 401
TELLING_FRAC = 0.5
"""Findings tell of a number where they take away at least this part of its variance."""


@dataclass(frozen=True, slots=True)
class LearnedNumber:
    """One number of a wear law before and after the findings; both bands hold 90 %."""

    name: str
    unit: str
    believed: Interval
    learned: Interval
    narrowed_frac: float
    """How much of the variance the findings took away; about nought or below where they say nothing."""

    @property
    def telling(self) -> bool:
        """True where the findings carry enough to say something of the number."""
        return self.narrowed_frac >= TELLING_FRAC

    @property
    def words(self) -> str:
        """Whether they do, in a sentence."""
        if self.telling:
            return "The findings tell: parts used at different values wore as this band says."
        if self.narrowed_frac > 0.1:
            return "The findings hint at it, but do not yet tell: the band rests mostly on what was assumed."
        return "The findings do not tell: too few, or all from parts used alike. What was assumed stands."


def learn_number(name: str, assumed: Sourced, log_evidence: Callable[[float], float], *, on_log: bool) -> LearnedNumber:
    """The posterior of a number; ``log_evidence`` is how likely the findings are where it has that value.

    Believed normal, or normal on the log, with the catalogue's band holding 90 %.
    """
    to, back = (math.log, math.exp) if on_log else (float, float)
    middle = to(assumed.value)
    sd = (to(assumed.high) - to(assumed.low)) / (2 * HALF_OF_90)
    told = np.array([log_evidence(back(middle + sd * node)) for node in NODES])
    fine = np.linspace(NODES[0], NODES[-1], FINE)
    log_weight = np.asarray(_smooth(NODES, told)(fine)) - 0.5 * fine**2
    weight = np.exp(log_weight - log_weight.max())
    low, mid, high = quantiles(fine, weight, (0.05, 0.5, 0.95))
    learned = Interval(*(back(middle + sd * at) for at in (low, mid, high)))
    return LearnedNumber(
        name, assumed.unit, Interval(assumed.low, assumed.value, assumed.high), learned,
        1.0 - _variance(fine, weight) / _variance(fine, np.exp(-0.5 * fine**2)),
    )  # fmt: skip


def _smooth(at: Floats, values: Sequence[float] | Floats) -> Callable[[Floats], Floats]:
    from scipy.interpolate import CubicSpline

    return CubicSpline(at, values)


def _variance(at: Floats, weight: Floats) -> float:
    share = weight / weight.sum()
    return float(share @ (at - share @ at) ** 2)
