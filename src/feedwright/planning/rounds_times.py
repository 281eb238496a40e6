"""When each stop of one round begins: one after the other, urgent first, each while its machine is free."""

from collections.abc import Sequence
from dataclasses import dataclass

Stretch = tuple[float, float]
"""From and until, in minutes from the round's beginning."""


@dataclass(frozen=True, slots=True)
class StopWish:
    """One stop to be placed."""

    key: int
    minutes: float
    waiting_cost: float
    """What putting it off costs: the dearer, the earlier."""
    free: tuple[Stretch, ...]
    """When its machine can be served."""


def begin_times(stops: Sequence[StopWish], begin_min: float) -> dict[int, float] | None:
    """When each stop begins, from ``begin_min`` on; None where they do not fit beside each other.

    The most urgent first; where that leaves one without a place, those with the least room to move first.
    """
    by_urgency = sorted(stops, key=lambda stop: (-stop.waiting_cost, stop.key))
    by_room = sorted(stops, key=lambda stop: (_room(stop), -stop.waiting_cost, stop.key))
    by_end = sorted(stops, key=lambda stop: (max(until for _, until in stop.free), -stop.waiting_cost, stop.key))
    for order in (by_urgency, by_room, by_end):
        placed = _placed(order, begin_min)
        if placed is not None:
            return placed
    return None


def _room(stop: StopWish) -> float:
    return sum(until - begin for begin, until in stop.free) - stop.minutes


def _placed(order: Sequence[StopWish], begin_min: float) -> dict[int, float] | None:
    taken: list[Stretch] = []
    placed: dict[int, float] = {}
    for stop in order:
        at = _earliest(stop, taken, begin_min)
        if at is None:
            return None
        placed[stop.key] = at
        taken = sorted([*taken, (at, at + stop.minutes)])
    return placed


def _earliest(stop: StopWish, taken: Sequence[Stretch], begin_min: float) -> float | None:
    for begin, until in stop.free:
        at = max(begin, begin_min)
        for other_begin, other_until in taken:
            if other_until <= at:
                continue
            if at + stop.minutes <= other_begin + 1e-9:
                break
            at = other_until
        if at + stop.minutes <= until + 1e-6:
            return at
    return None
