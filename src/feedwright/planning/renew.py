"""When to renew one part: the long-run optimum by age, and what one more week of waiting costs.

The true life of a part kind is unknown but stays the same from one part to the next, so that the cost of a
renewal age is the mean of its long-run cost over all that is believed of the life, and not the cost of one
average life.
"""

import math

import numpy as np

from feedwright.planning.values import Advice, AgeOptimum, RenewalCosts
from feedwright.units import Money, show_duration, show_rounded
from feedwright.wear.life import Floats, RenewalRates
from feedwright.wear.values import Outlook, PaceOfUse, Status

SOON_DAYS = 14.0
WORTHWHILE_SAVING_FRAC = 0.03
"""An optimum that saves less than this against running to failure is no reason to renew by age."""


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


def waiting_cost(rates: RenewalRates, costs: RenewalCosts, age: float, more: float) -> float:
    """Extra cost of renewing a part of ``age`` only after ``more`` exposure; nought before the best age.

    The rise of the cost rate over that stretch, per renewal: ``(C(age + more) - C(age)) / planned(age)``. It is
    the marginal rule ``(cf - cp) P(fail in it) - C* x exposure gained``, averaged over the belief.
    """
    rate = cost_rate(rates, costs)
    start, end = max(age, float(rates.exposure[np.argmin(rate)])), age + more
    if end <= start:
        return 0.0
    rise = float(np.interp(end, rates.exposure, rate) - np.interp(start, rates.exposure, rate))
    return max(0.0, rise) / max(float(np.interp(start, rates.exposure, rates.planned)), 1e-300)


def advise(outlook: Outlook, pace: PaceOfUse, rates: RenewalRates, costs: RenewalCosts) -> Advice:
    """Whether and when to renew the part of this outlook; ``rates`` describe the life of such a part when new."""
    optimum = age_optimum(rates, costs)
    age, per_day = outlook.exposure.mid, pace.exposure_per_day
    left = max(0.0, optimum.exposure - age)
    days = 0.0 if left == 0.0 else left / per_day if per_day > 0 else math.inf
    by_age = math.isfinite(optimum.exposure)
    waiting = waiting_cost(rates, costs, age, 7 * per_day) if by_age else looking_gain(outlook.failure_frac_week, costs)
    return Advice(
        status=_status(days, idle=per_day <= 0) if by_age else _status_by_sight(outlook, costs),
        act="renew" if by_age else "look",
        waiting_cost_week=Money.of(min(waiting, costs.failure), costs.currency),
        best_in_exposure=left,
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


def looking_gain(failure_frac: float, costs: RenewalCosts) -> float:
    """What a look now is worth against a part that is not renewed by age: loss it averts, less its own cost.

    Takes it that a worn part is seen as such; at least 0.
    """
    return max(0.0, (costs.failure - costs.planned) * failure_frac - costs.look)


def _status_by_sight(outlook: Outlook, costs: RenewalCosts) -> Status:
    """A look is due where it pays within the week, and soon where it pays within the month."""
    if looking_gain(outlook.failure_frac_week, costs) > 0:
        return "service now"
    return "service soon" if looking_gain(outlook.failure_frac_month, costs) > 0 else "in order"


def _reasons(outlook: Outlook, optimum: AgeOptimum, costs: RenewalCosts, days: float) -> tuple[str, ...]:
    planned, failure = Money.of(costs.planned, costs.currency), Money.of(costs.failure, costs.currency)
    price = f"Renewed in good time it costs {planned}; left until it fails, about {failure}."
    if math.isinf(optimum.exposure):
        month = f"the chance that it fails within a month is {outlook.failure_frac_month:.0%}"
        return (price, f"Renewing it by age would not pay on what is known: look at it and wait for a sign; {month}.")
    best = f"The cheapest age to renew it is about {show_rounded(optimum.exposure)} {outlook.unit}"
    has = show_rounded(outlook.exposure.mid)
    if days <= 0:
        return (price, f"{best}; it has {has}.")
    when = "not at the present rate of use" if math.isinf(days) else f"in {show_duration(days * 86400)}"
    return (price, f"{best}; it has {has} and gets there {when}.")
