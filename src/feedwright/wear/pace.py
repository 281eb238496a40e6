"""How fast a part gathers exposure, from the recent weeks of its machine."""

import math
from collections.abc import Sequence

from feedwright.wear.values import PaceOfUse

HALF_LIFE_WEEKS = 8.0
LEAST_DAYS = 3.0
"""With fewer days on record than this the usual figures speak instead."""
LEAST_RELATIVE_SD = 0.15
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
    spans = [min(7.0, days - 7.0 * week) for week in range(len(weekly)) if days > 7.0 * week]
    weights = [0.5 ** (week / HALF_LIFE_WEEKS) * span for week, span in enumerate(spans)]
    total = math.fsum(weights)
    rates = [amount / span for amount, span in zip(weekly, spans, strict=False)]
    mean = math.fsum(w * rate for w, rate in zip(weights, rates, strict=True)) / total
    hours = math.fsum(w * h / span for w, h, span in zip(weights, weekly_printing_h, spans, strict=False)) / total
    if mean <= 0:
        return PaceOfUse(0.0, UNKNOWN_RELATIVE_SD, hours)
    variance = math.fsum(w * (rate - mean) ** 2 for w, rate in zip(weights, rates, strict=True)) / total
    known = len(spans) >= 3
    spread = max(LEAST_RELATIVE_SD, math.sqrt(variance) / mean) if known else UNKNOWN_RELATIVE_SD
    return PaceOfUse(mean, min(spread, 2.0), hours)
