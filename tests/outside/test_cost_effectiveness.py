"""The order of repairs and the value of a look, against published worked examples.

Sources: Kadane & Simon, "Optimal strategies for a class of constrained sequential problems" (1977); Heckerman, Breese &
Rommelse, "Decision-theoretic troubleshooting", CACM 38 (1995) 49; Breese & Heckerman, UAI 1996. Numbers by running
through all orders.
"""

import itertools

import numpy as np
import pytest

from feedwright.diagnosis.repair_order import best_order, expected_cost

CHANCE = np.array([0.45, 0.25, 0.20, 0.10])
COST = np.array([60.0, 10.0, 25.0, 5.0])


def cost_in_order(chance: np.ndarray, cost: np.ndarray, order: tuple[int, ...]) -> float:
    left, spent = 1.0, 0.0
    for i in order:
        spent += cost[i] * left
        left -= chance[i]
    return spent


def test_the_best_order_is_by_chance_over_cost() -> None:
    """Order 2, 4, 3, 1 at 57.0; by chance alone 73.5; the worst of all 24 orders 78.0."""
    assert best_order(CHANCE, COST) == [1, 3, 2, 0]
    assert expected_cost(CHANCE, COST, 0.0)[0] == pytest.approx(57.0)
    every = [cost_in_order(CHANCE, COST, order) for order in itertools.permutations(range(4))]
    assert min(every) == pytest.approx(57.0)
    assert max(every) == pytest.approx(78.0)
    assert cost_in_order(CHANCE, COST, (0, 1, 2, 3)) == pytest.approx(73.5)


def test_what_a_look_beforehand_is_worth() -> None:
    """Chances .6 and .4, costs 50 and 20: best 50. A look of sensitivity .9 and specificity .95 is worth 9.80."""
    chance, cost = np.array([0.6, 0.4]), np.array([50.0, 20.0])
    assert expected_cost(chance, cost, 0.0)[0] == pytest.approx(50.0)
    joint = np.array([[0.6 * 0.9, 0.4 * 0.05], [0.6 * 0.1, 0.4 * 0.95]])
    assert joint.sum(axis=1) == pytest.approx([0.56, 0.44])
    after = expected_cost(joint, cost, 0.0)
    assert after / joint.sum(axis=1) == pytest.approx([50.714286, 26.818182], abs=1e-6)
    assert 50.0 - after.sum() == pytest.approx(9.80)


def test_a_look_that_cannot_change_the_order_is_worth_nothing() -> None:
    chance, cost = np.array([0.6, 0.4]), np.array([50.0, 20.0])
    told = np.array([[0.5, 0.5], [0.5, 0.5]]) * chance
    assert expected_cost(told, cost, 0.0).sum() == pytest.approx(expected_cost(chance, cost, 0.0)[0])


def test_what_no_repair_cures_costs_all_repairs_and_the_search() -> None:
    assert expected_cost(np.array([0.0, 0.0]), np.array([5.0, 7.0]), 100.0, np.array([1.0]))[0] == pytest.approx(100.0)
    assert expected_cost(np.array([0.5, 0.3]), np.array([5.0, 7.0]), 100.0, np.array([1.0]))[0] == pytest.approx(
        5 + 7 * 0.5 + 100 * 0.2
    )
