"""What choices of round days cost, what they use, and whether they can be."""

from collections.abc import Sequence

from feedwright.planning.rounds_machine import later_minutes, mask_of
from feedwright.planning.rounds_values import Choice, RoundsCost, RoundsProblem


def cost_of(problem: RoundsProblem, choices: Sequence[Choice]) -> RoundsCost:
    """What choices for all machines cost; infinite where a task cannot be done when it says."""
    timing = bench = later = changes = 0.0
    for work, choice in zip(problem.machines, choices, strict=True):
        for task, day in zip(work.tasks, choice, strict=True):
            timing += task.later_cost if day < 0 else task.cost[day]
            changes += problem.change_cost if task.before is not None and task.before != day else 0.0
        for day in range(problem.days):
            held = mask_of(choice, day)
            bench += float(work.minutes[held]) + problem.stop_minutes if held else 0.0
        later += float(later_minutes(problem, work)[mask_of(choice, -1)])
    bench += problem.round_minutes * len(days_used(choices))
    return RoundsCost(timing, problem.minute_cost * bench, problem.minute_cost * later, changes)


def days_used(choices: Sequence[Choice]) -> set[int]:
    """The days on which a round is made."""
    return {day for choice in choices for day in choice if day >= 0}


def minutes_used(problem: RoundsProblem, choices: Sequence[Choice]) -> list[float]:
    """Bench minutes of each day, the round's own included."""
    used = [0.0] * problem.days
    for work, choice in zip(problem.machines, choices, strict=True):
        for day in set(choice) - {-1}:
            used[day] += float(work.minutes[mask_of(choice, day)]) + problem.stop_minutes
    for day in days_used(choices):
        used[day] += problem.round_minutes
    return used


def feasible(problem: RoundsProblem, choices: Sequence[Choice]) -> bool:
    """True where hours, machines and short parts suffice for the choices."""
    for work, choice in zip(problem.machines, choices, strict=True):
        if any(work.minutes[mask_of(choice, day)] > work.free_minutes[day] + 1e-6 for day in set(choice) - {-1}):
            return False
    used = minutes_used(problem, choices)
    if any(minutes > hours + 1e-6 for minutes, hours in zip(used, problem.hours_minutes, strict=True)):
        return False
    for part, there in (problem.supplies or {}).items():
        gone = 0
        for day in range(problem.days):
            gone += sum(
                count
                for work, choice in zip(problem.machines, choices, strict=True)
                for task, on in zip(work.tasks, choice, strict=True)
                for name, count in task.needs
                if name == part and on == day
            )
            if gone > there[day]:
                return False
    return True
