"""When to renew one part: the long-run optimum by age, and what one more week of waiting costs.

The life is given as survival ``S`` on a grid of exposures, the mixture over everything believed of the
part, so that an uncertain life is weighed whole and not by its mean.
"""

import math

import numpy as np
from numpy.typing import NDArray

from feedwright.planning.values import Advice, AgeOptimum, RenewalCosts
from feedwright.units import Money, show_duration
from feedwright.wear.values import Outlook, PaceOfUse, Status

Floats = NDArray[np.float64]

SOON_DAYS = 14.0
WORTHWHILE_SAVING_FRAC = 0.03
"""An optimum that saves less than this against running to failure is no reason to renew by age."""


def age_optimum(exposure: Floats, survival: Floats, costs: RenewalCosts) -> AgeOptimum:
    """The renewal age of least long-run cost: ``C(t) = (cp S(t) + cf F(t)) / integral of S to t``.

    ``exposure`` is an ascending grid from 0, shape (n,), in the part's own unit; ``survival`` the share
    alive at each, shape (n,). The grid should reach where survival is nearly 0; the last point stands
    for running to failure. Source: Barlow & Proschan 1965; Jardine & Tsang.
    """
    steps = np.diff(exposure) * 0.5 * (survival[1:] + survival[:-1])
    lived = np.cumsum(steps)
    cost = costs.planned * survival[1:] + costs.failure * (1.0 - survival[1:])
    rate = cost / lived
    to_failure = costs.failure / lived[-1]
    best = int(np.argmin(rate))
    if rate[best] > to_failure * (1.0 - WORTHWHILE_SAVING_FRAC):
        return AgeOptimum(math.inf, float(to_failure))
    return AgeOptimum(float(exposure[1 + best]), float(rate[best]))


def best_wait(exposure: Floats, survival: Floats, age: float, optimum: AgeOptimum, costs: RenewalCosts) -> float:
    """Exposure still worth running by a part alive at ``age``: until risk costs more than life gained.

    Marginal rule: renew once ``(cf - cp) h(a) >= C*``. Infinite where renewing by age does not pay.
    Source: first-order condition of the age-replacement optimum (Barlow & Proschan 1965).
    """
    if math.isinf(optimum.exposure):
        return math.inf
    width = np.diff(exposure)
    alive = np.maximum(survival[:-1], 1e-300)
    hazard = (survival[:-1] - survival[1:]) / (alive * width)
    dear = (costs.failure - costs.planned) * hazard >= optimum.cost_rate
    ahead = np.flatnonzero(dear & (exposure[1:] > age))
    return max(0.0, float(exposure[:-1][ahead[0]]) - age) if ahead.size else math.inf


def waiting_cost_week(
    failure_frac_week: float, exposure_week: float, optimum: AgeOptimum, costs: RenewalCosts
) -> float:
    """Expected extra cost of a week's delay: ``(cf - cp) P(fail in the week) - C* x exposure gained``."""
    risk = (costs.failure - costs.planned) * failure_frac_week
    return max(0.0, risk - optimum.cost_rate * exposure_week)


def advise(outlook: Outlook, pace: PaceOfUse, exposure: Floats, survival: Floats, costs: RenewalCosts) -> Advice:
    """Whether and when to renew the part of this outlook.

    ``exposure`` and ``survival`` describe the life of such a part when new, shape (n,) each.
    """
    optimum = age_optimum(exposure, survival, costs)
    wait = best_wait(exposure, survival, outlook.exposure.mid, optimum, costs)
    days = wait / pace.exposure_per_day if pace.exposure_per_day > 0 else math.inf
    if wait == 0.0:
        days = 0.0
    return Advice(
        status=_status(days, idle=pace.exposure_per_day <= 0),
        waiting_cost_week=Money.of(
            waiting_cost_week(outlook.failure_frac_week, 7 * pace.exposure_per_day, optimum, costs),
            costs.currency,
        ),
        best_in_exposure=wait,
        best_in_days=days,
        planned_cost=Money.of(costs.planned, costs.currency),
        failure_cost=Money.of(costs.failure, costs.currency),
        optimum_exposure=optimum.exposure,
        because=_reasons(outlook, optimum, costs, days),
    )


def _status(days: float, *, idle: bool) -> Status:
    if days <= 0:
        return "service now"
    if days <= SOON_DAYS and not idle:
        return "service soon"
    return "in order"


def _reasons(outlook: Outlook, optimum: AgeOptimum, costs: RenewalCosts, days: float) -> tuple[str, ...]:
    planned, failure = Money.of(costs.planned, costs.currency), Money.of(costs.failure, costs.currency)
    price = f"Renewed in good time it costs {planned}; left until it fails, about {failure}."
    if math.isinf(optimum.exposure):
        return (price, "Renewing it by age would not pay: look at it at each visit and wait for a sign.")
    best = f"The cheapest age to renew it is about {optimum.exposure:,.0f} {outlook.unit}"
    if days <= 0:
        return (price, f"{best}; it has {outlook.exposure.mid:,.0f}.")
    when = "not at the present rate of use" if math.isinf(days) else f"in {show_duration(days * 86400)}"
    return (price, f"{best}; it has {outlook.exposure.mid:,.0f} and gets there {when}.")
