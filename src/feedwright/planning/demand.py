"""How many renewals the coming days ask for: a distribution made from the outlook of every fitted part.

Not a mean of the past: each part counts with its own chance to be renewed by each day, by age as advised or because it
fails. The sum over parts is exact (a Poisson-binomial distribution, by convolution); parts count as independent.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from feedwright.planning.values import Advice
from feedwright.wear.values import Interval, Outlook, PaceOfUse

Floats = NDArray[np.float64]
SURE_FRAC = 0.99
"""A part this likely to fail within the day has failed."""
MOST_RENEWALS = 12
"""Of one part within the days looked at."""
NEGLIGIBLE_FRAC = 1e-9
TENTH_HAZARD, HALF_HAZARD, REST_HAZARD = 0.10536051565782628, 0.6931471805599453, 2.302585092994046
"""Cumulative hazard by which a tenth, half and nine tenths have failed: -log of the share alive."""


@dataclass(frozen=True, slots=True)
class PartAhead:
    """One fitted part as demand sees it."""

    outlook: Outlook
    pace: PaceOfUse
    advice: Advice
    pieces: int
    """Pieces that one renewal takes."""
    idle_cost: float = 0.0
    """What a day of its machine standing still costs, in the farm's currency."""


@dataclass(frozen=True, slots=True)
class RenewalsAhead:
    """Chances by day of many parts: arrays over (parts, days 0 to H)."""

    pieces: NDArray[np.int64]
    """(parts,)"""
    at_least: tuple[Floats, ...]
    """Chance of at least 1, 2, ... renewals by the end of each day, each (parts, H + 1)."""
    failing: Floats
    """Chance that the first of them is a failure, and has happened, by the end of each day."""

    def counts(self, day: int) -> Floats:
        """Chance of 0, 1, 2 ... renewals of each part by a day, (parts, k)."""
        reached = np.stack([np.ones(self.pieces.size), *(chance[:, day] for chance in self.at_least)], axis=1)
        after = np.concatenate([reached[:, 1:], np.zeros((reached.shape[0], 1))], axis=1)
        return np.asarray(np.maximum(reached - after, 0.0))

    def pieces_pmf(self, day: int) -> Floats:
        """Distribution of the pieces needed by the end of a day, over 0, 1, 2 ... pieces."""
        return sum_of(self.counts(day), self.pieces)

    def due_now(self) -> NDArray[np.bool_]:
        """Parts that are to be renewed now, (parts,)."""
        return np.asarray(self.at_least[0][:, 0] >= SURE_FRAC)

    def expected(self) -> Floats:
        """Expected pieces by the end of each day, (H + 1,)."""
        return np.asarray(self.pieces @ np.sum(self.at_least, axis=0))

    def lasting(self, on_hand: int, days: NDArray[np.int64]) -> Floats:
        """Chance that so many pieces last through each of these days, (days,): what is needed stays within them."""
        if on_hand < 0:
            return np.zeros(days.size)
        needed = np.zeros((on_hand + 1, days.size))
        needed[0] = 1.0
        every = [self.counts(int(day)) for day in days]
        for part, pieces in enumerate(self.pieces.tolist()):
            after = np.zeros_like(needed)
            for many in range(every[0].shape[1]):
                taken = many * pieces
                if taken <= on_hand:
                    chance = np.array([counts[part, many] for counts in every])
                    after[taken:] += chance * needed[: on_hand + 1 - taken]
            needed = after
        return np.asarray(needed.sum(axis=0))


def sum_of(counts: Floats, pieces: NDArray[np.int64]) -> Floats:
    """Distribution of the sum of independent numbers: ``counts`` (parts, k) chances of 0 to k-1, times ``pieces``.

    Exact up to rounding, by convolution; halves are joined so that short ones meet short ones.
    """
    held = [_spread(row, int(each)) for row, each in zip(counts, pieces, strict=True) if row[0] < 1.0]
    while len(held) > 1:
        pairs = [np.convolve(a, b) for a, b in zip(held[::2], held[1::2], strict=False)]
        held = [_trimmed(pair) for pair in pairs] + ([held[-1]] if len(held) % 2 else [])
    return np.asarray(held[0]) if held else np.ones(1)


def _spread(row: Floats, pieces: int) -> Floats:
    """The chances with each renewal taking so many pieces."""
    spread = np.zeros((row.size - 1) * pieces + 1)
    spread[::pieces] = row
    return spread


def _trimmed(pmf: Floats) -> Floats:
    """Without a tail of exact noughts."""
    return np.asarray(pmf[: int(np.flatnonzero(pmf)[-1]) + 1])


def renewals_ahead(parts: Sequence[PartAhead], days: int) -> RenewalsAhead:
    """Chances by day of some parts over the days to come (0 to ``days``).

    A part is renewed when it has gathered the exposure that its advice names, or fails before that; the next one in its
    place lives as such parts are believed to, and is renewed at the same best age.
    """
    at = np.arange(days + 1, dtype=np.float64)
    first = np.stack([_by(part, at) for part in parts]) if parts else np.zeros((0, at.size))
    fails = np.stack([failed_by(part.outlook, at) for part in parts]) if parts else first
    planned = np.stack([_planned_by(part, part.advice.best_in_exposure, at) for part in parts]) if parts else first
    steps = np.diff(fails, axis=1, prepend=0.0)
    before = np.concatenate([np.zeros((len(parts), 1)), planned[:, :-1]], axis=1)
    failing = np.minimum(np.cumsum(steps * (1.0 - before), axis=1), first)
    cycle = np.stack([_cycle(part, at) for part in parts]) if parts else first
    at_least = [first]
    while len(at_least) < MOST_RENEWALS and parts:
        following = _after(at_least[-1], cycle)
        if following.max() < NEGLIGIBLE_FRAC:
            break
        at_least.append(following)
    return RenewalsAhead(np.array([part.pieces for part in parts], dtype=np.int64), tuple(at_least), failing)


def _by(part: PartAhead, at: Floats) -> Floats:
    """Chance that the fitted part is renewed by each day."""
    alive = 1.0 - failed_by(part.outlook, at)
    return 1.0 - alive * (1.0 - _planned_by(part, part.advice.best_in_exposure, at))


def failed_by(outlook: Outlook, at: Floats) -> Floats:
    """Chance that a part has failed by each day, from what its outlook says of a day, a week, a month and beyond.

    Its cumulative hazard is laid through those points, straight in the logarithms of both: so runs a Weibull life.
    """
    if outlook.failure_frac_day >= SURE_FRAC:
        return np.ones(at.size)
    known = [(1.0, outlook.failure_frac_day), (7.0, outlook.failure_frac_week), (30.0, outlook.failure_frac_month)]
    points = [(day, -np.log1p(-min(chance, 1.0 - 1e-12))) for day, chance in known]
    left = outlook.remaining_days
    points += list(zip((left.low, left.mid, left.high), (TENTH_HAZARD, HALF_HAZARD, REST_HAZARD), strict=True))
    return _through(points, at)


def _cycle(part: PartAhead, at: Floats) -> Floats:
    """Chance that a new part in its place has been renewed by each day after it was fitted."""
    per_day = part.pace.exposure_per_day
    if per_day <= 0:
        return np.zeros(at.size)
    life = part.outlook.life
    hazards = (TENTH_HAZARD, HALF_HAZARD, REST_HAZARD)
    fails = _through([(age / per_day, h) for age, h in zip((life.low, life.mid, life.high), hazards, strict=True)], at)
    cycle = 1.0 - (1.0 - fails) * (1.0 - _planned_by(part, part.advice.optimum_exposure, at))
    return np.where(at > 0, cycle, 0.0)


def _through(points: Sequence[tuple[float, float]], at: Floats) -> Floats:
    """Chances at each day from points (day, cumulative hazard): straight in logarithms, the ends drawn out."""
    held: list[tuple[float, float]] = []
    for day, hazard in sorted((d, h) for d, h in points if np.isfinite(d) and d > 0 and h > 1e-12):
        if not held or (day > held[-1][0] * (1 + 1e-9) and hazard > held[-1][1]):
            held.append((day, hazard))
    if len(held) < 2:
        return np.zeros(at.size) if not held else 1.0 - np.exp(-held[0][1] * at / held[0][0])
    x, y = np.log([day for day, _ in held]), np.log([hazard for _, hazard in held])
    where = np.log(np.maximum(at, 1e-6))
    inside = np.interp(where, x, y)
    first, last = (y[1] - y[0]) / (x[1] - x[0]), (y[-1] - y[-2]) / (x[-1] - x[-2])
    drawn = inside + np.minimum(where - x[0], 0.0) * first + np.maximum(where - x[-1], 0.0) * last
    return np.where(at > 0, -np.expm1(-np.exp(np.minimum(drawn, 50.0))), 0.0)


def _planned_by(part: PartAhead, best_in: float, at: Floats) -> Floats:
    """Chance that the part has gathered the exposure at which it is best renewed; duty is lognormal, as in outlooks."""
    if best_in <= 0:
        return np.ones(at.size)
    per_day = part.pace.exposure_per_day
    if not np.isfinite(best_in) or per_day <= 0:
        return np.zeros(at.size)
    sigma = np.sqrt(np.log1p(part.pace.relative_sd**2 / np.maximum(at / 7.0, 1.0)))
    short = np.log(best_in / np.maximum(per_day * at, 1e-300))
    return np.asarray(ndtr(-(short + 0.5 * sigma**2) / np.maximum(sigma, 1e-9)))


def _after(reached: Floats, cycle: Floats) -> Floats:
    """Chance of one renewal more by each day: when the last one was, and a cycle after it."""
    steps = np.diff(reached, axis=1, prepend=0.0)
    size = 2 * steps.shape[1]
    joined = np.fft.irfft(np.fft.rfft(steps, size) * np.fft.rfft(cycle, size), size)[:, : steps.shape[1]]
    return np.asarray(np.maximum.accumulate(np.clip(joined, 0.0, 1.0), axis=1))


def quantiles(pmf: Floats) -> Interval:
    """The tenth, the middle and the ninetieth of a hundred of a whole number, with the band eight in ten lie in."""
    below = np.cumsum(pmf)
    low, mid, high = (float(np.searchsorted(below, share - 1e-12)) for share in (0.1, 0.5, 0.9))
    return Interval(low, mid, high)
