"""Forecast against outcome: what would have been forecast month by month, and what then happened.

At each month's end in the past the lives are learned from what was on record by then alone. Two things are asked:
each fitted part's chance to fail within the month that followed, by what it then gathered; and once for each part
where in its forecast life its end fell.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from feedwright.farm.outlook.judgement import bodies_of
from feedwright.farm.outlook.learning import belief_from, grouped_by_kind
from feedwright.farm.outlook.stories import Histories
from feedwright.records.values import Fitting

MONTH = timedelta(days=30)
MOST_MONTHS, LEAST_MONTHS, ENOUGH_FORECASTS = 8, 2, 15_000
"""Months that are looked back on: fewer on a large farm, where each holds thousands of forecasts."""
LEAST_DAYS = 45.0
"""No forecast is judged before a farm has so many days on record."""
BINS = (0.0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.6, 1.0)


@dataclass(frozen=True, slots=True)
class ForecastMade:
    """One part's forecast for one month, and what came of it."""

    part_kind: str
    machine_id: int
    at_utc: datetime
    failure_frac: float
    failed: bool


@dataclass(frozen=True, slots=True)
class ReliabilityBin:
    """Forecasts of about the same chance: what was said, what happened, and the band chance alone would give (90 %)."""

    said_frac: float
    happened_frac: float
    low_frac: float
    high_frac: float
    count: int


@dataclass(frozen=True, slots=True)
class Hindsight:
    """How forecasts fared so far."""

    months: int
    forecasts: int
    failures: int
    expected_failures: float
    squared_error: float
    """Mean squared error of the chances; the smaller the better."""
    squared_error_rule_of_thumb: float
    """The same of forecasts from the rule of thumb alone, never learning."""
    squared_error_constant: float
    """The same of forecasting everywhere the share that failed, known only afterwards."""
    coverage_frac: float | None
    """Share of parts whose end fell within the band said to hold 80 %; None with too few ends."""
    ends: int
    bins: tuple[ReliabilityBin, ...]


def hindsight(histories: Histories, now_utc: datetime) -> Hindsight | None:
    """How forecasts fared; None where the farm is too young to say."""
    now_utc = now_utc.replace(hour=0, minute=0, second=0, microsecond=0)  # the same all day, so that it is kept
    begun = min((fitting.fitted_utc for fitting in histories.fittings), default=now_utc)
    fitted = len(histories.fittings) - len(histories.removals)
    most = min(MOST_MONTHS, max(LEAST_MONTHS, ENOUGH_FORECASTS // max(fitted, 1)))
    months = min(most, int((now_utc - begun - timedelta(days=LEAST_DAYS)) / MONTH))
    if months < 1:
        return None
    made: list[ForecastMade] = []
    plain: list[float] = []
    ends: dict[int, tuple[float, bool]] = {}
    for month in range(months, 0, -1):
        at = now_utc - month * MONTH
        forecasts, by_rule = _forecasts(histories, at, min(now_utc, at + MONTH), ends)
        made += forecasts
        plain += by_rule
    return _judged(months, made, plain, list(ends.values())) if made else None


def _forecasts(
    histories: Histories, at: datetime, until: datetime, ends: dict[int, tuple[float, bool]]
) -> tuple[list[ForecastMade], list[float]]:
    """Every part's forecast at that moment, and by the rule of thumb; ``ends`` notes where new parts' lives ended."""
    stories = histories.stories(at)
    told = grouped_by_kind(histories, stories)
    fitted = [
        fitting
        for fitting in histories.fittings
        if fitting.id in stories and stories[fitting.id].end == "open" and _on(histories, fitting, at)
    ]
    made, plain = [], []
    for kind in sorted({fitting.part_kind for fitting in fitted}):
        own = [fitting for fitting in fitted if fitting.part_kind == kind]
        now = bodies_of(belief_from(kind, told[kind]), own, stories)
        rule = bodies_of(belief_from(kind, {}), own, stories)
        for fitting, body, thumb in zip(own, now, rule, strict=True):
            end, failed = _fate(histories, fitting, until)
            # what its place went through, whether or not the part lived to see it; till it was taken off while sound
            more = np.array([histories.gathered(fitting).between(at, until if failed else end)])
            made.append(ForecastMade(kind, fitting.machine_id, at, _fails(body.alive_after(more)), failed))
            plain.append(_fails(thumb.alive_after(more)))
            if fitting.id not in ends:
                last, failed_ever = _fate(histories, fitting, datetime.max.replace(tzinfo=at.tzinfo))
                lived = np.array([histories.gathered(fitting).between(at, last)])
                ends[fitting.id] = (_fails(body.alive_after(lived)), failed_ever)
    return made, plain


def _on(histories: Histories, fitting: Fitting, at: datetime) -> bool:
    removal = histories.removals.get(fitting.id)
    return fitting.fitted_utc < at and (removal is None or removal.removed_utc > at)


def _fate(histories: Histories, fitting: Fitting, until: datetime) -> tuple[datetime, bool]:
    """When a part was taken off, or that moment where it was not; and whether it had failed by then."""
    removal = histories.removals.get(fitting.id)
    if removal is None or removal.removed_utc >= until:
        return until, False
    return removal.removed_utc, removal.reason == "failed"


def _fails(alive: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> float:
    return float(np.clip(1.0 - alive[0], 0.0, 1.0))


def _judged(
    months: int, made: Sequence[ForecastMade], plain: Sequence[float], ends: Sequence[tuple[float, bool]]
) -> Hindsight:
    said = np.array([forecast.failure_frac for forecast in made])
    failed = np.array([forecast.failed for forecast in made], dtype=float)
    ended = sum(failed_ever for _, failed_ever in ends)
    return Hindsight(
        months, len(made), int(failed.sum()), float(said.sum()), float(np.mean((said - failed) ** 2)),
        float(np.mean((np.array(plain) - failed) ** 2)), float(failed.mean() * (1 - failed.mean())),
        _held(ends) if ended >= 10 else None, ended, tuple(_bins(said, failed)),
    )  # fmt: skip


def _bins(
    said: "np.ndarray[tuple[int], np.dtype[np.float64]]", failed: "np.ndarray[tuple[int], np.dtype[np.float64]]"
) -> Iterable[ReliabilityBin]:
    from scipy.stats import binom

    which = np.clip(np.digitize(said, BINS) - 1, 0, len(BINS) - 2)
    for number in range(len(BINS) - 1):
        of = which == number
        count = int(of.sum())
        if count:
            mean = float(said[of].mean())
            low, high = (float(binom.ppf(share, count, mean)) / count for share in (0.05, 0.95))
            yield ReliabilityBin(mean, float(failed[of].mean()), low, high, count)


def _held(ends: Sequence[tuple[float, bool]]) -> float:
    """Share of lives that end between the 10 % and 90 % point of their forecast, those still going counted as such.

    Kaplan & Meier's estimate of the distribution of the forecast's own chances, at 0.9 less at 0.1.
    """
    alive = 1.0
    by = {0.1: 1.0, 0.9: 1.0}
    for index, (chance, failed) in enumerate(sorted(ends)):
        if failed:
            alive *= 1.0 - 1.0 / (len(ends) - index)
        by.update({mark: alive for mark in by if chance <= mark})
    return by[0.1] - by[0.9]
