"""A trimmed tube gets shorter: how many trims are left, and when a new tube must be cut."""

import math

import numpy as np
import pytest

from feedwright.planning.trim import budget_words, trim_budget, trims_left
from feedwright.wear.life import Belief, curve
from feedwright.wear.values import PaceOfUse

LIFE = curve(Belief("weibull", np.log([240.0]), np.log([3.0]), np.ones((1, 1)), "known"))
PACE = PaceOfUse(5.0, 0.3, 12.0)


@pytest.mark.parametrize(("length", "left"), [(400.0, 5), (399.0, 4), (300.0, 0), (290.0, 0), (320.0, 1)])
def test_trims_of_the_usual_20_mm_until_the_far_corners_are_out_of_reach(length: float, left: int) -> None:
    assert trims_left(length, 300.0, 20.0) == left


def test_each_trim_lasts_to_the_best_age_or_to_the_failure_before_it() -> None:
    """Five trims left: four whole cycles until the last, five until the new tube."""
    budget = trim_budget(400.0, 300.0, 20.0, 2, 10.0, LIFE, 120.0, PACE)
    cycle = (budget.last_trim_days.mid - 10.0) / 4
    assert 0.9 * 120 / 5 < cycle <= 120 / 5
    assert budget.new_tube_days.mid == pytest.approx(10.0 + 5 * cycle)
    assert budget.new_tube_days.low < budget.new_tube_days.mid < budget.new_tube_days.high
    assert "5 more times by 20 mm" in budget_words(budget)


def test_without_an_age_every_cycle_is_a_life() -> None:
    budget = trim_budget(320.0, 300.0, 20.0, 0, 0.0, LIFE, math.inf, PACE)
    mean = 240.0 / math.log(2) ** (1 / 3) * math.gamma(1 + 1 / 3)
    assert budget.new_tube_days.mid == pytest.approx(mean / 5.0, rel=1e-3)


def test_a_tube_at_its_end_asks_for_a_new_one() -> None:
    budget = trim_budget(305.0, 300.0, 20.0, 4, 3.0, LIFE, 120.0, PACE)
    assert budget.trims_left == 0
    assert budget.new_tube_days.mid == 3.0
    assert "cut a new tube at the next trim" in budget_words(budget)


def test_a_machine_at_rest_needs_no_new_tube() -> None:
    budget = trim_budget(400.0, 300.0, 20.0, 0, math.inf, LIFE, 120.0, PaceOfUse(0.0, 0.6, 0.0))
    assert math.isinf(budget.new_tube_days.mid)
    assert budget_words(budget).endswith("by 20 mm.")
