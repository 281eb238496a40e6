"""One machine by itself: the best way to spread its tasks over the round days at given prices, and all good ones."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feedwright.planning.rounds_values import Choice, MachineWork, RoundsProblem
from feedwright.wear.life import Floats

FEASIBLE = 1e-6
"""What minutes or parts may be over by rounding."""


@dataclass(frozen=True, slots=True)
class Prices:
    """What the farm as a whole charges one machine, beyond its own costs."""

    minute: Floats
    """On each day: per minute at the bench, (days,)."""
    stop: Floats
    """On each day: for stopping there at all, (days,)."""
    part: Floats
    """On each day: for the short parts that each task takes, (days, tasks)."""


class MachineSpread:
    """Spreads one machine's tasks; keeps what does not depend on prices."""

    def __init__(self, problem: RoundsProblem, work: MachineWork) -> None:
        self.work, self._minute_cost, self._stop_minutes = work, problem.minute_cost, problem.stop_minutes
        tasks, days = work.tasks, problem.days
        self._task_cost = np.array(
            [[task.cost[day] + _change(problem, task.before, day) for task in tasks] for day in range(days)]
        ).reshape(days, len(tasks))
        # a stop that no round of the day could hold is never of use, and to rule it out here sharpens the bound
        self._free = np.minimum(np.array(work.free_minutes), np.array(problem.left_minutes) - problem.stop_minutes)
        self._later = _later(problem, work)
        self._costs = np.empty((days, work.minutes.size))
        self._to_go = np.empty((days + 1, work.minutes.size))

    def best(self, prices: Prices, most_minutes: Floats | None = None) -> tuple[float, Choice]:
        """The least cost at these prices, and the choice that has it.

        ``most_minutes`` (days,) is what its stops may take at most, where less is left than the whole round.
        """
        from feedwright.planning import rounds_kernel as k

        minute = self._minute_cost + prices.minute
        free = self._free if most_minutes is None else np.minimum(self._free, most_minutes - self._stop_minutes)
        k.day_costs(
            self.work.minutes, self._task_cost + prices.part, free, minute,
            self._stop_minutes * minute + prices.stop, self._costs,
        )  # fmt: skip
        k.cost_to_go(self._costs, self._later, self._to_go)
        return float(self._to_go[0, -1]), self._within(float(self._to_go[0, -1]), 1)[0][0]

    def within(self, most: float, limit: int) -> tuple[list[Choice], bool]:
        """Every choice that costs no more at the prices last asked for; False where there are more than the limit."""
        return self._within(most, limit)

    def _within(self, most: float, limit: int) -> tuple[list[Choice], bool]:
        from feedwright.planning import rounds_kernel as k

        found = np.zeros((limit, self._costs.shape[0]), dtype=np.int64)
        count = k.spreads_within(self._costs, self._to_go, most + 1e-9 * max(1.0, abs(most)), found)
        return [self._choice(row) for row in found[: min(count, limit)]], count <= limit

    def _choice(self, masks: NDArray[np.int64]) -> Choice:
        choice = [-1] * len(self.work.tasks)
        for day, held in enumerate(masks.tolist()):
            for bit in range(len(choice)):
                if held >> bit & 1:
                    choice[bit] = day
        return tuple(choice)

    def cost_of(self, choice: Choice) -> float:
        """What a choice costs this machine, at no prices but its own; infinite where it is not free so long."""
        cost = self._later[mask_of(choice, -1)]
        for day in range(self._costs.shape[0]):
            held = mask_of(choice, day)
            if held:
                if self.work.minutes[held] > self._free[day] + FEASIBLE:
                    return math.inf
                cost += (self.work.minutes[held] + self._stop_minutes) * self._minute_cost
        return float(cost) + sum(float(self._task_cost[day, bit]) for bit, day in enumerate(choice) if day >= 0)

    def minutes_on(self, choice: Choice, day: int) -> float:
        """Bench minutes of the stop on a day; nought where there is none."""
        held = mask_of(choice, day)
        return float(self.work.minutes[held]) + self._stop_minutes if held else 0.0


def mask_of(choice: Choice, day: int) -> int:
    """The tasks of that day as a bit mask."""
    return sum(1 << bit for bit, held in enumerate(choice) if held == day)


def later_minutes(problem: RoundsProblem, work: MachineWork) -> Floats:
    """Minutes of the visits after the rounds, by which tasks are left: (2^n,)."""
    held, minutes = np.arange(work.minutes.size), np.zeros(work.minutes.size)
    for group in {task.later_group for task in work.tasks if task.later_group is not None}:
        own = held & sum(1 << bit for bit, task in enumerate(work.tasks) if task.later_group == group)
        minutes += work.minutes[own] + problem.stop_minutes * (own > 0)
    return minutes


def _later(problem: RoundsProblem, work: MachineWork) -> Floats:
    """What leaving each set of tasks costs, (2^n,)."""
    held = np.arange(work.minutes.size)
    cost = problem.minute_cost * later_minutes(problem, work)
    for bit, task in enumerate(work.tasks):
        cost[held >> bit & 1 == 1] += task.later_cost + _change(problem, task.before, -1)
    return cost


def _change(problem: RoundsProblem, before: int | None, day: int) -> float:
    return problem.change_cost if before is not None and before != day else 0.0
