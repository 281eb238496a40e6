"""Choosing visits: equal to trying everything on small cases; a bound that holds; hours, windows and pins are kept."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from feedwright.planning.rounds import plan_rounds
from feedwright.planning.rounds_against import all_at_once, when_due
from feedwright.planning.rounds_cost import cost_of, days_used, feasible, minutes_used
from feedwright.planning.rounds_values import Choice, MachineWork, RoundsProblem, RoundTask


def small_case(seed: int, machines: int = 3, most_tasks: int = 3, days: int = 3) -> RoundsProblem:
    """A case by chance: shared work, early and late costs, short hours, closed days, sometimes a short part."""
    draw = np.random.default_rng(seed)
    works = []
    for number in range(machines):
        count = int(draw.integers(1, most_tasks + 1))
        own, pieces = draw.uniform(2, 15, count), draw.random((count, 2)) < 0.5
        held = (np.arange(1 << count)[:, None] >> np.arange(count)) & 1
        minutes = held @ own + ((held @ pieces) > 0) @ np.array([6.0, 20.0])
        tasks = tuple(
            RoundTask(
                key=bit,
                cost=tuple(np.where(draw.random(days) < 0.1, np.inf, draw.uniform(0, 25, days)).tolist()),
                later_cost=float(draw.uniform(0, 40)),
                later_group=[None, 0, 1][int(draw.integers(3))],
                before=[None, -1, *range(days)][int(draw.integers(days + 2))],
                needs=(("nozzle", 1),) if draw.random() < 0.4 else (),
            )
            for bit in range(count)
        )
        free = np.where(draw.random(days) < 0.2, 0.0, draw.uniform(20, 90, days))
        works.append(MachineWork(number, tasks, minutes, tuple(free.tolist())))
    supplies = {"nozzle": (int(draw.integers(0, 2)),) * (days - 1) + (2,)} if seed % 2 else None
    return RoundsProblem(
        tuple(draw.uniform(20, 110, days).tolist()), tuple(works), minute_cost=0.4, round_minutes=8.0,
        stop_minutes=3.0, change_cost=0.7, supplies=supplies,
    )  # fmt: skip


def by_trying_everything(problem: RoundsProblem) -> float:
    """Least cost over every choice whatever, each reckoned from nothing but the problem's own words."""
    ways = [list(itertools.product(range(-1, problem.days), repeat=len(work.tasks))) for work in problem.machines]
    own = [[_own(problem, work, way) for way in held] for work, held in zip(problem.machines, ways, strict=True)]
    own = [[one for one in held if math.isfinite(one[0])] for held in own]
    best = math.inf
    hours = np.array(problem.hours_minutes)
    for some in itertools.product(*own[:-1]):
        cost, minutes, taken = (sum(parts) for parts in zip(*some, strict=True))
        last_cost = np.array([one[0] for one in own[-1]]) + cost
        last_minutes = np.array([one[1] for one in own[-1]]) + minutes
        last_taken = np.cumsum(np.array([one[2] for one in own[-1]]) + taken, axis=1)
        used = last_minutes > 0
        last_minutes = last_minutes + problem.round_minutes * used
        total = last_cost + problem.minute_cost * problem.round_minutes * used.sum(axis=1)
        there = np.array((problem.supplies or {}).get("nozzle", [99] * problem.days))
        fine = (last_minutes <= hours + 1e-9).all(axis=1) & (last_taken <= there).all(axis=1)
        best = min(best, float(total[fine].min(initial=math.inf)))
    return best


def _own(problem: RoundsProblem, work: MachineWork, way: Choice) -> tuple[float, np.ndarray, np.ndarray]:
    """One machine's own cost, its minutes by day, and the short parts it takes on each day."""
    cost, minutes, taken = 0.0, np.zeros(problem.days), np.zeros(problem.days)
    for task, day in zip(work.tasks, way, strict=True):
        cost += task.later_cost if day < 0 else task.cost[day]
        cost += problem.change_cost if task.before is not None and task.before != day else 0.0
        if day >= 0:
            taken[day] += sum(count for _, count in task.needs)
    for day in range(problem.days):
        held = sum(1 << bit for bit, on in enumerate(way) if on == day)
        if held:
            if work.minutes[held] > work.free_minutes[day]:
                return math.inf, minutes, taken
            minutes[day] = work.minutes[held] + problem.stop_minutes
    for group in (0, 1):
        held = sum(
            1 << bit for bit, (task, on) in enumerate(zip(work.tasks, way, strict=True))
            if on < 0 and task.later_group == group
        )  # fmt: skip
        cost += (work.minutes[held] + problem.stop_minutes) * problem.minute_cost if held else 0.0
    return cost + float(minutes.sum()) * problem.minute_cost, minutes, taken


@pytest.mark.parametrize("block", range(8))
def test_two_hundred_small_cases_equal_trying_everything(block: int) -> None:
    for seed in range(25 * block, 25 * block + 25):
        problem = small_case(seed)
        plan, least = plan_rounds(problem), by_trying_everything(problem)
        assert plan.cost.total == pytest.approx(least, abs=1e-6), seed
        assert plan.bound <= least + 1e-6
        assert plan.bound == pytest.approx(least, abs=1e-5), seed
        assert plan.complete
        assert feasible(problem, plan.choices)


@pytest.mark.parametrize("block", range(4))
def test_a_plan_before_that_can_be_no_more_misleads_nobody(block: int) -> None:
    """A machine may have become busy on the day that it was planned for: the plan for it is no choice any more."""
    for seed in range(25 * block, 25 * block + 25):
        problem = small_case(seed)
        before = [tuple(-1 if task.before is None else task.before for task in work.tasks) for work in problem.machines]
        plan = plan_rounds(problem, before=before)
        assert plan.cost.total == pytest.approx(by_trying_everything(problem), abs=1e-6), seed
        assert plan.complete


def middling(seed: int) -> RoundsProblem:
    return small_case(seed, machines=14, most_tasks=5, days=6)


@pytest.mark.parametrize("seed", range(6))
def test_the_bound_holds_and_hours_windows_and_parts_suffice(seed: int) -> None:
    problem = middling(seed)
    plan = plan_rounds(problem, limit_s=2.0)
    assert plan.bound <= plan.cost.total + 1e-9
    assert plan.cost == cost_of(problem, plan.choices)
    assert all(used <= hours + 1e-6 for used, hours in
               zip(minutes_used(problem, plan.choices), problem.hours_minutes, strict=True))  # fmt: skip
    for work, choice in zip(problem.machines, plan.choices, strict=True):
        for day in set(choice) - {-1}:
            held = sum(1 << bit for bit, on in enumerate(choice) if on == day)
            assert work.minutes[held] <= work.free_minutes[day] + 1e-6
    more = plan_rounds(replace(problem, hours_minutes=tuple(2 * h for h in problem.hours_minutes)), limit_s=2.0)
    assert more.bound <= plan.cost.total + 1e-6, "more hours never cost more"


def test_what_is_pinned_to_a_day_is_done_there_and_what_is_ruled_out_is_left() -> None:
    problem = middling(3)
    first, second = problem.machines[:2]
    inf = math.inf
    pinned = replace(first.tasks[0], cost=(inf, inf, 9.0, inf, inf, inf), later_cost=inf)
    skipped = replace(second.tasks[0], cost=(inf,) * 6)
    works = (
        replace(first, tasks=(pinned, *first.tasks[1:]), free_minutes=(99.0,) * 6),
        replace(second, tasks=(skipped, *second.tasks[1:])), *problem.machines[2:],
    )  # fmt: skip
    plan = plan_rounds(replace(problem, machines=works, hours_minutes=(120.0,) * 6), limit_s=2.0)
    assert plan.choices[0][0] == 2
    assert plan.choices[1][0] == -1


def test_the_plan_before_is_kept_where_changing_it_saves_less_than_its_price() -> None:
    problem = replace(middling(5), change_cost=0.0)
    plan = plan_rounds(problem, limit_s=2.0)
    tasks = [
        tuple(replace(task, before=day) for task, day in zip(work.tasks, choice, strict=True))
        for work, choice in zip(problem.machines, plan.choices, strict=True)
    ]
    nudged = [
        replace(work, tasks=tuple(dearer_later(task) for task in held))
        for work, held in zip(problem.machines, tasks, strict=True)
    ]
    again = plan_rounds(replace(problem, machines=tuple(nudged), change_cost=2.0), before=plan.choices, limit_s=2.0)
    assert again.choices == plan.choices
    assert again.cost.changes == 0.0


def dearer_later(task: RoundTask) -> RoundTask:
    return replace(task, cost=tuple(cost + 0.01 * day for day, cost in enumerate(task.cost)))


def test_no_machine_no_cost() -> None:
    plan = plan_rounds(RoundsProblem((60.0,), (), 0.4, 8.0, 3.0))
    assert (plan.cost.total, plan.gap_frac, plan.choices) == (0.0, 0.0, ())


def test_the_plan_costs_no_more_than_doing_without() -> None:
    """Monthly rounds of everything are one of its choices; each task when due is so too where hours are no matter."""
    problem = middling(7)
    works = tuple(
        replace(
            work, free_minutes=(999.0,) * 6,
            tasks=tuple(replace(task, cost=tuple(min(cost, 30.0) for cost in task.cost)) for task in work.tasks),
        )
        for work in problem.machines
    )  # fmt: skip
    problem = replace(problem, machines=works, hours_minutes=(2000.0,) * 6, supplies=None, change_cost=0.0)
    plan, monthly = plan_rounds(problem, limit_s=2.0), all_at_once(problem)
    assert days_used(monthly) == {0}
    assert plan.cost.total <= cost_of(problem, monthly).total
    assert plan.cost.total <= when_due(problem).total + 1e-6


def test_progress_is_told_and_ends_whole() -> None:
    told: list[float] = []
    plan_rounds(middling(1), limit_s=1.0, progress=lambda done, total: told.append(done / total))
    assert told[-1] == 1.0
    assert all(0.0 <= share <= 1.0 for share in told)
