"""Whether to order an item of the stores, and how much: the demand ahead against the money tied up."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from feedwright.planning.demand import Floats, PartAhead, RenewalsAhead, failed_by, quantiles, renewals_ahead
from feedwright.planning.inventory import (
    StockCosts,
    StockPolicy,
    best_policy,
    no_shortage_frac,
    plain_order,
    policy_cost,
    short_count,
)
from feedwright.units import Money, show_rounded
from feedwright.wear.values import Interval

Status = Literal["order now", "order along", "enough", "not used"]
LOOK_AHEAD_DAYS, FURTHEST_DAYS = 180, 730
"""Days over which the pace of demand is taken, at least and at most."""
YEAR_DAYS = 365.0
WEEK_DAYS = 7.0
LEAST_ORDERS = 3
"""So many orders of one's own say how long they take; fewer, and the stated lead time is spread out."""
STATED_SPREAD = ((0.7, 1 / 6), (1.0, 4 / 6), (1.5, 1 / 6))
"""A stated lead time comes true times this, with that chance (assumed)."""
RUN_OUT_POINTS = 48
NEVER = Interval(math.inf, math.inf, math.inf)


@dataclass(frozen=True, slots=True)
class Supply:
    """How an item comes: how long it takes, how it is packed, what it costs."""

    pack_count: int
    lead_days: float
    """As stated."""
    own_lead_days: tuple[float, ...]
    """How long one's own orders took."""
    look_days: float
    """How often somebody looks whether to order."""
    most_days: float
    """How long one order may last at most."""
    costs: StockCosts
    delivery_cost: float
    """The part of an order's cost that is shared by all items of one delivery."""
    currency: str


@dataclass(frozen=True, slots=True)
class ReorderAdvice:
    """What to do about one item."""

    status: Status
    order_packs: int
    """Packs to order now; 0 where none are."""
    order_count: int
    order_price: Money
    """What that costs, without delivery."""
    position: int
    """Pieces on hand and on order, less those due now."""
    due_count: int
    """Pieces that parts due now take."""
    policy: StockPolicy | None
    """When to order and how much, as things stand; None where no machine uses it, or no renewal is to be expected."""
    needed: Interval
    """Pieces needed until an order of the next look has arrived, what is due now included."""
    until_days: float
    """How long that is."""
    lasts_frac: float
    """Chance that what is on hand and on order lasts until then."""
    missing_count: float
    """Pieces that are missing by then on average."""
    run_out_days: Interval
    """When what is on hand alone is used up."""
    month_count: float
    """Pieces expected to be needed in 30 days, over the half-year ahead."""
    failing_frac: float
    """Of the renewals expected until then, the share that a failure brings about."""
    short_cost: Money
    """One piece missing for a day."""
    keeping_cost: Money
    """One piece kept for a year."""
    renewed_frac: tuple[float, ...]
    """Chance of each part to be renewed until then, in the order in which they were given."""
    needed_pmf: tuple[float, ...]
    """Chance that 0, 1, 2 ... pieces are needed until then."""
    because: tuple[str, ...]


def advise_order(parts: Sequence[PartAhead], on_hand: int, on_order: int, supply: Supply) -> ReorderAdvice:
    """Whether to order, from the outlook of every part that this item renews. Nothing for a part that none uses."""
    days = _horizon(supply)
    ahead = renewals_ahead(parts, days)
    until = _until(supply, days)
    needed = np.array([weight for _, weight in until]) @ ahead.pieces_pmf(np.array([day for day, _ in until]))
    due = int(ahead.pieces[ahead.due_now()].sum()) if parts else 0
    expected = ahead.expected() if parts else np.zeros(days + 1)
    per_day = float(expected[-1] - due) / days
    position = on_hand + on_order - due
    renewed = _weighed(ahead.at_least[0], until)
    failing_frac, short_cost = _failing(parts, _weighed(ahead.failing, until), renewed)
    costs = replace(supply.costs, short_cost=short_cost)
    after = _after_due(needed, due)
    policy = _policy(after, per_day, costs, supply) if expected[-1] > 0 else None
    status, count = _status(parts, policy, after, per_day, position, replace(supply, costs=costs))
    advice = ReorderAdvice(
        status=status,
        order_packs=count // supply.pack_count,
        order_count=count,
        order_price=Money.of(count * costs.piece_cost(count), supply.currency),
        position=position,
        due_count=due,
        policy=policy,
        needed=quantiles(needed),
        until_days=sum(day * weight for day, weight in until),
        lasts_frac=no_shortage_frac(needed, on_hand + on_order),
        missing_count=short_count(needed, on_hand + on_order),
        run_out_days=_run_out(ahead, on_hand, days) if parts else NEVER,
        month_count=30.0 * float(expected[-1]) / days,
        failing_frac=failing_frac,
        short_cost=Money.of(short_cost, supply.currency),
        keeping_cost=Money.of(costs.keeping_frac_day * YEAR_DAYS * costs.piece_cost(1), supply.currency),
        renewed_frac=tuple(renewed.tolist()),
        needed_pmf=tuple(needed.tolist()),
        because=(),
    )
    return replace(advice, because=_reasons(advice, supply, costs, per_day))


def _horizon(supply: Supply) -> int:
    longest = max(supply.lead_days, *supply.own_lead_days, 0.0) + supply.look_days
    return int(min(max(LOOK_AHEAD_DAYS, 2 * longest), FURTHEST_DAYS))


def _until(supply: Supply, most_days: int) -> list[tuple[int, float]]:
    """Days until an order has arrived that is placed at the next looks, with their chances.

    Looks fall anywhere in their interval (three points stand for it); the lead time is one's own orders', or spread.
    """
    own = supply.own_lead_days
    leads = [(supply.lead_days * factor, chance) for factor, chance in STATED_SPREAD]
    if len(own) >= LEAST_ORDERS:
        leads = [(lead, 1 / (len(own) + 1)) for lead in (*own, supply.lead_days)]
    looks = [supply.look_days * share for share in (1 / 6, 3 / 6, 5 / 6)]
    return [(min(most_days, math.ceil(lead + look)), chance / len(looks)) for lead, chance in leads for look in looks]


def _after_due(needed: Floats, due: int) -> Floats:
    """The demand that comes on top of what is due now."""
    after = needed[due:].copy()
    after[0] += needed[:due].sum()
    return np.asarray(after)


def _weighed(by_day: Floats, until: Sequence[tuple[int, float]]) -> Floats:
    """Chances (parts, days) at the days until an order has arrived, each day with its own chance: (parts,)."""
    return np.asarray(by_day[:, [day for day, _ in until]] @ np.array([weight for _, weight in until]))


def _failing(parts: Sequence[PartAhead], failing: Floats, renewed: Floats) -> tuple[float, float]:
    """Share of the renewals until then that failures bring about, and what a piece missing for a day costs.

    A machine whose part failed stands still; one whose part is due goes on at the risk of its failing.
    """
    if not parts:
        return 0.0, 0.0
    idle = np.array([part.idle_cost for part in parts])
    if renewed.sum() <= 0:
        return 0.0, float(idle.max())
    waiting = np.minimum(idle, waiting_costs(parts))
    cost = float((failing * idle + (renewed - failing) * waiting).sum() / renewed.sum())
    return float(failing.sum() / renewed.sum()), cost


def waiting_costs(parts: Sequence[PartAhead]) -> Floats:
    """What a day costs during which a due part is not renewed: its chance to fail, times what that costs more."""
    days = np.array([part.advice.best_in_days for part in parts])
    due = np.where(np.isfinite(days), days, 0.0)[:, None]
    chances = failed_by([part.outlook for part in parts], due + np.array([0.0, WEEK_DAYS]))
    fails = (chances[:, 1] - chances[:, 0]) / np.maximum(1.0 - chances[:, 0], 1e-9) / WEEK_DAYS
    dearer = [float(part.advice.failure_cost.amount - part.advice.planned_cost.amount) for part in parts]
    return np.asarray(fails * np.array(dearer))


def _policy(pmf: Floats, per_day: float, costs: StockCosts, supply: Supply) -> StockPolicy:
    """The cheapest policy whose orders do not last too long; a machine that waits is always reason enough."""
    most = max(0.0, per_day) * supply.most_days
    found = best_policy(pmf, max(per_day, 0.0), costs, pack_count=supply.pack_count, most_count=math.ceil(most))
    if found.reorder_point >= -1:
        return found
    return replace(found, reorder_point=-1, cost_day=policy_cost(pmf, max(per_day, 0.0), costs, -1, found.order_count))


def _status(
    parts: Sequence[PartAhead], policy: StockPolicy | None, pmf: Floats, per_day: float, position: int, supply: Supply
) -> tuple[Status, int]:
    """What to do, and how many pieces to order for it."""
    if not parts:
        return "not used", 0
    if policy is None:
        return "enough", 0
    if position <= policy.reorder_point:
        return "order now", _order(policy, position)
    along = replace(supply.costs, order_cost=max(0.0, supply.costs.order_cost - supply.delivery_cost))
    cheaper = _policy(pmf, per_day, along, supply)
    if position <= cheaper.reorder_point:
        return "order along", _order(cheaper, position)
    return "enough", 0


def _order(policy: StockPolicy, position: int) -> int:
    """So many times the policy's quantity that the position is above its reorder point again."""
    return policy.order_count * math.ceil((policy.reorder_point + 1 - position) / policy.order_count)


def _run_out(ahead: RenewalsAhead, on_hand: int, days: int) -> Interval:
    """When what is on hand is used up: the day by which that has happened with a chance of 10, 50 and 90 %."""
    at = np.unique(np.concatenate([[0], np.round(np.geomspace(1, days, RUN_OUT_POINTS))])).astype(np.int64)
    gone = 1.0 - ahead.lasting(on_hand, at)
    return Interval(*(_when(at, gone, share) for share in (0.1, 0.5, 0.9)))


def _when(at: "np.ndarray[tuple[int], np.dtype[np.int64]]", gone: Floats, share: float) -> float:
    reached = np.flatnonzero(gone >= share)
    if not reached.size:
        return math.inf
    first = int(reached[0])
    if first == 0:
        return 0.0
    before, behind = gone[first - 1], gone[first]
    part = (share - before) / (behind - before)
    return float(at[first - 1] + part * (at[first] - at[first - 1]))


def _reasons(advice: ReorderAdvice, supply: Supply, costs: StockCosts, per_day: float) -> tuple[str, ...]:
    if advice.status == "not used":
        return ("No machine has a part that this renews: nothing is ordered.",)
    low, mid, high = (int(count) for count in (advice.needed.low, advice.needed.mid, advice.needed.high))
    short = advice.missing_count >= 0.05
    due = f", {advice.due_count} of them now" if advice.due_count else ""
    said = [
        f"Until an order of the next look has arrived, in about {advice.until_days:.0f} days, {_pieces(mid)} likely to "
        f"be needed{due}; eight times in ten {low} to {high}. What is on hand and on order lasts with a chance of "
        f"{_percent(advice.lasts_frac)}" + (f", {advice.missing_count:.1f} too few on average." if short else ".")
    ]
    if len(supply.own_lead_days) >= LEAST_ORDERS:
        own = supply.own_lead_days
        said.append(f"Your last {len(own)} orders took {min(own):.0f} to {max(own):.0f} days.")
    if advice.policy is None:
        return (*said, "The machines that use it do not wear it at present: nothing is ordered ahead.")
    policy = advice.policy
    said.append(
        f"A piece missing costs about {advice.short_cost} a day ({advice.failing_frac:.0%} of these renewals come with "
        f"a failure or a sign of it), a piece kept {advice.keeping_cost} a year."
    )
    when = f"{policy.reorder_point} or fewer are left" if policy.reorder_point >= 0 else "a machine waits for it"
    said.append(f"Cheapest: order {policy.order_count} when {when} (on hand and on order, less what is due now).")
    plain = plain_order(max(per_day, 0.0), costs)[0]
    if math.isfinite(plain) and plain > 0:
        said.append(f"The plain order quantity, without chance or packs, would be {show_rounded(plain)}.")
    if advice.status == "order along":
        said.append("It would not pay a delivery of its own; ordered along with something else it does.")
    return tuple(said)


def _pieces(many: int) -> str:
    return {0: "no piece is", 1: "1 piece is"}.get(many, f"{many} pieces are")


def _percent(share: float) -> str:
    """A chance near to sure is not called so."""
    return "over 99%" if 0.995 <= share < 1.0 - 1e-9 else f"{share:.0%}"
