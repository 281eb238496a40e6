"""Advice to renew: in good time by age where that pays, by a look where it does not, and never for free."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from feedwright.catalogue.load import load_catalogue
from feedwright.planning.look import NO_LOOKS
from feedwright.planning.prospect import Prospect, age_optimum, age_policy, cost_rate, prospect, weighed
from feedwright.planning.renew import advise, looking_gain
from feedwright.planning.values import Advice, RenewalCosts
from feedwright.wear.life import LifeCurve, LifeTable, life_table, prior
from feedwright.wear.outlook import outlook
from feedwright.wear.standing import Standing
from feedwright.wear.values import Interval, PaceOfUse

PARTS = load_catalogue().parts


def table_of(part: str) -> tuple[LifeTable, np.ndarray]:
    belief = prior(PARTS[part].life)
    table = life_table(belief.distribution, belief.log_median, belief.log_shape, belief.weight)
    return table, table.of(belief.weight)


TABLES = {name: table_of(name) for name in PARTS}
CURVES: dict[str, LifeCurve] = {
    name: table.curves(weight[None], "the rule of thumb")[0] for name, (table, weight) in TABLES.items()
}
TUBE = CURVES["tube_end"].rates
COSTS = RenewalCosts(planned=5.0, failure=17.0, look=2.5, currency="EUR")
PACE = PaceOfUse(5.0, 0.3, 12.0)


def advice(part: str, age: float, pace: PaceOfUse = PACE, costs: RenewalCosts = COSTS) -> Advice:
    seen = outlook(PARTS[part], CURVES[part], Interval(age, age, age), pace, ())
    return advise(seen, pace, age_optimum(CURVES[part].rates, costs), ahead(part, age, costs), NO_LOOKS, costs)


def ahead(part: str, age: float, costs: RenewalCosts, standing: Standing | None = None) -> Prospect:
    """What renewing a part of that age brings now or later."""
    table, weight = TABLES[part]
    surviving, earning = weighed(table, weight[None], [age_policy(table, CURVES[part].rates, costs)])
    known = standing or Standing.of(Interval(age, age, age))
    return prospect(table.exposure, surviving[:, 0], earning[:, 0], costs, known)


BEST = age_optimum(TUBE, COSTS).exposure


def test_the_best_age_costs_least_of_all_ages() -> None:
    rate = cost_rate(TUBE, COSTS)
    best = age_optimum(TUBE, COSTS)
    assert best.cost_rate == rate.min()
    assert rate[np.searchsorted(TUBE.exposure, best.exposure)] == rate.min()


@given(st.floats(1.0, 30.0), st.floats(1.0, 30.0))
def test_dearer_failures_are_forestalled_earlier(one: float, other: float) -> None:
    low, high = sorted((one, other))
    later, sooner = (age_optimum(TUBE, replace(COSTS, failure=5.0 * ratio)).exposure for ratio in (low, high))
    assert sooner <= later


@given(st.floats(0.01, 1000.0))
def test_the_currency_does_not_matter(scale: float) -> None:
    scaled = RenewalCosts(5.0 * scale, 17.0 * scale, 2.5 * scale, "XTS")
    assert age_optimum(TUBE, scaled).exposure == BEST
    waited = ahead("tube_end", 1.5 * BEST, COSTS).waiting(30.0)
    assert ahead("tube_end", 1.5 * BEST, scaled).waiting(30.0) == pytest.approx(scale * waited)


def test_a_failure_that_costs_no_more_is_never_forestalled() -> None:
    assert math.isinf(age_optimum(TUBE, replace(COSTS, failure=5.0)).exposure)


@settings(deadline=None)
@given(st.floats(0.0, 2000.0), st.floats(0.0, 200.0), st.floats(0.0, 200.0))
def test_waiting_costs_nothing_before_the_best_moment_and_more_the_longer_after(
    age: float, one: float, other: float
) -> None:
    short, long = sorted((one, other))
    coming = ahead("tube_end", age, COSTS)
    cost_short, cost_long = coming.waiting(short), coming.waiting(long)
    assert 0 <= cost_short <= cost_long + 1e-12
    if age + long <= BEST:
        assert cost_long == 0


@pytest.mark.parametrize("age", [0.0, 40.0, 100.0])
def test_a_part_of_which_nothing_was_seen_has_its_moment_at_the_best_age_of_all(age: float) -> None:
    assert ahead("tube_end", age, COSTS).left == pytest.approx(BEST - age, rel=0.05)


def test_a_look_that_found_a_part_sound_puts_its_moment_off() -> None:
    """The life of a part that looked clean at 150 is above 250: nothing is risked until then."""
    age = np.array([200.0])
    clean = Standing(age, np.array([250.0]), np.array([np.inf]), np.ones(1))
    assert ahead("tube_end", 200.0, COSTS).left == 0
    assert ahead("tube_end", 200.0, COSTS, clean).left == pytest.approx(50.0, rel=0.05)


def test_a_look_that_found_a_part_worn_brings_its_moment_nearer() -> None:
    age = np.array([100.0])
    worn = Standing(age, age, np.array([140.0]), np.ones(1))
    assert ahead("tube_end", 100.0, COSTS, worn).left < ahead("tube_end", 100.0, COSTS).left
    assert ahead("tube_end", 100.0, COSTS, worn).waiting(30.0) > ahead("tube_end", 200.0, COSTS).waiting(30.0)


def test_a_part_past_its_best_age_is_to_be_renewed_now_and_one_near_it_soon() -> None:
    now, soon, later = advice("tube_end", BEST + 20), advice("tube_end", BEST - 30), advice("tube_end", 0.0)
    assert (now.status, soon.status, later.status) == ("service now", "service soon", "in order")
    assert (now.best_in_days, now.best_in_exposure) == (0.0, 0.0)
    assert soon.best_in_days == pytest.approx(6.0, abs=1.0)
    assert later.best_in_days == pytest.approx(BEST / 5.0, rel=0.05)
    assert now.waiting_cost_week.amount > 0
    assert later.waiting_cost_week.amount == 0
    assert {now.act, soon.act, later.act} == {"renew"}


def test_a_machine_at_rest_is_in_order_until_it_is_past_its_best() -> None:
    rest = PaceOfUse(0.0, 0.6, 0.0)
    assert advice("tube_end", BEST - 1, rest).status == "in order"
    assert math.isinf(advice("tube_end", BEST - 1, rest).best_in_days)
    assert "not at the present rate of use" in advice("tube_end", BEST - 1, rest).because[-1]
    assert advice("tube_end", BEST + 20, rest).status == "service now"


def test_a_part_that_age_says_little_about_is_looked_at_when_a_look_pays() -> None:
    """A wide belief and a dear part give no age to renew it by; near its end a look is worth its minutes."""
    dear, calm, busy = replace(COSTS, planned=11.0), PaceOfUse(0.02, 0.3, 12.0), PaceOfUse(3.0, 0.3, 12.0)
    young, old = advice("nozzle", 0.0, calm, dear), advice("nozzle", 25.0, busy, dear)
    assert math.isinf(young.optimum_exposure)
    assert (young.act, young.status) == ("look", "in order")
    assert (old.act, old.status) == ("look", "service now")
    assert old.waiting_cost_week.amount > 0
    assert "wait for a sign" in young.because[-1]


def test_a_few_words_say_what_decided_the_status() -> None:
    """The share of life used may say another thing: it decides nothing."""
    assert advice("tube_end", BEST + 20).reason == "cheapest to renew now"
    assert advice("tube_end", BEST - 30).reason == "cheapest to renew in 6 days"
    assert advice("tube_end", BEST - 4).reason == "cheapest to renew in 1 day"
    assert "at the present use" in advice("tube_end", BEST - 1, PaceOfUse(0.0, 0.6, 0.0)).reason
    dear, calm, busy = replace(COSTS, planned=11.0), PaceOfUse(0.02, 0.3, 12.0), PaceOfUse(3.0, 0.3, 12.0)
    assert advice("nozzle", 0.0, calm, dear).reason == "a look does not pay yet: 0.1% to fail within a month"
    assert "a look pays: " in advice("nozzle", 25.0, busy, dear).reason


@given(st.floats(0.0, 1.0), st.floats(0.0, 100.0), st.floats(0.0, 100.0), st.floats(0.0, 20.0))
def test_a_look_is_worth_the_loss_it_averts_less_its_own_cost(
    chance: float, planned: float, extra: float, look: float
) -> None:
    gain = looking_gain(chance, RenewalCosts(planned, planned + extra, look, "EUR"))
    assert gain == pytest.approx(max(0.0, extra * chance - look), abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(PARTS)), st.floats(0.0, 100.0), st.floats(0.0, 1.0), st.floats(1.0, 50.0))
@example("bed_surface", 0.0, 2.2250738585072014e-308, 4.0)
def test_waiting_a_week_never_costs_more_than_the_failure_itself(
    part: str, age: float, per_day: float, ratio: float
) -> None:
    median = CURVES[part].life.mid
    costs = replace(COSTS, failure=5.0 * ratio)
    given_advice = advice(part, age * median, PaceOfUse(per_day * median, 0.6, 8.0), costs)
    assert 0 <= given_advice.waiting_cost_week.amount <= given_advice.failure_cost.amount
    assert given_advice.best_in_days >= 0
    assert given_advice.because


def test_small_exposures_are_not_rounded_to_nought_in_the_reasons() -> None:
    seen = outlook(PARTS["nozzle"], CURVES["nozzle"], Interval(0.321, 0.321, 0.321), PACE, ())
    coming = ahead("nozzle", 0.321, COSTS)
    told = advise(seen, PACE, age_optimum(CURVES["nozzle"].rates, COSTS), coming, NO_LOOKS, COSTS)
    assert any("it has 0.321, and" in said for said in told.because)


def test_the_cost_of_each_week_of_delay_never_falls() -> None:
    told = advice("tube_end", 0.9 * BEST)
    costs = [cost.amount for cost in told.cost_by_weeks]
    assert costs == sorted(costs)
    assert costs[-1] > 0
