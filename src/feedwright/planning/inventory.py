"""How low a stock may fall before it is ordered again, and how much to order: the classic models, on whole pieces.

Demand while an order is under way is any discrete distribution, so that what is known of each part counts. Source of
the models: Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. (Wiley 2019), chapters 3 to 5.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
MOST_SIZES = 400
"""How many order sizes are tried at most, from the smallest on."""


@dataclass(frozen=True, slots=True)
class Tier:
    """From ``from_count`` pieces on, every piece of an order costs ``piece_cost`` (an all-units price break)."""

    from_count: int
    piece_cost: float


@dataclass(frozen=True, slots=True)
class StockCosts:
    """What keeping, ordering and being short cost; money in one currency, per day where time counts."""

    order_cost: float
    """One order, however large."""
    short_cost: float
    """One piece missing for a day."""
    keeping_frac_day: float
    """One piece kept for a day, over its price."""
    tiers: tuple[Tier, ...]
    """In ascending order; the first from 1 piece on."""

    def piece_cost(self, order_count: int) -> float:
        """A piece out of an order of that size."""
        return next(tier.piece_cost for tier in reversed(self.tiers) if tier.from_count <= max(order_count, 1))


@dataclass(frozen=True, slots=True)
class StockPolicy:
    """Order ``order_count`` pieces whenever those on hand and on order are down to ``reorder_point``."""

    reorder_point: int
    order_count: int
    cost_day: float
    """Expected cost a day: pieces, orders, keeping and being short."""


def level_costs(pmf: Floats, levels: NDArray[np.int64], keeping_day: float, short_day: float) -> Floats:
    """Expected cost of a day that began at each of ``levels`` (m,), demand until then being ``pmf`` (n,) over 0 to n-1.

    ``G(y) = h E[(y - D)+] + p E[(D - y)+]``; the least of it is the newsvendor's (Snyder & Shen, chapter 4).
    """
    below = np.concatenate([[0.0], np.cumsum(np.cumsum(pmf))])  # E[(y - D)+] at y = 0 ... n
    mean = float(pmf @ np.arange(pmf.size))
    inside = np.clip(levels, 0, pmf.size)
    over = below[inside] + (levels - inside) * (levels > inside)
    return np.asarray(keeping_day * over + short_day * (over + mean - levels))


def no_shortage_frac(pmf: Floats, level: int) -> float:
    """Chance that demand does not go beyond the level."""
    return float(pmf[: max(0, level + 1)].sum())


def short_count(pmf: Floats, level: int) -> float:
    """Expected pieces missing at the level."""
    return float(level_costs(pmf, np.array([level]), 0.0, 1.0)[0])


def plain_order(rate_day: float, costs: StockCosts) -> tuple[float, float]:
    """Order quantity and cost a day where demand were steady and nothing left to chance, at the best price break.

    The economic order quantity ``Q = sqrt(2 K d / h)`` within each tier, or the tier's least quantity (Snyder & Shen,
    chapter 3).
    """
    best = (0.0, math.inf)
    for tier, until in zip(costs.tiers, [*(later.from_count for later in costs.tiers[1:]), math.inf], strict=True):
        keeping = costs.keeping_frac_day * tier.piece_cost
        ideal = math.sqrt(2.0 * costs.order_cost * rate_day / keeping) if keeping > 0 else math.inf
        count = max(ideal, float(tier.from_count))
        if count < until:
            cost = rate_day * tier.piece_cost + costs.order_cost * rate_day / count + keeping * count / 2.0
            best = min(best, (count, cost), key=lambda pair: pair[1])
    return best


def policy_cost(pmf: Floats, rate_day: float, costs: StockCosts, reorder_point: int, order_count: int) -> float:
    """Expected cost a day of one policy: ``d c + (K d + sum of G(y) over y = r+1 ... r+Q) / Q`` (chapter 5)."""
    piece = costs.piece_cost(order_count)
    levels = np.arange(reorder_point + 1, reorder_point + order_count + 1)
    kept = level_costs(pmf, levels, costs.keeping_frac_day * piece, costs.short_cost)
    return rate_day * piece + (costs.order_cost * rate_day + float(kept.sum())) / order_count


def best_policy(
    pmf: Floats, rate_day: float, costs: StockCosts, *, pack_count: int = 1, most_count: int | None = None
) -> StockPolicy:
    """The cheapest policy whose orders are whole packs, by trying every size: exact over those tried.

    ``pmf`` (n,) is the demand until an order arrives. Orders go up to ``most_count`` pieces, else to three times the
    plain order quantity and past the last price break.
    """
    sizes = _sizes(rate_day, costs, pack_count, most_count)
    low, high = -sizes[-1] - 1, pmf.size + sizes[-1] + 1
    levels = np.arange(low, high + 1)
    sums: dict[float, Floats] = {}
    best: StockPolicy | None = None
    for count in sizes:
        piece = costs.piece_cost(count)
        if piece not in sums:
            kept = level_costs(pmf, levels, costs.keeping_frac_day * piece, costs.short_cost)
            sums[piece] = np.concatenate([[0.0], np.cumsum(kept)])
        windows = sums[piece][count:] - sums[piece][:-count]
        at = int(np.argmin(windows))
        cost = rate_day * piece + (costs.order_cost * rate_day + float(windows[at])) / count
        if best is None or cost < best.cost_day:
            best = StockPolicy(low + at - 1, count, cost)
    assert best is not None
    return best


def _sizes(rate_day: float, costs: StockCosts, pack_count: int, most_count: int | None) -> Sequence[int]:
    """Order sizes to try, each whole packs, the first among them."""
    ideal = plain_order(rate_day, costs)[0]
    wanted = 3.0 * (ideal if math.isfinite(ideal) else 0.0) + costs.tiers[-1].from_count
    most = wanted if most_count is None else most_count
    packs = min(max(1, math.ceil(most / pack_count)), MOST_SIZES)
    return [pack_count * many for many in range(1, packs + 1)]
