"""What is known of one fitted part: its ages and bounds as points of belief."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from feedwright.wear.life import Floats
from feedwright.wear.values import Interval

AGES = 7
"""Points across an uncertain exposure."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of one fitted part, as points of belief, all shape (k,).

    Each point is an exposure by now, the bounds that what was seen of the part puts on its life, and its share.
    """

    age: Floats
    low: Floats
    high: Floats
    share: Floats

    @classmethod
    def of(cls, exposure: Interval) -> "Standing":
        """A part of which nothing was seen but that it is alive."""
        ages = np.linspace(exposure.low, exposure.high, AGES) if exposure.high > exposure.low else exposure.low
        age = np.atleast_1d(np.asarray(ages, dtype=np.float64))
        return cls(age, age, np.full(age.size, np.inf), np.full(age.size, 1.0 / age.size))

    def left(self, alive: Callable[[Floats], Floats], more: Floats) -> Floats:
        """Share of all such parts that are like this one and fail only after ``more``, by a curve of shares alive.

        Divided by its value at nought it is the chance to be alive then.
        """
        until = np.maximum(self.age + more[..., None], self.low)
        spared = alive(np.minimum(until, self.high)) - np.where(np.isfinite(self.high), alive(self.high), 0.0)
        return np.asarray(np.maximum(spared, 0.0) @ self.share)
