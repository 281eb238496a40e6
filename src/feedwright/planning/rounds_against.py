"""What a plan of rounds is held against: each task by itself when due, and monthly rounds of everything."""

import math

from feedwright.planning.rounds_machine import mask_of
from feedwright.planning.rounds_values import Choice, RoundsCost, RoundsProblem, RoundTask


def when_due(problem: RoundsProblem) -> RoundsCost:
    """Each task by itself on the day that is cheapest for it, heated and trammed anew for each.

    As if there were always hours for it; no visit is shared, now or later.
    """
    timing = bench = later = 0.0
    used = set()
    for work in problem.machines:
        for bit, task in enumerate(work.tasks):
            alone = float(work.minutes[1 << bit]) + problem.stop_minutes
            day = _own_day(task, alone * problem.minute_cost)
            if day < 0:
                timing += task.later_cost
                later += alone if task.later_group is not None else 0.0
            else:
                timing += task.cost[day]
                bench += alone
                used.add(day)
    bench += problem.round_minutes * len(used)
    return RoundsCost(timing, problem.minute_cost * bench, problem.minute_cost * later)


def _own_day(task: RoundTask, alone_cost: float) -> int:
    left = task.later_cost + (alone_cost if task.later_group is not None else 0.0)
    day = min(range(len(task.cost)), key=lambda one: task.cost[one], default=-1)
    return day if day >= 0 and task.cost[day] + alone_cost <= left else -1


def all_at_once(problem: RoundsProblem) -> tuple[Choice, ...]:
    """Everything on the first day with hours for it, machine by machine, and what does not fit there on the next."""
    left = [max(0.0, minutes - problem.round_minutes) for minutes in problem.hours_minutes]
    choices = []
    for work in problem.machines:
        choice: Choice = (-1,) * len(work.tasks)
        for day in range(problem.days):
            doable = tuple(day if math.isfinite(task.cost[day]) else -1 for task in work.tasks)
            minutes = float(work.minutes[mask_of(doable, day)]) + problem.stop_minutes
            if any(on == day for on in doable) and minutes <= left[day] and minutes <= work.free_minutes[day]:
                left[day] -= minutes
                choice = doable
                break
        choices.append(choice)
    return tuple(choices)
