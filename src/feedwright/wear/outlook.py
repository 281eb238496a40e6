"""From exposure, life and pace to what is expected of one fitting."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.entry import PartKind
from feedwright.units import show_duration, show_rounded
from feedwright.wear.life import LifeCurve
from feedwright.wear.values import Interval, Outlook, PaceOfUse, Share

Floats = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(10)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
AGES = 7
"""Points across an uncertain exposure."""
NEVER = Interval(math.inf, math.inf, math.inf)
DAYS = np.concatenate([[0.0], np.geomspace(0.25, 7300.0, 160)])


def duty_nodes(pace: PaceOfUse, days: Floats) -> Floats:
    """Exposure gathered in so many days at ten nodes of its spread, shape (n, 10); node weights are fixed.

    Duty is taken as lognormal with the pace's mean and a spread that evens out over the weeks.
    """
    weeks = np.maximum(days / 7.0, 1e-9)
    sigma = np.sqrt(np.log1p(pace.relative_sd**2 / np.maximum(weeks, 1.0)))
    mean = pace.exposure_per_day * days
    return mean[:, None] * np.exp(sigma[:, None] * _NODES[None, :] - 0.5 * sigma[:, None] ** 2)


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of one fitted part, as points of belief, all shape (k,).

    Each point is an exposure by now, the bounds that what was seen of the part puts on its life, and its share.
    """

    age: Floats
    low: Floats
    high: Floats
    share: Floats

    @classmethod
    def of(cls, exposure: Interval) -> "Standing":
        """A part of which nothing was seen but that it is alive."""
        ages = np.linspace(exposure.low, exposure.high, AGES) if exposure.high > exposure.low else exposure.low
        age = np.atleast_1d(np.asarray(ages, dtype=np.float64))
        return cls(age, age, np.full(age.size, np.inf), np.full(age.size, 1.0 / age.size))

    def left(self, alive: Callable[[Floats], Floats], more: Floats) -> Floats:
        """Share of all such parts that are like this one and fail only after ``more``, by a curve of shares alive.

        Divided by its value at nought it is the chance to be alive then.
        """
        until = np.maximum(self.age + more[..., None], self.low)
        spared = alive(np.minimum(until, self.high)) - np.where(np.isfinite(self.high), alive(self.high), 0.0)
        return np.asarray(np.maximum(spared, 0.0) @ self.share)


def still_alive(curve: LifeCurve, known: Interval | Standing, more: Floats) -> Floats:
    """Chance that a part alive now is alive after that much more exposure; ``more`` any shape.

    Where the present exposure is uncertain, each possible age counts by the chance of having reached it; what was
    seen of the part itself counts by its bounds. ``curve`` must not have learned from this same part.
    """
    standing = known if isinstance(known, Standing) else Standing.of(known)
    now = standing.left(curve.alive, np.zeros(1))[0]
    return np.asarray(standing.left(curve.alive, np.asarray(more)) / max(float(now), 1e-300))


def outlook(
    kind: PartKind,
    curve: LifeCurve,
    exposure: Interval,
    pace: PaceOfUse,
    drivers: tuple[Share, ...],
    *,
    standing: Standing | None = None,
    own: LifeCurve | None = None,
    said: tuple[str, ...] = (),
) -> Outlook:
    """What is expected of a fitting that has been through ``exposure`` and is used at ``pace``.

    ``curve`` is the life of such parts in its place. Where the part itself was looked at, ``standing`` holds its
    bounds, ``own`` the curve as it is without this part's own story, and ``said`` that story in words.
    """
    life = curve.life
    known, expected = standing or Standing.of(exposure), own or curve
    alive_by_day = still_alive(expected, known, duty_nodes(pace, DAYS)) @ _WEIGHTS
    remaining = _remaining(expected, known)
    per_day, hours = pace.exposure_per_day, pace.printing_h_per_day
    return Outlook(
        part_kind=kind.id,
        exposure=exposure,
        unit=kind.exposure.unit,
        life=life,
        share_used=Interval(exposure.low / life.high, exposure.mid / life.mid, exposure.high / life.low),
        failure_frac_day=_by(alive_by_day, 1.0),
        failure_frac_week=_by(alive_by_day, 7.0),
        failure_frac_month=_by(alive_by_day, 30.0),
        remaining=remaining,
        remaining_printing_h=remaining.times(hours / per_day) if per_day > 0 and hours > 0 else NEVER,
        remaining_days=_when(alive_by_day) if per_day > 0 else NEVER,
        because=(*_reasons(kind, curve, exposure, pace, drivers), *said),
        drivers=drivers,
        life_source=curve.source,
    )


def _by(alive_by_day: Floats, days: float) -> float:
    return max(0.0, float(1.0 - np.interp(days, DAYS, alive_by_day)))


def _remaining(curve: LifeCurve, known: Standing) -> Interval:
    """Exposure left: 10, 50 and 90 % points of the life still to come."""
    more = curve.exposure
    alive = still_alive(curve, known, more)
    low, mid, high = np.interp([-0.9, -0.5, -0.1], -alive, more)
    return Interval(float(low), float(mid), float(high))


def _when(alive_by_day: Floats) -> Interval:
    low, mid, high = np.interp([-0.9, -0.5, -0.1], -alive_by_day, DAYS, right=math.inf)
    return Interval(float(low), float(mid), float(high))


def _reasons(
    kind: PartKind, curve: LifeCurve, exposure: Interval, pace: PaceOfUse, drivers: tuple[Share, ...]
) -> tuple[str, ...]:
    life = curve.life
    used = f"It has been through {show_rounded(exposure.mid)} {kind.exposure.unit}"
    if exposure.high > exposure.low:
        low, high = show_rounded(exposure.low), show_rounded(exposure.high)
        used += f" (somewhere from {low} to {high}: its history is not fully known)"
    low, mid, high = show_rounded(life.low), show_rounded(life.mid), show_rounded(life.high)
    said = [f"{used}; such a part lasts about {mid}, eight in ten between {low} and {high} ({curve.source})."]
    if drivers:
        most = ", ".join(f"{share.words} ({share.share_frac:.0%})" for share in drivers[:3])
        said.append(f"Lately most of it came from {most}.")
    if pace.exposure_per_day > 0:
        day = f"{show_rounded(pace.exposure_per_day)} {kind.exposure.unit} a day"
        printed = show_duration(pace.printing_h_per_day * 3600)
        said.append(f"It gathers {day}, with {printed} of printing a day.")
    else:
        said.append("The machine has not printed lately, so nothing wears now.")
    return tuple(said)
