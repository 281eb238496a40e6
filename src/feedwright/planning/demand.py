"""How many renewals the coming days ask for: a distribution made from the outlook of every fitted part.

Not a mean of the past: each part counts with its own chance to be renewed by each day, by age as advised or because it
fails. The sum over parts is exact (a Poisson-binomial distribution, by convolution); parts count as independent.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.special import ndtr

from feedwright.planning.values import Advice
from feedwright.wear.values import Interval, Outlook, PaceOfUse

Floats = NDArray[np.float64]
Days = NDArray[np.int64]
SURE_FRAC = 0.99
"""A part this likely to fail within the day has failed."""
MOST_RENEWALS = 12
"""Of one part within the days looked at."""
NEGLIGIBLE_FRAC = 1e-7
QUANTILES = np.array([0.1, 0.5, 0.9])
"""Shares that have failed by the low, middle and high end of a life or of what is left of it."""


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

    def counts(self, days: Days) -> Floats:
        """Chance of 0, 1, 2 ... renewals of each part by each of these days, (parts, k, days)."""
        reached = np.stack(
            [np.ones((self.pieces.size, days.size)), *(chance[:, days] for chance in self.at_least)], axis=1
        )
        after = np.concatenate([reached[:, 1:], np.zeros((self.pieces.size, 1, days.size))], axis=1)
        return np.asarray(np.maximum(reached - after, 0.0))

    def pieces_pmf(self, days: Days) -> Floats:
        """Distribution of the pieces needed by the end of each of these days, (days, pieces)."""
        return sum_of(self.counts(days), self.pieces)

    def due_now(self) -> NDArray[np.bool_]:
        """Parts that are to be renewed now, (parts,)."""
        return np.asarray(self.at_least[0][:, 0] >= SURE_FRAC)

    def expected(self) -> Floats:
        """Expected pieces by the end of each day, (H + 1,)."""
        return np.asarray(self.pieces @ np.sum(self.at_least, axis=0))

    def lasting(self, on_hand: int, days: Days) -> Floats:
        """Chance that so many pieces last through each of these days, (days,): what is needed stays within them."""
        if on_hand < 0:
            return np.zeros(days.size)
        return np.asarray(sum_of(self.counts(days), self.pieces, most=on_hand).sum(axis=1))


def sum_of(counts: Floats, pieces: NDArray[np.int64], most: int | None = None) -> Floats:
    """Distribution of the sum of independent numbers, for several days at once: (days, pieces).

    ``counts`` (parts, k, days) are the chances of 0 to k-1 of each part, which count ``pieces`` (parts,) each. Exact up
    to rounding, by convolution of one part after the other; sums beyond ``most`` are left out.
    """
    needed = np.ones((1, counts.shape[2]))
    for row, each in zip(counts, pieces.tolist(), strict=True):
        possible = np.flatnonzero(row.any(axis=1))
        last = needed.shape[0] - 1 + int(possible[-1]) * each
        after = np.zeros(((last if most is None else min(last, most)) + 1, needed.shape[1]))
        for many in possible.tolist():
            room = min(needed.shape[0], after.shape[0] - many * each)
            if room > 0:
                after[many * each : many * each + room] += row[many] * needed[:room]
        needed = after
    return needed.T


def renewals_ahead(parts: Sequence[PartAhead], days: int) -> RenewalsAhead:
    """Chances by day of some parts over the days to come (0 to ``days``).

    A part is renewed when it has gathered the exposure that its advice names, or fails before that; the next one in its
    place lives as such parts are believed to, and is renewed at the same best age.
    """
    at = np.arange(days + 1, dtype=np.float64)
    fails = failed_by([part.outlook for part in parts], at)
    planned = _planned_by(parts, [part.advice.best_in_exposure for part in parts], at)
    first = 1.0 - (1.0 - fails) * (1.0 - planned)
    before = np.concatenate([np.zeros((len(parts), 1)), planned[:, :-1]], axis=1)
    failing = np.minimum(np.cumsum(np.diff(fails, axis=1, prepend=0.0) * (1.0 - before), axis=1), first)
    pieces = np.array([part.pieces for part in parts], dtype=np.int64)
    return RenewalsAhead(pieces, tuple(_one_after_another(first, _cycle(parts, at))), failing)


def failed_by(outlooks: Sequence[Outlook], at: Floats) -> Floats:
    """Chance that each part has failed by each day, (parts, days); ``at`` (days,) or (parts, days).

    From what its outlook says of a day, a week, a month and beyond: the cumulative hazard is laid through those points,
    straight in the logarithms of both, as it runs in a Weibull life. A part that fails within the day has failed.
    """
    later = max((len(held.failure_by_days) for held in outlooks), default=0)
    days, chances = np.full((len(outlooks), 6 + later), np.inf), np.tile(QUANTILES, (len(outlooks), 1))
    chances = np.concatenate([chances, np.zeros((len(outlooks), 3 + later))], axis=1)
    for row, held in enumerate(outlooks):
        left, known = held.remaining_days, held.failure_by_days
        days[row, : 6 + len(known)] = (left.low, left.mid, left.high, 1.0, 7.0, 30.0, *(day for day, _ in known))
        near = (held.failure_frac_day, held.failure_frac_week, held.failure_frac_month)
        chances[row, 3 : 6 + len(known)] = (*near, *(chance for _, chance in known))
    failed = chances[:, 3:4] >= SURE_FRAC
    return np.asarray(np.where(failed, 1.0, _through(days, -np.log1p(-np.minimum(chances, 1.0 - 1e-12)), at)))


def _cycle(parts: Sequence[PartAhead], at: Floats) -> Floats:
    """Chance that a new part in each place has been renewed by each day after it was fitted."""
    lives = np.array([(part.outlook.life.low, part.outlook.life.mid, part.outlook.life.high) for part in parts])
    per_day = np.array([part.pace.exposure_per_day for part in parts])
    used = per_day > 0
    days = lives.reshape(-1, 3) / np.where(used, per_day, 1.0)[:, None]
    fails = _through(days, np.tile(-np.log1p(-QUANTILES), (len(parts), 1)), at)
    planned = _planned_by(parts, [part.advice.optimum_exposure for part in parts], at)
    cycle = 1.0 - (1.0 - fails) * (1.0 - planned)
    return np.where(used[:, None] & (at > 0), cycle, 0.0)


def _through(days: Floats, hazards: Floats, at: Floats) -> Floats:
    """Chances by each day from points of cumulative hazard (parts, k): straight in logarithms, the ends drawn out.

    Points that are infinite, nought or below an earlier one are passed over; a single one is taken as a constant rate.
    """
    order = np.argsort(days, axis=1)
    x, hazard = np.take_along_axis(days, order, 1), np.take_along_axis(hazards, order, 1)
    asked = np.log(np.maximum(np.broadcast_to(at, (days.shape[0], at.shape[-1])), 1e-6))
    lie = np.full(asked.shape, -np.inf)
    last_x, last_y = np.full((2, days.shape[0], 1), -np.inf)
    known = np.zeros((days.shape[0], 1), dtype=np.int64)
    for here, risen in zip(x.T[:, :, None], hazard.T[:, :, None], strict=True):
        good = np.isfinite(here) & (here > 0) & (risen > 1e-12)
        at_x, at_y = np.log(np.where(good, here, 1.0)), np.log(np.where(good, risen, 1.0))
        good &= (at_x > last_x + 1e-9) & (at_y > last_y)
        steep = np.where(known > 0, at_y - last_y, 1.0) / np.where(known > 0, np.maximum(at_x - last_x, 1e-12), 1.0)
        lie = np.where(good & ((known < 2) | (asked > last_x)), at_y + steep * (asked - at_x), lie)
        last_x, last_y = np.where(good, at_x, last_x), np.where(good, at_y, last_y)
        known = known + good
    return np.where(at > 0, -np.expm1(-np.exp(np.minimum(lie, 50.0))), 0.0)


def _planned_by(parts: Sequence[PartAhead], best_in: Sequence[float], at: Floats) -> Floats:
    """Chance that each part has gathered the exposure at which it is renewed; duty is lognormal, as in outlooks."""
    best = np.array(best_in).reshape(-1, 1)
    per_day = np.array([part.pace.exposure_per_day for part in parts]).reshape(-1, 1)
    spread = np.array([part.pace.relative_sd for part in parts]).reshape(-1, 1)
    sigma = np.sqrt(np.log1p(spread**2 / np.maximum(at / 7.0, 1.0)))
    possible = np.isfinite(best) & (best > 0) & (per_day > 0)
    short = np.log(np.where(possible, best, 1.0) / np.maximum(per_day * at, 1e-300))
    gathered = ndtr(-(short + 0.5 * sigma**2) / np.maximum(sigma, 1e-9))
    return np.where(best <= 0, 1.0, np.where(possible, gathered, 0.0))


def _one_after_another(first: Floats, cycle: Floats) -> Iterator[Floats]:
    """Chance of at least 1, 2, ... renewals by each day: each a cycle after the one before."""
    size = next_fast_len(2 * first.shape[1], real=True)
    of_cycle = rfft(cycle, size)
    reached = first
    for _ in range(MOST_RENEWALS):
        yield reached
        joined = irfft(rfft(np.diff(reached, axis=1, prepend=0.0), size) * of_cycle, size)[:, : first.shape[1]]
        reached = np.maximum.accumulate(np.clip(joined, 0.0, 1.0), axis=1)
        if not reached.size or reached.max() < NEGLIGIBLE_FRAC:
            return


def quantiles(pmf: Floats) -> Interval:
    """The tenth, the middle and the ninetieth of a hundred of a whole number, with the band eight in ten lie in."""
    below = np.cumsum(pmf)
    low, mid, high = (float(np.searchsorted(below, share - 1e-12)) for share in (0.1, 0.5, 0.9))
    return Interval(low, mid, high)
