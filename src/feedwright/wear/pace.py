"""How fast a part gathers exposure, from the recent weeks of its machine."""

import math
from collections.abc import Sequence

from feedwright.wear.values import PaceOfUse

HALF_LIFE_WEEKS = 8.0
LEAST_DAYS = 3.0
"""With fewer days on record than this the usual figures speak instead."""
LEAST_WEEKS = 3
"""With fewer whole weeks than this their spread says nothing."""
WEEK_DAYS = 7.0
LEAST_RELATIVE_SD, MOST_RELATIVE_SD = 0.15, 2.0
UNKNOWN_RELATIVE_SD = 0.6


def pace_of_use(
    weekly: Sequence[float], weekly_printing_h: Sequence[float], days: float, usual: PaceOfUse
) -> PaceOfUse:
    """Mean and spread of use from whole and part weeks, latest first, the older the lighter.

    ``weekly`` exposure and ``weekly_printing_h`` hours by week back from now; ``days`` how long the machine
    has been on record; ``usual`` what is taken where that is too short.
    """
    if days < LEAST_DAYS:
        return usual
    spans = [min(WEEK_DAYS, days - WEEK_DAYS * week) for week in range(len(weekly)) if days > WEEK_DAYS * week]
    weights = [0.5 ** (week / HALF_LIFE_WEEKS) * span for week, span in enumerate(spans)]
    total = math.fsum(weights)
    rates = [amount / span for amount, span in zip(weekly, spans, strict=False)]
    mean = math.fsum(w * rate for w, rate in zip(weights, rates, strict=True)) / total
    hours = math.fsum(w * h / span for w, h, span in zip(weights, weekly_printing_h, spans, strict=False)) / total
    if mean <= 0:
        return PaceOfUse(0.0, UNKNOWN_RELATIVE_SD, hours)
    return PaceOfUse(mean, _spread(weights, rates, spans), hours)


def _spread(weights: Sequence[float], rates: Sequence[float], spans: Sequence[float]) -> float:
    """Relative spread of whole weeks about their own mean; a day or two alone would look wild."""
    whole = [(w, rate) for w, rate, span in zip(weights, rates, spans, strict=True) if span == WEEK_DAYS]
    total = math.fsum(w for w, _ in whole)
    mean = math.fsum(w * rate for w, rate in whole) / total if total else 0.0
    if len(whole) < LEAST_WEEKS or mean <= 0:
        return UNKNOWN_RELATIVE_SD
    variance = math.fsum(w * (rate - mean) ** 2 for w, rate in whole) / total
    return min(max(LEAST_RELATIVE_SD, math.sqrt(variance) / mean), MOST_RELATIVE_SD)
