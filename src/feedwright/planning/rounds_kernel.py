"""The best way to spread one machine's tasks over the round days, compiled; ``rounds_machine.py`` is its typed door.

Sets of tasks are bit masks. From the last day back, the least cost of what is still to do on a day is the least, over
every set that may be done that day, of its cost and the least cost of the rest: exact, in 3^n steps a day.
"""

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Masks = NDArray[np.int64]


@numba.njit(cache=True, nogil=True)
def day_costs(
    minutes: Floats, task_cost: Floats, free: Floats, minute_price: Floats, stop_price: Floats, out: Floats
) -> None:
    """What each set costs on each day, into ``out`` (days, 2^n); ``task_cost`` (days, n), infinite where it cannot."""
    days, size = out.shape
    for day in range(days):
        row = out[day]
        row[0] = 0.0
        for held in range(1, size):
            low = held & -held
            bit = 0
            while (low >> bit) & 1 == 0:
                bit += 1
            row[held] = row[held ^ low] + task_cost[day, bit]
        for held in range(1, size):
            if minutes[held] > free[day] + 1e-9:
                row[held] = np.inf
            else:
                row[held] += minutes[held] * minute_price[day] + stop_price[day]


@numba.njit(cache=True, nogil=True)
def cost_to_go(costs: Floats, later: Floats, out: Floats) -> None:
    """Least cost of doing each set from each day on, into ``out`` (days + 1, 2^n); ``later`` (2^n,): all of it left."""
    days, size = costs.shape
    out[days] = later
    for day in range(days - 1, -1, -1):
        row, rest = costs[day], out[day + 1]
        allowed = 0
        for held in range(1, size):
            if held & (held - 1) == 0 and row[held] < np.inf:
                allowed |= held
        for held in range(size):
            best = rest[held]
            part = held & allowed
            take = part
            while take > 0:
                cost = row[take] + rest[held ^ take]
                best = min(best, cost)
                take = (take - 1) & part
            out[day, held] = best


@numba.njit(cache=True, nogil=True)
def spreads_within(costs: Floats, to_go: Floats, most: float, found: Masks) -> int:
    """Every way to spread all tasks that costs no more than ``most``, into ``found`` (limit, days) as masks.

    Returns how many there are; more than the limit where it ended early. Depth first, cut off by the least cost to go.
    """
    days, size = costs.shape
    rest, spent = np.empty(days + 1, dtype=np.int64), np.empty(days + 1)
    take = np.empty(days, dtype=np.int64)
    rest[0], spent[0] = size - 1, 0.0
    count, day = 0, 0
    take[0] = size - 1
    while day >= 0:
        if day == days:
            if count < found.shape[0]:
                found[count] = take
            count += 1
            if count > found.shape[0]:
                return count
            day -= 1
            if day >= 0:
                take[day] = (take[day] - 1) & rest[day] if take[day] > 0 else -1
            continue
        held = take[day]
        if held < 0:
            day -= 1
            if day >= 0:
                take[day] = (take[day] - 1) & rest[day] if take[day] > 0 else -1
            continue
        cost = spent[day] + costs[day, held]
        left = rest[day] ^ held
        if cost + to_go[day + 1, left] <= most:
            rest[day + 1], spent[day + 1] = left, cost
            day += 1
            if day < days:
                take[day] = left
        else:
            take[day] = (held - 1) & rest[day] if held > 0 else -1
    return count
