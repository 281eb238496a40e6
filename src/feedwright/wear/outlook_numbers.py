"""The numbers of many outlooks at once: chances by days to come, and what is left, for a whole farm in one go.

Every part has its own curve of shares alive on a grid of exposure common to all of them, geometric from its second
point on, so that where a value falls on it is one logarithm away.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feedwright.wear.life import Floats
from feedwright.wear.standing import Standing
from feedwright.wear.values import PaceOfUse

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(10)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
DAYS = np.concatenate([[0.0], np.geomspace(0.25, 7300.0, 160)])
AT_DAYS = np.array([1.0, 7.0, 30.0])
LATER_DAYS = np.array([14.0, 60.0, 120.0, 240.0])
"""Beyond those that an outlook is read for: what stores and plans reckon with."""
LEFT = np.array([0.9, 0.5, 0.1])
"""Shares still alive at the low, middle and high end of what is left."""
CHUNK = 256
"""Parts worked out together: what they need then stays in the processor's near memory."""


@dataclass(frozen=True, slots=True)
class OutlookNumbers:
    """Chances to fail by a day, week and month, and what is left in exposure and in days: all (parts, 3)."""

    failure_frac: Floats
    remaining: Floats
    remaining_days: Floats
    later_frac: Floats
    """Chances to fail by each of ``LATER_DAYS``, (parts, 4)."""


def duty_nodes(pace: PaceOfUse, days: Floats) -> Floats:
    """Exposure gathered in so many days at the nodes of its spread, shape (n, nodes); node weights are fixed.

    Duty is taken as lognormal with the pace's mean and a spread that evens out over the weeks.
    """
    return np.asarray(_duty(np.array([pace.exposure_per_day]), np.array([pace.relative_sd]), days[None])[0])


def _duty(per_day: Floats, relative_sd: Floats, days: Floats) -> Floats:
    """Exposure gathered in ``days`` (parts, q), as (parts, q, nodes)."""
    weeks = np.maximum(days / 7.0, 1.0)
    sigma = np.sqrt(np.log1p(relative_sd[:, None] ** 2 / weeks))[:, :, None]
    mean = (per_day[:, None] * days)[:, :, None]
    return np.asarray(mean * np.exp(sigma * _NODES - 0.5 * sigma**2))


def outlook_numbers(
    exposure: Floats, alive: Floats, standings: Sequence[Standing], paces: Sequence[PaceOfUse]
) -> OutlookNumbers:
    """The numbers of some parts: ``alive`` (parts, n) over ``exposure`` (n,), each part's standing and pace.

    Infinite days where a part is not used.
    """
    done = [
        _some(exposure, alive[at : at + CHUNK], standings[at : at + CHUNK], paces[at : at + CHUNK])
        for at in range(0, len(standings), CHUNK)
    ]
    return OutlookNumbers(*(np.concatenate(column) for column in zip(*done, strict=True)))


def _some(
    exposure: Floats, alive: Floats, standings: Sequence[Standing], paces: Sequence[PaceOfUse]
) -> tuple[Floats, Floats, Floats, Floats]:
    points = _Points(exposure, alive, standings)
    per_day = np.array([pace.exposure_per_day for pace in paces])
    spread = np.array([pace.relative_sd for pace in paces])

    def by_days(days: Floats) -> Floats:
        return np.asarray(points.alive_after(_duty(per_day, spread, days)) @ _WEIGHTS)

    asked = np.concatenate([AT_DAYS, LATER_DAYS])
    failure = 1.0 - by_days(np.broadcast_to(asked, (per_day.size, asked.size)))
    remaining = _crossings(points.alive_after, exposure, per_day.size)
    days = _crossings(by_days, DAYS, per_day.size)
    days[per_day <= 0] = np.inf
    failure[per_day <= 0] = 0.0
    near, later = np.maximum(failure[:, : AT_DAYS.size], 0.0), np.maximum(failure[:, AT_DAYS.size :], 0.0)
    return np.maximum.accumulate(near, axis=1), remaining, days, np.maximum.accumulate(later, axis=1)


class _Points:
    """All points of belief of some parts in one row."""

    def __init__(self, exposure: Floats, alive: Floats, standings: Sequence[Standing]) -> None:
        counts = [standing.age.size for standing in standings]
        self._begins = np.concatenate([[0], np.cumsum(counts)[:-1]]).astype(np.intp)
        self._owner = np.repeat(np.arange(len(standings)), counts)
        self._single = max(counts) == 1
        self._exposure, self._flat = exposure, np.ascontiguousarray(alive).ravel()
        self._step = 1.0 / exposure[1:2], np.log(exposure[2] / exposure[1])
        self._wide = np.diff(exposure)
        self._age, self._low, self._high, self._share = (
            np.concatenate([getattr(standing, name) for standing in standings]) for name in Standing.__slots__
        )
        bounded = np.isfinite(self._high)
        self._floor = np.where(bounded, self._look(np.where(bounded, self._high, 0.0)[:, None])[:, 0], 0.0)
        self._now = self._left(np.zeros((len(standings), 1)))

    def alive_after(self, more: Floats) -> Floats:
        """Chance to be alive after ``more`` (parts, ...), of the same shape."""
        return np.asarray((self._left(more.reshape(more.shape[0], -1)) / self._now).reshape(more.shape))

    def _left(self, more: Floats) -> Floats:
        until = np.minimum(np.maximum(self._age[:, None] + more[self._owner], self._low[:, None]), self._high[:, None])
        spared = np.maximum(self._look(until) - self._floor[:, None], 0.0) * self._share[:, None]
        left = spared if self._single else np.add.reduceat(spared, self._begins, axis=0)
        return np.maximum(left, 1e-300)

    def _look(self, at: Floats) -> Floats:
        """Share alive at these exposures (points, q), each on its part's curve."""
        scale, step = self._step
        last = self._exposure.size - 2
        place: NDArray[np.intp] = (np.log(np.maximum(at * scale, 1e-12)) / step + 1.0).astype(np.intp)
        np.clip(place, 0, last, out=place)
        part = np.clip((at - self._exposure[place]) / self._wide[place], 0.0, 1.0)
        place += (self._owner * self._exposure.size)[:, None]
        begin = self._flat[place]
        return np.asarray(begin + part * (self._flat[place + 1] - begin))


def _crossings(alive: Callable[[Floats], Floats], at: Floats, parts: int) -> Floats:
    """Where each part's falling chance, given (parts, 3) places, passes the shares of ``LEFT``; infinite if never.

    Straight between the points of ``at`` (n,), which are found by halving.
    """
    low = np.zeros((parts, LEFT.size), dtype=np.intp)
    high = np.full_like(low, at.size - 1)
    for _ in range(int(np.ceil(np.log2(at.size)))):
        middle = (low + high) // 2
        above = alive(at[middle]) > LEFT
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    before, behind = alive(at[low]), alive(at[high])
    part = np.clip((before - LEFT) / np.maximum(before - behind, 1e-300), 0.0, 1.0)
    return np.where(behind > LEFT, np.inf, at[low] + part * (at[high] - at[low]))
