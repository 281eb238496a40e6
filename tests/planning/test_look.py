"""How often to look: by the renewal-reward formula, and never where looks cost more than they save."""

import math

import numpy as np
import pytest

from feedwright.planning.look import look_plan
from feedwright.planning.values import RenewalCosts
from feedwright.wear.life import Belief, LifeCurve, curve

COSTS = RenewalCosts(planned=5.0, failure=25.0, look=0.5, currency="EUR")


def weibull(shape: float, median: float = 1000.0) -> LifeCurve:
    return curve(Belief("weibull", np.log([median]), np.log([shape]), np.ones((1, 1)), "known"))


def test_the_interval_found_costs_what_a_simulation_of_many_parts_spends() -> None:
    plan = look_plan(weibull(1.5), 0.7, COSTS)
    lives = 1000.0 / math.log(2) ** (1 / 1.5) * np.random.default_rng(2).weibull(1.5, 40_000)
    looks = np.ceil(0.7 * lives / plan.every)
    seen = looks * plan.every < lives
    spent = np.where(seen, looks * 0.5 + 5.0, np.floor(lives / plan.every) * 0.5 + 25.0)
    length = np.where(seen, looks * plan.every, lives)
    assert plan.cost_rate == pytest.approx(spent.sum() / length.sum(), rel=0.02)


def test_dearer_looks_come_less_often_and_at_last_not_at_all() -> None:
    cheap, dear = (look_plan(weibull(1.5), 0.7, RenewalCosts(5.0, 25.0, look, "EUR")).every for look in (0.1, 1.5))
    assert cheap < dear
    assert math.isinf(look_plan(weibull(1.5), 0.7, RenewalCosts(5.0, 25.0, 30.0, "EUR")).every)


def test_a_part_that_shows_nothing_before_it_fails_is_not_looked_at() -> None:
    assert math.isinf(look_plan(weibull(1.5), 1.0, COSTS).every)


def test_scaling_all_exposures_scales_the_interval() -> None:
    one, ten = look_plan(weibull(2.0, 100.0), 0.7, COSTS), look_plan(weibull(2.0, 1000.0), 0.7, COSTS)
    assert ten.every == pytest.approx(10 * one.every, rel=1e-6)
