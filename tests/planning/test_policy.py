"""The farm lived through: long-run cost by the renewal-reward formula, and the same chances for every policy."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from feedwright.planning.policy import PartInPlace, PartRule, Policy, simulate
from feedwright.planning.values import RenewalCosts

COSTS = RenewalCosts(planned=1.0, failure=5.0, look=0.2, currency="EUR")
FARMS, SHAPE, ETA = 400, 2.5, 1000.0
PART = PartInPlace(
    machine=0, pace_per_day=5.0, gathered=0.0, medians=np.full(FARMS, ETA * math.log(2) ** (1 / SHAPE)),
    shapes=np.full(FARMS, SHAPE), lognormal=False, costs=COSTS, parts_cost=0.5, minutes=10.0, unplanned_minutes=20.0,
    spoils_frac=0.5, look_minutes=2.0, worn_from_frac=0.8, heat_minutes=4.0, tram_minutes=0.0, lost_print_h=3.0,
)  # fmt: skip


def test_long_run_cost_is_that_of_the_renewal_reward_formula() -> None:
    """Barlow & Proschan, eta 1000, shape 2.5, costs 1 and 5: 0.003462043 at the optimum, 0.005635302 to failure.

    Work is done at the end of a week of 35: that rounds the age up, and a failure's cycle too.
    """
    policies = [Policy("optimum", (PartRule(age=493.046958),)), Policy("to failure", (PartRule(),))]
    optimum, failing = simulate([PART], policies, years=40.0, farms=FARMS, uneven=0.0)
    per_year = 5.0 * 365.25
    assert failing.mean["cost"] == pytest.approx(0.005635302 * per_year, rel=0.04)
    assert optimum.mean["cost"] == pytest.approx(0.003462043 * per_year, rel=0.04)
    assert failing.mean["renewals"] == 0
    assert failing.mean["spoiled prints"] == pytest.approx(0.5 * failing.mean["failures"], rel=0.05)


def test_any_executor_gives_the_very_same_numbers() -> None:
    policies = [Policy("by age", (PartRule(age=500.0),))]
    alone = simulate([PART], policies, years=3.0, farms=FARMS)
    with ThreadPoolExecutor(2) as pool:
        assert simulate([PART], policies, years=3.0, farms=FARMS, executor=pool) == alone
    assert simulate([PART], policies, years=3.0, farms=FARMS, first=10_000) != alone


def test_every_policy_meets_the_same_lives() -> None:
    """A rule that never fires changes nothing, to the last digit."""
    policies = [Policy("to failure", (PartRule(),)), Policy("far off", (PartRule(age=1e9, every_weeks=1e9),))]
    one, other = simulate([PART], policies, years=5.0, farms=50)
    assert replace(one, name="") == replace(other, name="")
    assert other.over_best.low == other.over_best.high == 0


def test_two_jobs_of_one_week_heat_up_once() -> None:
    """Parts that never fail, renewed by the calendar: two on one machine share four minutes of every ten."""
    lasting = replace(PART, medians=np.full(FARMS, 1e9))
    monthly = PartRule(every_weeks=4.0)
    both = simulate([lasting] * 2, [Policy("both", (monthly,) * 2)], years=4.0, farms=2, minute_cost=0.1)[0]
    apart = simulate(
        [lasting, replace(lasting, machine=1)], [Policy("apart", (monthly,) * 2)], years=4.0, farms=2, minute_cost=0.1
    )[0]
    assert both.mean["renewals"] == apart.mean["renewals"]
    assert both.mean["bench hours"] == pytest.approx(0.8 * apart.mean["bench hours"])
    assert apart.mean["cost"] - both.mean["cost"] == pytest.approx(0.4 * both.mean["renewals"] / 2)


def test_looks_find_worn_parts_before_they_fail() -> None:
    policies = [Policy("looks", (PartRule(look_every=60.0),)), Policy("to failure", (PartRule(),))]
    looks, failing = simulate([PART], policies, years=10.0, farms=100)
    assert looks.mean["failures"] < 0.2 * failing.mean["failures"]
    assert looks.mean["looks"] > 0


def test_a_used_part_is_alive_when_the_farm_begins() -> None:
    """Weibull lives given that the part has reached what it has: no failure in the first week by age alone."""
    old = replace(PART, gathered=900.0)
    outcome = simulate([old], [Policy("to failure", (PartRule(),))], years=7 / 365.25, farms=FARMS, uneven=0.0)[0]
    expected = 1 - math.exp((900 / ETA) ** SHAPE - (935 / ETA) ** SHAPE)
    per_week = outcome.mean["failures"] * 7 / 365.25
    assert per_week == pytest.approx(expected, abs=3 * math.sqrt(expected / FARMS))
