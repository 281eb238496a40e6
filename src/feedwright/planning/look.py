"""How often to look at a part that is renewed when it shows wear, and not by age."""

import numpy as np

from feedwright.planning.prospect import WORTHWHILE_SAVING_FRAC
from feedwright.planning.values import LookPlan, RenewalCosts
from feedwright.wear.life import LifeCurve

INTERVALS = np.geomspace(0.02, 2.0, 60)
"""Intervals tried, in median lives."""
LIVES = 400
NO_LOOKS = LookPlan(np.inf, np.inf)


def look_plan(curve: LifeCurve, worn_from_frac: float, costs: RenewalCosts) -> LookPlan:
    """The interval of looks of least long-run cost, for a part that looks worn from that share of its life on.

    Renewal-reward over lives of equal chance: with looks every ``tau`` a part of life T is renewed in good time at the
    first look that falls between ``worn_from T`` and T, and fails at T where none does. Source: the delay-time model of
    inspection (Christer 1982), perfect eyes. ``every`` is infinite where no interval saves much
    against running to failure.
    """
    lives = np.interp(-(np.arange(LIVES) + 0.5) / LIVES, -(1.0 - curve.survival)[::-1], curve.exposure[::-1])
    every = (INTERVALS * curve.life.mid)[:, None]
    first_worn = np.ceil(worn_from_frac * lives / every)
    seen = first_worn * every < lives
    looks = np.where(seen, first_worn, np.floor(lives / every))
    length = np.where(seen, first_worn * every, lives)
    spent = looks * costs.look + np.where(seen, costs.planned, costs.failure)
    rates = spent.mean(axis=1) / length.mean(axis=1)
    best = int(np.argmin(rates))
    if rates[best] > costs.failure / float(lives.mean()) * (1.0 - WORTHWHILE_SAVING_FRAC):
        return NO_LOOKS
    return LookPlan(float(every[best, 0]), float(rates[best]))
