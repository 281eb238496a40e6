"""When to renew one part: the best moment, what each week of waiting costs, and how often to look.

The true life of a part kind is unknown but stays the same from one part to the next, so that the cost of a
renewal age is the mean of its long-run cost over all that is believed of the life, and not the cost of one
average life.
"""

import math
from collections.abc import Sequence

from feedwright.planning.prospect import Prospect
from feedwright.planning.values import Advice, AgeOptimum, LookPlan, RenewalCosts
from feedwright.units import Money, show_duration, show_rounded
from feedwright.wear.values import Outlook, PaceOfUse, Status

NEVER_DAYS = 36525.0
SOON_DAYS = 14.0
FAILED_FRAC = 0.99
"""A part this sure to fail within the day is renewed, whether by age or on sight."""
NOW_DAYS = 0.5
"""A best moment nearer than this is now."""
WEEKS_SHOWN = 9


def advise(
    outlook: Outlook,
    pace: PaceOfUse,
    optimum: AgeOptimum,
    prospect: Prospect,
    looks: LookPlan,
    costs: RenewalCosts,
) -> Advice:
    """Whether and when to renew the part of this outlook.

    ``optimum`` is the best age of such parts, ``prospect`` what renewing this very part costs now or later.
    """
    per_day = pace.exposure_per_day
    failed = outlook.failure_frac_day >= FAILED_FRAC
    by_age = failed or (math.isfinite(optimum.exposure) and optimum.cost_rate <= looks.cost_rate)
    left = prospect.left if by_age else math.inf
    if failed or left < NOW_DAYS * per_day:
        left = 0.0
    days = _days(left, per_day)
    waiting = prospect.waiting(7 * per_day) if by_age else looking_gain(outlook.failure_frac_week, costs)
    weeks = [min(prospect.waiting(7 * week * per_day), costs.failure) for week in range(WEEKS_SHOWN)]
    early_too = tuple(min(prospect.cost_at(7 * week * per_day), costs.failure) for week in range(WEEKS_SHOWN))
    every = _days(looks.every, per_day)
    return Advice(
        status=_status(days, idle=per_day <= 0) if by_age else _status_by_sight(outlook, costs),
        act="renew" if by_age else "look",
        waiting_cost_week=Money.of(min(waiting, costs.failure), costs.currency),
        best_in_exposure=left,
        best_in_days=days,
        planned_cost=Money.of(costs.planned, costs.currency),
        failure_cost=Money.of(costs.failure, costs.currency),
        optimum_exposure=optimum.exposure if by_age else math.inf,
        because=(
            *_reasons(outlook, optimum, costs, days, every, by_age=by_age and math.isfinite(optimum.exposure)),
            *_delay_words(weeks, costs.currency, by_age=by_age and days < SOON_DAYS),
        ),
        look_every_days=every,
        cost_by_weeks=tuple(Money.of(cost, costs.currency) for cost in weeks) if by_age else (),
        cost_at_weeks=early_too if by_age else (),
        cost_rate=optimum.cost_rate,
        reason=_by_age_words(days, failed=failed) if by_age else _by_sight_words(outlook, costs),
    )


def _days(exposure: float, per_day: float) -> float:
    """How long so much exposure takes; infinite beyond a century, which is no date."""
    if exposure == 0.0:
        return 0.0
    return exposure / per_day if per_day * NEVER_DAYS > exposure else math.inf


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


def _by_age_words(days: float, *, failed: bool) -> str:
    """What decides about a part that is renewed by age."""
    if failed:
        return "failed, or all but sure to within the day"
    if days <= 0:
        return "cheapest to renew now"
    if math.isinf(days):
        return "its cheapest moment does not come at the present use"
    return f"cheapest to renew in {max(1.0, days):.0f} {'days' if days >= 1.5 else 'day'}"


def _by_sight_words(outlook: Outlook, costs: RenewalCosts) -> str:
    """What decides about a part that is looked at: whether a look averts more than it costs."""
    week, month = outlook.failure_frac_week, outlook.failure_frac_month
    if looking_gain(week, costs) > 0:
        return f"a look pays: {_chance(week)} to fail within a week"
    if looking_gain(month, costs) > 0:
        return f"a look pays within the month: {_chance(month)} to fail"
    return f"a look does not pay yet: {_chance(month)} to fail within a month"


def _chance(frac: float) -> str:
    return f"{frac:.{0 if frac >= 0.0995 else 1}%}"


def _reasons(
    outlook: Outlook, optimum: AgeOptimum, costs: RenewalCosts, days: float, every: float, *, by_age: bool
) -> tuple[str, ...]:
    planned, failure = Money.of(costs.planned, costs.currency), Money.of(costs.failure, costs.currency)
    price = f"Renewed in good time it costs {planned}; left until it fails, about {failure}."
    if not by_age:
        month = f"the chance that it fails within a month is {outlook.failure_frac_month:.0%}"
        sight = f"Renewing it by age would not pay on what is known: look at it and wait for a sign; {month}."
        if math.isinf(every):
            return (price, sight)
        return (price, sight, f"Looks are cheapest about every {show_duration(every * 86400)} at the present use.")
    best = f"The cheapest age to renew it is about {show_rounded(optimum.exposure)} {outlook.unit}"
    has = show_rounded(outlook.exposure.mid)
    if days <= 0:
        return (price, f"{best}; it has {has}.")
    when = "not at the present rate of use" if math.isinf(days) else f"in {show_duration(days * 86400)}"
    return (price, f"{best}; it has {has}, and its own moment comes {when}.")


def _delay_words(weeks: Sequence[float], currency: str, *, by_age: bool) -> tuple[str, ...]:
    """What each week of delay costs, where that is soon more than nothing."""
    if not by_age or weeks[-1] < 0.01:
        return ()
    shown = [number for number in (1, 2, 4, 8) if number < len(weeks)]
    amounts = ", ".join(f"{weeks[number]:.2f}" for number in shown[:-1])
    named = ", ".join(str(number) for number in shown[:-1])
    return (f"Put off by {named} or {shown[-1]} weeks it costs {amounts} or {weeks[shown[-1]]:.2f} {currency} more.",)
