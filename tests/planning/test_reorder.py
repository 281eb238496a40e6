"""When to order and how much: what moves the advice, and the odd cases."""

import math
from dataclasses import replace

import pytest
from tests.planning.test_demand import part, weibull_days

from feedwright.planning.demand import PartAhead
from feedwright.planning.inventory import StockCosts, Tier
from feedwright.planning.reorder import Supply, advise_order, waiting_costs
from feedwright.units import Money
from feedwright.wear.values import Interval

COSTS = StockCosts(11.0, 0.0, 0.2 / 365, (Tier(1, 1.5),))
SUPPLY = Supply(5, 7.0, (), 7.0, 365.0, COSTS, 5.0, "EUR")


def worn(best: float, *, dearer: float = 20.0) -> PartAhead:
    """A part renewed by age in ``best`` days and every 60 days after; a failure costs so much more."""
    left, by, _ = weibull_days(200, 2.5)
    made = part(left=left, by=by, best=best, cycle=60.0, life=Interval(120.0, 200.0, 280.0), relative_sd=0.3)
    advice = replace(made.advice, planned_cost=Money.of(10, "EUR"), failure_cost=Money.of(10 + dearer, "EUR"))
    return replace(made, advice=advice, idle_cost=7.5)


def breaking(median: float) -> PartAhead:
    """A part renewed when it fails, and its machine stands still until then."""
    left, by, _ = weibull_days(median, 1.3)
    return replace(part(left=left, by=by, life=Interval(median / 3, median, 2 * median)), idle_cost=7.5)


def test_nothing_is_ordered_for_a_part_that_no_machine_uses() -> None:
    advice = advise_order([], 0, 0, SUPPLY)
    assert (advice.status, advice.order_packs, advice.policy) == ("not used", 0, None)
    assert "No machine" in advice.because[0]


def test_nothing_is_ordered_where_nothing_wears() -> None:
    idle = part(per_day=0.0)
    advice = advise_order([idle], 0, 0, SUPPLY)
    assert (advice.status, advice.policy) == ("enough", None)
    assert advice.run_out_days.low == math.inf


def test_what_is_due_now_counts_against_what_is_on_hand() -> None:
    due = [worn(0.0) for _ in range(3)]
    advice = advise_order(due, 2, 0, SUPPLY)
    assert (advice.due_count, advice.position) == (3, -1)
    assert advice.status == "order now"
    assert advice.lasts_frac < 0.01
    assert advice.run_out_days.mid == 0.0
    assert "3 of them now" in advice.because[0]
    assert advice.missing_count >= 1.0
    assert f"{advice.missing_count:.1f} too few on average" in advice.because[0]


def test_orders_are_whole_packs_and_lift_the_position_above_the_reorder_point() -> None:
    many = [worn(float(10 * at)) for at in range(12)]
    for on_hand in range(12):
        advice = advise_order(many, on_hand, 0, SUPPLY)
        assert advice.policy is not None
        assert advice.order_count == advice.order_packs * 5
        if advice.status == "order now":
            assert advice.position <= advice.policy.reorder_point < advice.position + advice.order_count
        else:
            assert advice.order_count == 0 or advice.status == "order along"


def test_more_on_hand_lasts_longer_and_is_ordered_later() -> None:
    many = [worn(float(7 * at)) for at in range(8)]
    found = [advise_order(many, on_hand, 0, SUPPLY) for on_hand in range(10)]
    assert [one.run_out_days.mid for one in found] == sorted(one.run_out_days.mid for one in found)
    assert [one.lasts_frac for one in found] == sorted(one.lasts_frac for one in found)
    assert found[0].status == "order now"
    assert found[9].status != "order now"


def test_a_longer_or_less_certain_lead_time_raises_the_reorder_point() -> None:
    many = [breaking(90.0) for _ in range(10)]

    def point(supply: Supply) -> int:
        policy = advise_order(many, 5, 0, supply).policy
        assert policy is not None
        return policy.reorder_point

    assert point(replace(SUPPLY, lead_days=28.0)) > point(SUPPLY)
    assert point(replace(SUPPLY, own_lead_days=(5.0, 6.0, 40.0))) > point(
        replace(SUPPLY, own_lead_days=(5.0, 6.0, 7.0))
    )


def test_dearer_parts_are_kept_in_smaller_numbers_and_never_for_longer_than_allowed() -> None:
    many = [worn(float(7 * at)) for at in range(10)]

    def quantity(price: float, most_days: float = 365.0) -> int:
        costs = replace(COSTS, tiers=(Tier(1, price),))
        policy = advise_order(many, 0, 0, replace(SUPPLY, pack_count=1, costs=costs, most_days=most_days)).policy
        assert policy is not None
        return policy.order_count

    assert quantity(0.5) >= quantity(5.0) > quantity(60.0)
    assert quantity(0.05, 30.0) <= math.ceil(30 * advise_order(many, 0, 0, SUPPLY).month_count / 30)


def test_a_cheaper_tier_is_reached_for_where_it_pays() -> None:
    many = [worn(float(7 * at)) for at in range(10)]
    costs = replace(COSTS, tiers=(Tier(1, 1.5), Tier(25, 0.6)))
    plain = advise_order(many, 0, 0, replace(SUPPLY, costs=replace(COSTS, order_cost=0.3))).policy
    broken = advise_order(many, 0, 0, replace(SUPPLY, costs=replace(costs, order_cost=0.3))).policy
    assert plain is not None
    assert broken is not None
    assert plain.order_count < 25 <= broken.order_count


def test_without_its_delivery_an_order_pays_sooner() -> None:
    """At some level it is only ordered along with something else."""
    many = [breaking(90.0) for _ in range(10)]
    dear = replace(
        SUPPLY, pack_count=1, costs=replace(COSTS, order_cost=60.0, tiers=(Tier(1, 40.0),)), delivery_cost=59.5
    )
    told = [advise_order(many, on_hand, 0, dear).status for on_hand in range(14)]
    assert "order along" in told
    assert told.index("order along") > max(at for at, status in enumerate(told) if status == "order now")


def test_waiting_costs_the_chance_to_fail_times_what_a_failure_costs_more() -> None:
    left, by, life = weibull_days(200, 2.5)
    held = worn(30.0)
    exact = float(1 - life.sf(37) / life.sf(30)) / 7 * 20.0
    assert waiting_costs([held])[0] == pytest.approx(exact, rel=0.05)
    assert left.low > 0
    assert by[0] > 0
