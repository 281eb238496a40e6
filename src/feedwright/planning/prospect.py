"""What renewing one very part costs now or later, by all that is known of it.

For one life the best moment minimises ``cp + (cf - cp) P(fails first) - C E[exposure gained]``, with ``C`` the long-run
cost of such parts renewed at the best age. The life is not known: each believed life counts by its chance for this very
part (its own findings included) and by how many renewals it brings in the long run. For a part of which nothing was
seen this gives the age of least long-run cost; a look that found it sound, or worn, moves the moment.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from feedwright.planning.values import AgeOptimum, RenewalCosts
from feedwright.wear.life import Floats, LifeTable, RenewalRates
from feedwright.wear.standing import Standing

RISE_FRAC = 0.01
"""A rise of the cost by this part of what a failure costs more is one, and no wobble of the curve."""
WORTHWHILE_SAVING_FRAC = 0.03
"""An optimum that saves less than this against running to failure is no reason to renew by age."""


@dataclass(frozen=True, slots=True)
class AgePolicy:
    """The best age of a group of parts, and for each believed life what renewing at it brings, both (m,)."""

    optimum: AgeOptimum
    cost_rate: Floats
    """Long-run cost per exposure under each life."""
    renewals: Floats
    """Renewals per exposure under each life."""


@dataclass(frozen=True, slots=True)
class Prospect:
    """Expected cost of renewing one part after ``more`` exposure (n,), over that of renewing it at the best moment."""

    more: Floats
    cost: Floats

    @property
    def left(self) -> float:
        """Exposure still worth running."""
        return float(self.more[int(np.argmin(self.cost))])

    def cost_at(self, more: float) -> float:
        """Extra cost of renewing after that much more, early or late."""
        return float(np.interp(more, self.more, self.cost))

    def waiting(self, more: float) -> float:
        """Extra cost of renewing only after that much more; nought before the best moment."""
        return self.cost_at(more) if more > self.left else 0.0


def cost_rate(rates: RenewalRates, costs: RenewalCosts) -> Floats:
    """Long-run cost per unit of exposure of renewing at each age, shape (n,).

    ``C(t) = (cp S(t) + cf F(t)) / integral of S to t``, averaged over the belief. Source: Barlow & Proschan 1965;
    Jardine & Tsang.
    """
    return costs.planned * rates.planned + costs.failure * rates.failures


def age_optimum(rates: RenewalRates, costs: RenewalCosts) -> AgeOptimum:
    """The renewal age of least long-run cost; the last point of the grid stands for running to failure."""
    rate = cost_rate(rates, costs)
    best = int(np.argmin(rate))
    if rate[best] > rate[-1] * (1.0 - WORTHWHILE_SAVING_FRAC):
        return AgeOptimum(math.inf, float(rate[-1]))
    return AgeOptimum(float(rates.exposure[best]), float(rate[best]))


def age_policy(table: LifeTable, rates: RenewalRates, costs: RenewalCosts) -> AgePolicy:
    """The best age of a group whose belief has these rates, and what it brings under each life of the table."""
    optimum = age_optimum(rates, costs)
    last = table.exposure.size - 1
    at = min(int(np.searchsorted(table.exposure, optimum.exposure)), last)
    length = table.length[at]
    rate = (costs.planned * table.alive[at] + costs.failure * (1.0 - table.alive[at])) / length
    return AgePolicy(optimum, rate, 1.0 / length)


def weighed(table: LifeTable, weights: Floats, policies: Sequence[AgePolicy]) -> tuple[Floats, Floats]:
    """Curves of survival and of earnings for some parts, both (n, parts), from their beliefs (parts, m)."""
    renewals = np.stack([policy.renewals for policy in policies])
    rates = np.stack([policy.cost_rate for policy in policies])
    return table.alive @ (weights * renewals).T, table.alive @ (weights * renewals * rates).T


def prospect(exposure: Floats, surviving: Floats, earning: Floats, costs: RenewalCosts, standing: Standing) -> Prospect:
    """The prospect of one part from its two curves of :func:`weighed` over ``exposure``, all (n,).

    The belief they were made from must not have learned from this same part; ``standing`` holds what it showed.
    """
    spared = standing.left(lambda at: np.interp(at, exposure, surviving), exposure)
    earned = standing.left(lambda at: np.interp(at, exposure, earning), exposure)
    gained = np.concatenate([[0.0], np.cumsum(np.diff(exposure) * 0.5 * (earned[1:] + earned[:-1]))])
    renewals = max(float(spared[0]), 1e-300)
    risk = costs.failure - costs.planned
    cost = (risk * (spared[0] - spared) - gained) / renewals
    best = _first_low(cost, RISE_FRAC * risk)
    # beyond the best moment waiting never grows cheaper: a part that outlives it is judged anew by what it then shows
    cost[best:] = np.maximum.accumulate(cost[best:])
    return Prospect(exposure, np.maximum(cost - cost[best], 0.0))


def _first_low(cost: Floats, rise: float) -> int:
    """Where the cost is least before it first rises by so much.

    Far beyond, it may fall below that again: only the longest of the believed lives are left there, for which the
    common age is far too early. To count on those now would be to count on outliving all the others.
    """
    risen = np.flatnonzero(cost - np.minimum.accumulate(cost) > rise)
    return int(np.argmin(cost[: risen[0]] if risen.size else cost))
