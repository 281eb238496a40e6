"""The cheapest order to try repairs in, and what trying them in that order costs on average."""

import numpy as np

from feedwright.diagnosis.values import Floats


def expected_cost(chance: Floats, cost: Floats, unknown_cost: float, total: Floats | None = None) -> Floats:
    """Expected cost of trying repairs in the best order until one cures.

    ``chance`` (r, n) chance that repair n is the one that cures, one row a case; ``cost`` (n,); ``total`` (r,) the
    whole mass of a row where it is more than the chances add up to: what is over is a cause nobody knows, met after
    all repairs failed, at ``unknown_cost``. Rows need not add up to 1: the cost is weighted by them.

    One fault, perfect repairs, independent costs: order by chance over cost, E = sum c_i (1 - sum of earlier chances).
    Source: Kadane & Simon (1977); Heckerman, Breese & Rommelse, CACM 38 (1995) 49.
    """
    rows = np.atleast_2d(chance)
    whole = rows.sum(axis=1) if total is None else total
    order = np.argsort(-rows / cost, axis=1, kind="stable")
    sorted_chance = np.take_along_axis(rows, order, axis=1)
    earlier = np.cumsum(sorted_chance, axis=1) - sorted_chance
    left = np.maximum(0.0, whole[:, None] - earlier)
    unknown = np.maximum(0.0, whole - rows.sum(axis=1))
    spent: Floats = np.sum(cost[order] * left * (sorted_chance > 0), axis=1) + unknown_cost * unknown
    return spent


def best_order(chance: Floats, cost: Floats) -> list[int]:
    """Indices of the repairs in that order."""
    return [int(i) for i in np.argsort(-chance / cost, kind="stable")]
