"""How often a guide tube can still be trimmed at its hot end, and when a new one must be cut."""

import math

import numpy as np

from feedwright.planning.values import TrimBudget
from feedwright.wear.life import LifeCurve
from feedwright.wear.outlook import NEVER
from feedwright.wear.values import Interval, PaceOfUse

HALF_OF_80 = 1.2815515655446004
"""Standard normal quantile at 90 %: half the width of an 80 % band in standard deviations."""


def trims_left(length_mm: float, needed_mm: float, trim_mm: float) -> int:
    """How often so much can be cut off before the tube no longer reaches the far corners."""
    return max(0, math.floor((length_mm - needed_mm) / trim_mm + 1e-9))


def trim_budget(
    length_mm: float, needed_mm: float, trim_mm: float, trims_done: int, first_days: float, curve: LifeCurve,
    optimum_exposure: float, pace: PaceOfUse,
) -> TrimBudget:  # fmt: skip
    """The budget of one tube, its trims from now on renewed at the optimum or on failure.

    ``first_days`` until the next trim. Each cycle after it ends at the optimum age or at failure, whichever is first.
    """
    left = trims_left(length_mm, needed_mm, trim_mm)
    mean, sd = _cycle(curve, optimum_exposure)
    last = _after(left - 1, first_days, mean, sd, pace) if left else Interval(0.0, 0.0, 0.0)
    return TrimBudget(
        length_mm, needed_mm, trim_mm, trims_done, left, last, _after(left, first_days, mean, sd, pace)
    )  # fmt: skip


def _cycle(curve: LifeCurve, age: float) -> tuple[float, float]:
    """Mean and standard deviation of the exposure between two renewals: life, or that age where it comes first."""
    at = np.append(curve.exposure[curve.exposure < age], age) if math.isfinite(age) else curve.exposure
    alive = curve.alive(at)
    mean = float(np.trapezoid(alive, at))
    square = float(np.trapezoid(2.0 * at * alive, at))
    return mean, math.sqrt(max(0.0, square - mean**2))


def _after(cycles: int, first_days: float, mean: float, sd: float, pace: PaceOfUse) -> Interval:
    """Days until so many whole cycles after the first trim are over; 80 % band."""
    if pace.exposure_per_day <= 0 or math.isinf(first_days):
        return NEVER
    middle = first_days + cycles * mean / pace.exposure_per_day
    of_use = pace.relative_sd * math.sqrt(7.0 * middle)
    spread = HALF_OF_80 * math.hypot(math.sqrt(cycles) * sd / pace.exposure_per_day, of_use)
    return Interval(max(0.0, middle - spread), middle, middle + spread)


def budget_words(budget: TrimBudget) -> str:
    """The budget in a sentence."""
    has = f"The guide tube is {budget.length_mm:.0f} mm long and must stay {budget.needed_mm:.0f} mm"
    if budget.trims_left == 0:
        return f"{has}: it cannot be trimmed again, so cut a new tube at the next trim."
    times = "once more" if budget.trims_left == 1 else f"{budget.trims_left} more times"
    said = f"{has}: it can be trimmed {times} by {budget.trim_mm:.0f} mm"
    if math.isinf(budget.new_tube_days.mid):
        return f"{said}."
    days = budget.new_tube_days
    band = f"(eight in ten: {days.low:.0f} to {days.high:.0f})"
    return f"{said}; a new one must be cut in about {days.mid:.0f} days {band}."
