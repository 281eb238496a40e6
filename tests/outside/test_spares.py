"""Stock models against worked examples, and against a general inventory library on random cases.

Examples: Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. (Wiley 2019): 3.1, 3.8, 4.3, 5.1, the all-units
discount and the Poisson newsvendor that its companion library prints, and base stock under Poisson demand, whose
numbers follow from the distribution alone. Models of continuous demand are met on a fine lattice: our own are whole
pieces. Fisher's tea: The Design of Experiments (1935), chapter 2.
"""

import itertools
import math

import numpy as np
import pytest
from scipy import stats
from stockpyl import eoq, newsvendor, rq

from feedwright.planning.demand import sum_of
from feedwright.planning.inventory import (
    Floats,
    StockCosts,
    Tier,
    best_policy,
    no_shortage_frac,
    plain_order,
    policy_cost,
    short_count,
)
from feedwright.planning.lots import Tally, by_chance_frac, share_frac

NEARLY_NOTHING = 1e-9
RANDOM = np.random.default_rng(20260311)


def costs(order: float, keeping: float, short: float) -> StockCosts:
    """Costs whose pieces cost next to nothing, as in models without a purchase price."""
    return StockCosts(order, short, keeping / NEARLY_NOTHING, (Tier(1, NEARLY_NOTHING),))


def poisson(mean: float) -> Floats:
    return np.asarray(stats.poisson.pmf(np.arange(int(mean + 12 * math.sqrt(mean) + 20)), mean))


def on_lattice(mean: float, sd: float, step: float, shift: int) -> Floats:
    """A normal demand in steps, moved up so that none of it is below nought."""
    edges = (np.arange(-shift, int((mean + 9 * sd) / step)) - 0.5) * step
    return np.asarray(np.diff(stats.norm.cdf(np.append(edges, edges[-1] + step), mean, sd)))


def test_economic_order_quantity_example_3_1() -> None:
    count, cost = plain_order(1300, costs(8, 0.225, 0))
    assert count == pytest.approx(304.0467800, abs=1e-6)
    assert cost == pytest.approx(68.4105255, abs=1e-5)


def test_economic_order_quantity_with_backorders_example_3_8() -> None:
    """No lead time, so that the level runs evenly from r + Q to r; on tenths, in orders of whole ones."""
    step = 0.1
    policy = best_policy(np.ones(1), 1300 / step, costs(8, 0.225 * step, 5 * step), pack_count=10, most_count=4000)
    assert policy.order_count * step == pytest.approx(310.8125552, abs=0.6)
    assert -policy.reorder_point / policy.order_count == pytest.approx(0.0430622, abs=1e-3)
    assert policy.cost_day == pytest.approx(66.9213636, rel=2e-4)


def test_all_units_price_breaks() -> None:
    tiers = (Tier(1, 500.0), Tier(200, 475.0), Tier(500, 450.0))
    held = StockCosts(200, 0.0, 0.20, tiers)
    assert plain_order(1000, held) == (pytest.approx(500), pytest.approx(472_900))
    exact = best_policy(np.ones(1), 1000, StockCosts(200, 1e6, 0.20, tiers), pack_count=5, most_count=1500)
    assert exact.order_count == 500, "whole packs, nobody ever short: the same quantity"


def test_newsvendor_normal_example_4_3() -> None:
    step = 0.001
    pmf = on_lattice(50, 8, step, 0)
    policy = best_policy(pmf, 0.0, costs(0, 0.18 * step, 0.70 * step), most_count=1)
    assert (policy.reorder_point + 1) * step == pytest.approx(56.60395593, abs=step)
    assert policy.cost_day == pytest.approx(1.99760519, abs=1e-5)


def test_newsvendor_poisson() -> None:
    policy = best_policy(poisson(50), 0.0, costs(0, 0.18, 0.70), most_count=1)
    assert policy.reorder_point + 1 == 56
    assert policy.cost_day == pytest.approx(1.79723521, abs=1e-7)


def test_order_quantity_and_reorder_point_under_normal_demand_example_5_1() -> None:
    step, shift = 0.1, 4000
    pmf = on_lattice(1300 / 12, 150 * math.sqrt(1 / 12), step, shift)
    held = costs(8, 0.225 * step, 7.5 * step)
    reorder, order = round(126.8 / step) + shift, round(328.5 / step)
    cost = policy_cost(pmf, 1300 / step, held, reorder, order)
    assert cost == pytest.approx(78.07116251, rel=2e-4)


@pytest.mark.parametrize(
    ("level", "filled", "enough", "missing"), [(5, 0.904131, 0.964327, 0.051722), (6, 0.964327, 0.988406, 0.016050)]
)
def test_base_stock_under_poisson_demand(level: int, filled: float, enough: float, missing: float) -> None:
    """Mean 2.4 while an order is under way; with orders of one piece a demand is filled where a piece less sufficed."""
    pmf = poisson(2.4)
    assert no_shortage_frac(pmf, level - 1) == pytest.approx(filled, abs=1e-6)
    assert no_shortage_frac(pmf, level) == pytest.approx(enough, abs=1e-6)
    assert short_count(pmf, level) == pytest.approx(missing, abs=1e-6)


@pytest.mark.parametrize("case", range(25))
def test_the_library_agrees_on_any_newsvendor(case: int) -> None:
    pmf = RANDOM.dirichlet(np.full(RANDOM.integers(2, 15), 0.7))
    keeping, short = RANDOM.uniform(0.1, 2), RANDOM.uniform(0.1, 20)
    level, cost = newsvendor.newsvendor_discrete(keeping, short, demand_pmf=dict(enumerate(pmf.tolist())))
    ours = best_policy(pmf, 0.0, costs(0, keeping, short), most_count=1)
    assert ours.cost_day == pytest.approx(cost, rel=1e-9)
    assert ours.reorder_point + 1 == level


@pytest.mark.parametrize("case", range(15))
def test_the_library_agrees_on_any_order_policy_under_poisson_demand(case: int) -> None:
    rate, lead = RANDOM.uniform(0.2, 4), RANDOM.uniform(0.3, 4)
    keeping, short, order = RANDOM.uniform(0.5, 5), RANDOM.uniform(5, 60), RANDOM.uniform(1, 30)
    reorder, count, cost = rq.r_q_poisson_exact(keeping, short, order, rate, lead)
    ours = best_policy(poisson(rate * lead), rate, costs(order, keeping, short), most_count=int(count) + 40)
    assert (ours.reorder_point, ours.order_count) == (reorder, count)
    assert ours.cost_day == pytest.approx(cost, rel=1e-6)
    other = policy_cost(poisson(rate * lead), rate, costs(order, keeping, short), int(reorder) + 2, int(count) + 3)
    assert other == pytest.approx(
        rq.r_q_cost_poisson(int(reorder) + 2, int(count) + 3, keeping, short, order, rate, lead), rel=1e-6
    )


@pytest.mark.parametrize("case", range(15))
def test_the_library_agrees_on_any_price_breaks(case: int) -> None:
    breaks = [0, *sorted(RANDOM.choice(np.arange(20, 900), 2, replace=False).tolist())]
    prices = sorted(RANDOM.uniform(5, 50, 3).tolist(), reverse=True)
    order, rate = RANDOM.uniform(5, 300), RANDOM.uniform(50, 2000)
    count, _, cost = eoq.economic_order_quantity_with_all_units_discounts(order, 0.25, rate, breaks, prices)
    tiers = tuple(Tier(max(1, at), price) for at, price in zip(breaks, prices, strict=True))
    ours = plain_order(rate, StockCosts(order, 0.0, 0.25, tiers))
    assert ours == (pytest.approx(count), pytest.approx(cost))


def test_whole_packs_are_the_best_of_every_pair_tried_one_by_one() -> None:
    """Brute force over reorder points and pack counts."""
    pmf, rate, held = poisson(3.3), 0.4, StockCosts(9.0, 2.0, 0.01, (Tier(1, 1.5), Tier(20, 1.2)))
    found = best_policy(pmf, rate, held, pack_count=5, most_count=60)
    tried = {(r, q): policy_cost(pmf, rate, held, r, q) for r in range(-5, 25) for q in range(5, 65, 5)}
    best = min(tried, key=lambda pair: tried[pair])
    assert (found.reorder_point, found.order_count) == best
    assert found.cost_day == pytest.approx(tried[best], rel=1e-12)


@pytest.mark.parametrize("case", range(12))
def test_the_sum_over_parts_is_that_of_every_outcome_listed(case: int) -> None:
    """The Poisson-binomial distribution by its definition: all outcomes, each with its chance."""
    parts = int(RANDOM.integers(1, 7))
    counts = RANDOM.dirichlet([2.0, 1.0, 0.5], parts)
    pieces = RANDOM.integers(1, 4, parts)
    expected = np.zeros(int(2 * pieces.sum()) + 1)
    for outcome in itertools.product(range(3), repeat=parts):
        chance = math.prod(counts[part, many] for part, many in enumerate(outcome))
        expected[int(sum(many * pieces[part] for part, many in enumerate(outcome)))] += chance
    (found,) = sum_of(counts[:, :, None], pieces)
    assert np.allclose(found, expected[: found.size], atol=1e-12)
    assert expected[found.size :].sum() == pytest.approx(0.0, abs=1e-15)


def test_the_sum_over_many_parts_keeps_mean_and_spread_and_alike_parts_are_binomial() -> None:
    chances = RANDOM.uniform(0, 0.3, 400)
    (pmf,) = sum_of(np.stack([1 - chances, chances], axis=1)[:, :, None], np.ones(400, dtype=np.int64))
    at = np.arange(pmf.size)
    assert pmf.sum() == pytest.approx(1.0, abs=1e-12)
    assert pmf @ at == pytest.approx(chances.sum(), rel=1e-12)
    assert pmf @ at**2 - (pmf @ at) ** 2 == pytest.approx((chances * (1 - chances)).sum(), rel=1e-9)
    (alike,) = sum_of(np.tile([[0.93], [0.07]], (300, 1, 1)), np.ones(300, dtype=np.int64))
    assert np.allclose(alike, stats.binom.pmf(np.arange(alike.size), 300, 0.07), atol=1e-14)


def test_fishers_tea_and_any_other_table_of_two_by_two() -> None:
    """Three of four cups right: 17 in 70. One machine: the plain exact test of a general library."""
    chance, apart = by_chance_frac({"one": Tally(4, 3)}, {"one": Tally(4, 1)})
    assert chance == pytest.approx(17 / 70, rel=1e-12)
    assert apart
    for _ in range(30):
        own, others = RANDOM.integers(1, 40, 2).tolist()
        wrong, rest = int(RANDOM.integers(0, own + 1)), int(RANDOM.integers(0, others + 1))
        expected = stats.fisher_exact([[wrong, own - wrong], [rest, others - rest]], alternative="greater").pvalue
        found, _ = by_chance_frac({"one": Tally(own, wrong)}, {"one": Tally(others, rest)})
        assert found == pytest.approx(expected, rel=1e-9)


def test_two_machines_are_the_sum_of_two_independent_hypergeometric_numbers() -> None:
    own = {"one": Tally(5, 3), "two": Tally(6, 2)}
    others = {"one": Tally(9, 1), "two": Tally(4, 0)}
    first, second = stats.hypergeom(14, 4, 5), stats.hypergeom(10, 2, 6)
    expected = sum(first.pmf(a) * second.pmf(b) for a in range(6) for b in range(7) if a + b >= 5)
    assert by_chance_frac(own, others)[0] == pytest.approx(expected, rel=1e-12)


def test_shares_are_jeffreys_intervals_of_a_general_library() -> None:
    """Brown, Cai & DasGupta, Statistical Science 16 (2001) 101: the beta of x + 1/2 and n - x + 1/2."""
    for runs, wrong in ((10, 0), (10, 3), (200, 7)):
        low, high = stats.beta.interval(0.8, wrong + 0.5, runs - wrong + 0.5)
        found = share_frac(Tally(runs, wrong))
        assert (found.low, found.high) == (pytest.approx(low), pytest.approx(high))
