"""The farm lived through week by week, compiled; :mod:`feedwright.planning.policy` is its typed door.

Every chance is a hash of what it is for (farm, machine, part, its how-manieth life, week), never of the order in which
it is asked for, so that all policies meet the very same lives and weeks.
"""

import math

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Wholes = NDArray[np.int64]

# what a part is like, rows of ``parts``
(
    P_PACE, P_START, P_PLANNED, P_FAILURE, P_PART, P_MINUTES, P_UNPLANNED_MIN, P_SPOILS, P_LOOK, P_LOOK_MIN, P_WORN,
    P_HEAT_MIN, P_TRAM_MIN, P_LOST_H,
) = range(14)  # fmt: skip
# what a policy does with it, rows of ``rules``
R_AGE, R_WEEKS, R_LOOK, R_ALONG = range(4)
# what is counted
O_SPOILED, O_FAILED, O_RENEWED, O_LOOKS, O_PARTS, O_BENCH_H, O_DOWN_H, O_COST = range(8)
OUTCOMES = 8


@numba.njit(cache=True, nogil=True)
def chance(farm: int, thing: int, which: int, purpose: int) -> float:
    """A number between 0 and 1 that depends on these four alone (splitmix64 over their mixture)."""
    z = (
        np.uint64(farm) * np.uint64(0x9E3779B97F4A7C15)
        ^ np.uint64(thing) * np.uint64(0xD1B54A32D192ED03)
        ^ np.uint64(which) * np.uint64(0x8CB92BA72F3D8DD7)
        ^ np.uint64(purpose) * np.uint64(0xABC98388FB8FAC03)
    )
    for _ in range(2):
        z = z + np.uint64(0x9E3779B97F4A7C15)
        z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
        z = z ^ (z >> np.uint64(31))
    return (float(z >> np.uint64(11)) + 0.5) * 1.1102230246251565e-16


@numba.njit(cache=True, nogil=True)
def life_of(farm: int, part: int, which: int, median: float, shape: float, lognormal: bool, used: float) -> float:
    """The how-manieth life at a place; the first one is known to have reached what the part has been through."""
    share = chance(farm, part, which, 1)
    if lognormal:
        # the normal quantile by bisection of its distribution: once a life, so that speed is no matter
        alive_now = 0.5 * math.erfc(shape * math.log(used / median) / math.sqrt(2.0)) if used > 0.0 else 1.0
        low, high = -9.0, 9.0
        for _ in range(60):
            middle = 0.5 * (low + high)
            if 0.5 * math.erfc(middle / math.sqrt(2.0)) > share * alive_now:
                low = middle
            else:
                high = middle
        return median * math.exp(low / shape)
    lasts: float = median * ((used / median) ** shape - math.log(share) / math.log(2.0)) ** (1.0 / shape)
    return lasts


@numba.njit(cache=True, nogil=True)
def weeks_of_work(farm: int, machine: int, uneven: float, work: Floats) -> None:
    """Days' worth of work in each week, lognormal about seven: the same for every policy (Box & Muller, in pairs)."""
    for week in range(0, work.size, 2):
        u, v = chance(farm, machine, week, 2), chance(farm, machine, week, 3)
        reach = math.sqrt(-2.0 * math.log(u))
        work[week] = 7.0 * math.exp(uneven * reach * math.cos(2.0 * math.pi * v) - 0.5 * uneven * uneven)
        if week + 1 < work.size:
            work[week + 1] = 7.0 * math.exp(uneven * reach * math.sin(2.0 * math.pi * v) - 0.5 * uneven * uneven)


@numba.njit(cache=True, nogil=True)
def live(
    first: int, medians: Floats, shapes: Floats, lognormal: NDArray[np.bool_], parts: Floats, machine_of: Wholes,
    machines: int, rules: Floats, weeks: int, uneven: float, minute_cost: float, tally: Floats,
) -> None:  # fmt: skip
    """Live ``tally.shape[0]`` farms of so many weeks, the first numbered ``first``; add what happened to ``tally``.

    ``medians``, ``shapes`` (farms, parts) are the true lives of each farm; parts are in order of their machine. Most
    weeks nothing is due: each part keeps the one age and the one week at which anything next is.
    """
    count = machine_of.size
    age, lasts, looked = np.empty(count), np.empty(count), np.empty(count)
    next_age, next_week = np.empty(count), np.empty(count)
    which, job = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    work = np.empty(weeks)
    pace, limit, every, look, along = parts[P_PACE], rules[R_AGE], rules[R_WEEKS], rules[R_LOOK], rules[R_ALONG]
    begins = np.searchsorted(machine_of, np.arange(machines + 1))
    for row in range(tally.shape[0]):
        farm, out = first + row, tally[row]
        for p in range(count):
            age[p], which[p], looked[p] = parts[P_START, p], 0, parts[P_START, p]
            lasts[p] = life_of(farm, p, 0, medians[row, p], shapes[row, p], lognormal[p], parts[P_START, p])
            next_age[p] = min(lasts[p], limit[p], looked[p] + look[p])
            next_week[p] = every[p] - 1.0
        for m in range(machines):
            begin, end = begins[m], begins[m + 1]
            weeks_of_work(farm, m, uneven, work)
            for week in range(weeks):
                days = work[week]
                due = False
                for p in range(begin, end):
                    age[p] += pace[p] * days
                    due |= (age[p] >= next_age[p]) | (week >= next_week[p])
                if not due:
                    continue
                jobs = False
                for p in range(begin, end):
                    job[p] = 0
                    if age[p] >= lasts[p]:
                        job[p] = 2
                    elif age[p] >= limit[p] or week >= next_week[p]:
                        job[p] = 1
                    elif age[p] >= looked[p] + look[p]:
                        looked[p] = age[p]
                        out[O_LOOKS] += 1.0
                        out[O_BENCH_H] += parts[P_LOOK_MIN, p] / 60.0
                        out[O_DOWN_H] += parts[P_LOOK_MIN, p] / 60.0
                        out[O_COST] += parts[P_LOOK, p]
                        if age[p] >= parts[P_WORN, p] * lasts[p]:
                            job[p] = 1
                        next_age[p] = min(lasts[p], limit[p], looked[p] + look[p])
                    jobs |= job[p] > 0
                heated = trammed = 0
                for p in range(begin, end):
                    if jobs and job[p] == 0 and age[p] >= along[p]:
                        job[p] = 1
                    if job[p] == 0:
                        continue
                    minutes = parts[P_MINUTES, p]
                    out[O_PARTS] += parts[P_PART, p]
                    cost = parts[P_PLANNED, p]
                    if job[p] == 2:
                        out[O_FAILED] += 1.0
                        minutes += parts[P_UNPLANNED_MIN, p]
                        cost = parts[P_FAILURE, p]
                        if chance(farm, p, which[p], 4) < parts[P_SPOILS, p]:
                            out[O_SPOILED] += 1.0
                            out[O_DOWN_H] += parts[P_LOST_H, p]
                    else:
                        out[O_RENEWED] += 1.0
                    if parts[P_HEAT_MIN, p] > 0.0:
                        if heated > 0:
                            minutes -= parts[P_HEAT_MIN, p]
                            cost -= parts[P_HEAT_MIN, p] * minute_cost
                        heated += 1
                    if parts[P_TRAM_MIN, p] > 0.0:
                        if trammed > 0:
                            minutes -= parts[P_TRAM_MIN, p]
                            cost -= parts[P_TRAM_MIN, p] * minute_cost
                        trammed += 1
                    out[O_BENCH_H] += minutes / 60.0
                    out[O_DOWN_H] += minutes / 60.0
                    out[O_COST] += cost
                    which[p] += 1
                    age[p] = looked[p] = 0.0
                    lasts[p] = life_of(farm, p, which[p], medians[row, p], shapes[row, p], lognormal[p], 0.0)
                    next_age[p] = min(lasts[p], limit[p], look[p])
                    next_week[p] = week + every[p]
