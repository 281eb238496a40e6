"""Rounds against joint replenishment: items that share a major set-up, each with a minor one of its own.

What is wanted of an item in a period may be ordered then or earlier, at a cost of holding it meanwhile. That is our
problem word for word: an item is a machine, the demand of a period a task that may be done early at a cost, its minor
set-up the minutes of a visit, the major set-up the minutes of a round.

Sources: Silver (1976) as in Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed.: base period 3.10316445,
multiples 1, 3, 1, cost 837.85440; Wagner & Whitin (1958), its example 3.9 (cost 1380); both as the inventory library
stockpyl 1.0.2 gives them, which also judges random cases.
"""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from stockpyl.eoq import joint_replenishment_problem_silver_heuristic
from stockpyl.wagner_whitin import wagner_whitin

from feedwright.planning.rounds import plan_rounds
from feedwright.planning.rounds_values import Choice, MachineWork, RoundsProblem, RoundsSolution, RoundTask


def ordered(major: float, minor: Sequence[float], holding: Sequence[Sequence[float]]) -> RoundsSolution:
    """Orders over some periods: ``holding[item][period]`` is what keeping a period's demand one period costs."""
    periods = len(holding[0])
    works = []
    for number, (own, costs) in enumerate(zip(minor, holding, strict=True)):
        tasks = tuple(RoundTask(period, _held(period, cost, periods), math.inf) for period, cost in enumerate(costs))
        minutes = np.full(1 << periods, own)
        minutes[0] = 0.0
        works.append(MachineWork(number, tasks, minutes, (math.inf,) * periods))
    return plan_rounds(RoundsProblem((1e9,) * periods, tuple(works), 1.0, major, 0.0), gap=0.0)


def _held(period: int, cost: float, periods: int) -> tuple[float, ...]:
    return tuple(cost * (period - day) if day <= period else math.inf for day in range(periods))


def order_periods(choice: Choice) -> list[int]:
    return sorted(set(choice))


def test_silvers_example_of_joint_replenishment() -> None:
    own, holding = [120.0, 840.0, 300.0], [160.0, 20.0, 50.0]
    cycles, base, multiples, cost = joint_replenishment_problem_silver_heuristic(600, own, holding, [1, 1, 1])
    assert base == pytest.approx(3.10316445, abs=1e-8)
    assert (multiples, cost) == ([1, 3, 1], pytest.approx(837.85440, abs=1e-5))
    periods = 6
    plan = ordered(600, own, [[rate * base**2] * periods for rate in holding])
    assert [order_periods(choice) for choice in plan.choices] == [[*range(6)], [0, 3], [*range(6)]]
    assert plan.complete
    within_periods = sum(rate * base**2 / 2 * periods for rate in holding)
    assert (plan.cost.total + within_periods) / (periods * base) == pytest.approx(837.85440, abs=1e-5)
    assert cycles == pytest.approx([base * multiple for multiple in multiples])


def test_wagner_and_whitins_example() -> None:
    demand = [90.0, 120.0, 80.0, 70.0]
    plan = ordered(0.0, [500.0], [[2 * amount for amount in demand]])
    assert plan.cost.total == pytest.approx(1380.0)
    assert order_periods(plan.choices[0]) == [0, 2]


@pytest.mark.parametrize("seed", range(12))
def test_one_item_at_random_agrees_with_the_inventory_library(seed: int) -> None:
    """The set-up is now the item's own, now the round's, now a part of each."""
    draw = np.random.default_rng(seed)
    periods = int(draw.integers(3, 8))
    demand, setup = draw.uniform(1, 100, periods).round(1), float(draw.uniform(20, 400))
    rate = float(draw.uniform(0.5, 3))
    judged = wagner_whitin(periods, rate, setup, demand.tolist())[1]
    for share in (0.0, 0.4, 1.0):
        plan = ordered(share * setup, [(1 - share) * setup], [(rate * demand).tolist()])
        assert plan.cost.total == pytest.approx(float(judged), rel=1e-9)
        assert plan.bound == pytest.approx(plan.cost.total, rel=1e-6)
