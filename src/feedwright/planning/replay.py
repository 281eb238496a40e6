"""What another way of keeping would have brought over weeks that are past: the same weeks with drawn lives.

Each farm that is lived through draws the lives of its parts from what is believed of them. The part that sat at a place
when the weeks began is the real one: it lasts as long as it truly did where it failed, and at least as long as it
truly did where it was taken off sound or is still there.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feedwright.planning.values import RenewalCosts
from feedwright.wear.life import Floats
from feedwright.wear.values import Interval

NEVER = math.inf


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """One place of a machine over the weeks; places of one machine stand together."""

    machine: int
    weekly: Floats
    """Exposure gathered in each week, (weeks,)."""
    gathered: float
    """What the part that sat there had been through when the weeks began."""
    lived: float
    """What that part is known to have reached alive, or its true life where ``failed``."""
    failed: bool
    medians: Floats
    """Median life in each farm lived through, (farms,) ..."""
    shapes: Floats
    """... and shape."""
    lognormal: bool
    costs: RenewalCosts


@dataclass(frozen=True, slots=True)
class Replayed:
    """What a calendar would have brought over all the weeks; the bands hold nine farms in ten."""

    every_weeks: float
    """Weeks between two rounds; infinite where nothing is renewed until it fails."""
    failures: Interval
    renewals: Interval
    """Planned ones."""
    cost: Interval
    saved: Interval
    """Its cost less that of what was really done."""


def replay(places: Sequence[Place], every_weeks: float, really_cost: float, draw: np.random.Generator) -> Replayed:
    """Live the weeks through with every part of the places renewed in rounds.

    The first round falls on any of its weeks with equal chance. At a round each machine that printed since its last
    one has all its parts renewed, sharing one heating up and tramming.
    """
    farms = places[0].medians.size
    weekly = np.stack([place.weekly for place in places], axis=1)
    lives = _Lives(places, draw)
    phase = draw.integers(0, int(every_weeks), size=farms) if math.isfinite(every_weeks) else None
    failures, renewals, cost = np.zeros(farms), np.zeros(farms), np.zeros(farms)
    since_round = np.zeros((len(places), farms))
    failure_cost, planned = (np.array([getattr(place.costs, what) for place in places]) for what in _COSTS)
    for week, gathered in enumerate(weekly):
        failed = lives.wear(gathered)
        since_round += gathered[:, None]
        failures += failed.sum(axis=0)
        cost += failure_cost @ failed
        if phase is not None:
            due = ((week - phase) % int(every_weeks) == 0)[None, :] & (since_round > 0)
            if not due.any():
                continue
            lives.renew(due)
            since_round[due] = 0.0
            renewals += due.sum(axis=0)
            cost += planned @ due - _shared(places, due)
    return Replayed(every_weeks, *(_band(of) for of in (failures, renewals, cost, cost - really_cost)))


_COSTS = ("failure", "planned")


class _Lives:
    """The parts at all places in all farms: what each is good for, and what it has gathered; (places, farms)."""

    def __init__(self, places: Sequence[Place], draw: np.random.Generator) -> None:
        self._draw = draw
        self._median = np.stack([place.medians for place in places])
        self._shape = np.stack([place.shapes for place in places])
        self._lognormal = np.broadcast_to(np.array([place.lognormal for place in places])[:, None], self._median.shape)
        lived = np.broadcast_to(np.array([place.lived for place in places])[:, None], self._median.shape)
        known = np.broadcast_to(np.array([place.failed for place in places])[:, None], self._median.shape)
        everywhere = np.ones(self._median.shape, dtype=bool)
        self._life = np.where(known, lived, self._drawn(everywhere, lived).reshape(self._median.shape))
        self._age = np.array([place.gathered for place in places])[:, None] + np.zeros(self._median.shape)

    def wear(self, gathered: Floats) -> Floats:
        """Let every place gather so much; returns how many parts failed at each, (places, farms)."""
        self._age += gathered[:, None]
        failed = np.zeros(self._age.shape)
        over = self._age >= self._life
        while over.any():
            failed += over
            self._age[over] = np.maximum(self._age[over] - self._life[over], 0.0)
            self._life[over] = self._drawn(over, np.zeros(over.shape))
            over &= self._age >= self._life
        return failed

    def renew(self, due: NDArray[np.bool_]) -> None:
        """Put new parts in."""
        self._age[due] = 0.0
        self._life[due] = self._drawn(due, np.zeros(due.shape))

    def _drawn(self, where: NDArray[np.bool_], reached: Floats) -> Floats:
        """Lives that last beyond what was reached, by the distributions of :mod:`feedwright.wear.life`."""
        from scipy.special import ndtr, ndtri

        median, shape, lognormal = self._median[where], self._shape[where], self._lognormal[where]
        share, chance = reached[where] / median, 1.0 - self._draw.random(median.size)
        times = (share**shape - np.log(chance) / math.log(2.0)) ** (1.0 / shape)
        if lognormal.any():
            alive = ndtr(-shape[lognormal] * np.log(np.maximum(share[lognormal], 1e-300)))
            times[lognormal] = np.exp(-ndtri(np.maximum(chance[lognormal] * alive, 1e-300)) / shape[lognormal])
        return np.asarray(median * times)


def _shared(places: Sequence[Place], due: NDArray[np.bool_]) -> Floats:
    """What the jobs of one machine save in each farm: all of their shared cost but the greatest."""
    shared = np.array([place.costs.shared for place in places])[:, None] * due
    machine = np.array([place.machine for place in places])
    begins = np.flatnonzero(np.concatenate([[True], machine[1:] != machine[:-1]]))
    return np.asarray(shared.sum(axis=0) - np.maximum.reduceat(shared, begins, axis=0).sum(axis=0))


def _band(values: Floats) -> Interval:
    low, mid, high = np.quantile(values, (0.05, 0.5, 0.95))
    return Interval(float(low), float(mid), float(high))
