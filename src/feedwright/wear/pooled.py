"""What a farm's findings say of one part kind: pooled over its machines and products, yet each with its own.

The belief is a tree. At its root the life of the kind (log median, log shape); a product's log median differs by its
life ratio, known within the catalogue's band; a machine's differs from its product's by its frailty, normal on the log.
The frailty's spread and the place of the grade edges are unknown and weighed. For each of their values every message
up and down the tree is a product with a normal kernel along the log median, so that the whole posterior is sums on a
grid, exact to the grid's fineness.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from feedwright.catalogue.entry import PartKind
from feedwright.wear.findings import EDGE_WEIGHTS, EDGES, Bounds, Floats, Story, bounds
from feedwright.wear.life import LifeTable, life_table
from feedwright.wear.likelihood import Numbers, Rows, log_likelihood, row_log_likelihood
from feedwright.wear.posterior import log_prior, normal_of

FRAILTY_SD = np.array([0.08, 0.25, 0.6])
"""Spread between machines in log life: hardly any, some, much (assumed)."""
FRAILTY_WEIGHTS = np.array([0.35, 0.45, 0.2])
WIDE_SD, KEEP_SD = 4.0, 5.0
NEGLIGIBLE = 1e-4
"""Spreads of frailty and places of edges less likely than this on the first grid are left out on the second."""
RIM, FARTHER = 1e-3, 8
"""A grid with more than this on its rim is laid again farther out, at most so often."""
COARSE, FEW_MEDIANS, MOST_MEDIANS, SHAPES = (41, 9), 51, 241, 13
_ALL = np.ones((FRAILTY_SD.size, EDGES.size), dtype=np.bool_)
_ONE_EDGE = np.broadcast_to(np.arange(EDGES.size) == EDGES.size // 2, _ALL.shape)

Group = tuple[int, str]
"""A machine's number and a product: the parts of that product fitted there one after the other."""


@dataclass(frozen=True, slots=True)
class Grid:
    """``log_median`` (g,) for the plain product, ``log_shape`` (s,)."""

    log_median: Floats
    log_shape: Floats


@dataclass(frozen=True, slots=True)
class PooledLife:
    """The posterior of one part kind. Weights are (k, g, s), over the log median as for the plain product."""

    kind: PartKind
    grid: Grid
    edges: Numbers
    """The k places of the grade edges that are likely at all, as numbers into ``EDGES``."""
    kind_weight: Floats
    """The kind's plain product on a machine like any other; (g, s)."""
    product_weight: Mapping[str, Floats]
    """A product on a machine not yet known."""
    group_weight: Mapping[Group, Floats]
    """A product on one machine; all weights of one group sum to 1."""
    edge_weight: Floats
    """Where the grade edges sit, (edges,)."""
    frailty_weight: Floats
    findings: int
    """How many parts told something: looked at, failed, or renewed."""
    log_evidence: float
    """Log of how likely all of it is under the model; differences between wear laws tell which fits better."""

    def weight_of(self, machine: int, product: str) -> Floats:
        """Belief about a product on a machine; that of any machine, or of the product's ratio, where none was seen."""
        own = self.group_weight.get((machine, product))
        if own is not None:
            return own
        return self.product_weight.get(product, self.product_weight[self.kind.products[0].id])


def table_of(life: PooledLife) -> LifeTable:
    """The table of all lives that anything of a kind may have, in the plain product's exposure."""
    beliefs = [*life.group_weight.values(), *life.product_weight.values()]
    most = np.maximum.reduce([belief.sum(axis=0) for belief in beliefs])
    return life_table(life.kind.life.distribution, life.grid.log_median, life.grid.log_shape, most)


def log_ratio_of(kind: PartKind, product: str) -> tuple[float, float]:
    """Log of how much longer a product lasts than the plain one, and the standard deviation of that belief."""
    known = kind.product(product)
    if known is None:
        return 0.0, 0.0
    ratio = known.life_ratio
    return math.log(ratio.value), normal_of(ratio.low, ratio.high) if ratio.high > ratio.low else 0.0


def tells(story: Story) -> bool:
    """True where a story says more of wear than that the part was fitted, or did not work when it was."""
    return story.gathered > 0 or (story.end != "failed" and bool(story.looks))


def counts(story: Story) -> bool:
    """True where somebody found something out about the part."""
    return bool(story.looks) or story.end != "open"


def learn(kind: PartKind, stories: Sequence[Story]) -> PooledLife:
    """The posterior of a part kind's life from the stories of its parts on all machines."""
    told = [story for story in stories if tells(story)]
    groups = sorted({(story.machine, story.product) for story in told})
    products = sorted({known.id for known in kind.products} | {story.product for story in stories})
    rows = _rows(kind, told, groups)
    grid = _laid(kind, COARSE[0], COARSE[1], 0.0, 0.0, WIDE_SD * normal_of(kind.life.median.low, kind.life.median.high),
                 WIDE_SD * normal_of(kind.life.shape.low, kind.life.shape.high))  # fmt: skip
    count = sum(counts(story) for story in stories)
    # where nobody looked, the place of the grade edges is nothing to weigh
    likely = _ALL if any(story.looks for story in told) else _ONE_EDGE
    first = _Tree(kind, grid, groups, products, rows, count).life(likely)
    if not told:
        return first
    likely = likely & (np.outer(first.frailty_weight, first.edge_weight) > NEGLIGIBLE)
    life = _Tree(kind, _closer(first, told), groups, products, rows, count).life(likely)
    for _ in range(FARTHER):
        if _covered(life):
            break
        life = _Tree(kind, _closer(life, told), groups, products, rows, count).life(likely)
    return life


def _laid(
    kind: PartKind, medians: int, shapes: int, at: float, at_shape: float, reach: float, reach_shape: float
) -> Grid:
    middle, middle_shape = math.log(kind.life.median.value) + at, math.log(kind.life.shape.value) + at_shape
    return Grid(
        np.linspace(middle - reach, middle + reach, medians),
        np.linspace(middle_shape - reach_shape, middle_shape + reach_shape, shapes),
    )


def _closer(life: PooledLife, told: Sequence[Story]) -> Grid:
    """The grid laid again where the belief lies, as fine as the group with the most parts asks for."""
    shape = _spread(life.grid.log_shape, life.kind_weight.sum(axis=0))
    weights = [life.kind_weight, *(w for w in life.product_weight.values()), *life.group_weight.values()]
    spans = [_spread(life.grid.log_median, (w if w.ndim == 2 else w.sum(axis=0)).sum(axis=1)) for w in weights]
    low = min(mean - KEEP_SD * sd for mean, sd in spans)
    high = max(mean + KEEP_SD * sd for mean, sd in spans)
    low, high = max(low, life.grid.log_median[0] - 1.0), min(high, life.grid.log_median[-1] + 1.0)
    per_group = max(np.unique([story.machine for story in told], return_counts=True)[1])
    finest = 0.9 / (math.exp(shape[0]) * math.sqrt(per_group))
    points = int(np.clip((high - low) / min(finest, 0.06), FEW_MEDIANS, MOST_MEDIANS))
    reach = max(KEEP_SD * shape[1], 0.05)
    return Grid(np.linspace(low, high, points), np.linspace(shape[0] - reach, shape[0] + reach, SHAPES))


def _covered(life: PooledLife) -> bool:
    """True where next to nothing of the belief lies on the grid's rim."""
    weight = life.kind_weight
    return float(max(weight[0].sum(), weight[-1].sum(), weight[:, 0].sum(), weight[:, -1].sum())) < RIM


def _spread(axis: Floats, weight: Floats) -> tuple[float, float]:
    mean = float(axis @ weight / weight.sum())
    step = float(axis[1] - axis[0])
    return mean, max(math.sqrt(float((axis - mean) ** 2 @ weight / weight.sum())), 0.5 * step)


def _rows(kind: PartKind, told: Sequence[Story], groups: Sequence[Group]) -> list[tuple[list[Rows], Floats]]:
    """For each place of the edges the rows (one age, several ages) and the doubt of each group, (cells,)."""
    index = {group: at for at, group in enumerate(groups)}
    held = [(index[story.machine, story.product], bounds(kind, story), story) for story in told]
    by_edge = []
    for edge in range(EDGES.size):
        doubt = np.zeros(len(groups))
        for cell, bound, _ in held:
            doubt[cell] += bound.doubt[edge]
        parts = [
            _stack([(cell, bound, story) for cell, bound, story in held if (bound.entry.size > 1) == many], edge, kind)
            for many in (False, True)
        ]
        by_edge.append(([part for part in parts if part is not None], doubt))
    return by_edge


def _stack(held: Sequence[tuple[int, Bounds, Story]], edge: int, kind: PartKind) -> Rows | None:
    if not held:
        return None
    scale = np.array([math.exp(log_ratio_of(kind, story.product)[0]) for _, _, story in held])[:, None]
    low = np.stack([bound.low[edge] for _, bound, _ in held]) / scale
    high = np.stack([bound.high[edge] for _, bound, _ in held]) / scale
    entry = np.stack([bound.entry for _, bound, _ in held]) / scale
    return Rows(low, high, entry, np.array([cell for cell, _, _ in held], dtype=np.intp))


class _Tree:
    """Messages up and down for every spread of frailty and every place of the edges."""

    def __init__(
        self, kind: PartKind, grid: Grid, groups: Sequence[Group], products: Sequence[str],
        rows: Sequence[tuple[list[Rows], Floats]], findings: int,
    ) -> None:  # fmt: skip
        self.kind, self.grid, self.groups, self.products, self.findings = kind, grid, groups, products, findings
        self.prior = log_prior(grid.log_median, grid.log_shape, kind.life)
        self.prior = self.prior - _log_sum(self.prior)
        self.of_product = [[at for at, (_, product) in enumerate(groups) if product == name] for name in products]
        self.rows = rows
        self._held: dict[int, Floats] = {}

    def _told(self, edge: int) -> Floats:
        """Log-likelihood of every group at one place of the edges, (cells, g, s)."""
        if edge not in self._held:
            self._held[edge] = self._reckoned(*self.rows[edge])
        return self._held[edge]

    def _reckoned(self, parts: list[Rows], doubt: Floats) -> Floats:
        x, shape = self.grid.log_median, np.exp(self.grid.log_shape)
        total = np.zeros((len(self.groups), x.size, shape.size)) + doubt[:, None, None]
        for part in parts:
            total += log_likelihood(self.kind.life.distribution, x, shape, part, len(self.groups))
        return total

    def life(self, likely: "np.ndarray[tuple[int, int], np.dtype[np.bool_]]") -> PooledLife:
        """All messages passed, weighed over frailty and edges; ``likely`` (frailties, edges) says which to try."""
        edges = np.flatnonzero(likely.any(axis=0))
        shape = (edges.size, *self.prior.shape)
        root, groups = np.zeros(shape), np.zeros((len(self.groups), *shape))
        products = np.zeros((len(self.products), *shape))
        passed = [(f, e, *self._pass(f, e)) for f, e in np.argwhere(likely)]
        chance = np.array([math.log(FRAILTY_WEIGHTS[f] * EDGE_WEIGHTS[e]) + seen for f, e, seen, *_ in passed])
        evidence = _log_sum(chance)
        joint = np.zeros((FRAILTY_SD.size, EDGES.size))
        for (f, e, _, at_root, at_products, at_groups), log_share in zip(passed, chance, strict=True):
            joint[f, e] = share = math.exp(log_share - evidence)
            at = int(np.searchsorted(edges, e))
            root[at] += share * at_root
            products[:, at] += share * at_products
            groups[:, at] += share * at_groups
        return PooledLife(
            self.kind, self.grid, edges, root.sum(axis=0), dict(zip(self.products, products, strict=True)),
            dict(zip(self.groups, groups, strict=True)), joint.sum(axis=0), joint.sum(axis=1), self.findings, evidence,
        )  # fmt: skip

    def _pass(self, frailty: int, edge: int) -> tuple[float, Floats, Floats, Floats]:
        """Log evidence, and the normalised beliefs at the root, of each product and of each group."""
        between_machines = self._kernel(FRAILTY_SD[frailty])
        told = self._told(edge) if self.groups else np.zeros((0, *self.prior.shape))
        up = _smoothed(told, between_machines)
        of_product = np.stack([up[own].sum(axis=0) for own in self.of_product])
        kernels = [self._kernel(log_ratio_of(self.kind, name)[1]) for name in self.products]
        to_root = np.stack([_smoothed(own[None], k)[0] for own, k in zip(of_product, kernels, strict=True)])
        root = self.prior + to_root.sum(axis=0)
        at_product = np.stack([
            _smoothed((root - own)[None], k)[0] for own, k in zip(to_root, kernels, strict=True)
        ]) + of_product  # fmt: skip
        new_machine = _smoothed(at_product, between_machines)
        at_group = np.empty_like(told)
        for own, product in zip(self.of_product, at_product, strict=True):
            if own:
                at_group[own] = _smoothed(product - up[own], between_machines) + told[own]
        return _log_sum(root), _shares(root[None])[0], _shares(new_machine), _shares(at_group)

    def _kernel(self, sd: float) -> Floats | None:
        """Normal kernel between points of the log median, (g, g); None where it is narrower than their step."""
        x = self.grid.log_median
        step = float(x[1] - x[0])
        if sd < 0.3 * step:
            return None
        return np.asarray(np.exp(-0.5 * ((x[:, None] - x[None, :]) / sd) ** 2) * step / (sd * math.sqrt(2 * math.pi)))


def _smoothed(log_values: Floats, kernel: Floats | None) -> Floats:
    """Log of the values (c, g, s) spread by the kernel along the log median."""
    if kernel is None or log_values.shape[0] == 0:
        return log_values
    top = log_values.max(axis=1, keepdims=True)
    return np.asarray(np.log(np.maximum(kernel @ np.exp(log_values - top), 1e-300)) + top)


def _log_sum(log_values: Floats) -> float:
    top = float(log_values.max())
    return top + math.log(float(np.exp(log_values - top).sum()))


def _shares(log_values: Floats) -> Floats:
    """Each (g, s) as shares that sum to 1."""
    if log_values.shape[0] == 0:
        return log_values
    weight = np.exp(log_values - log_values.max(axis=(1, 2), keepdims=True))
    return np.asarray(weight / weight.sum(axis=(1, 2), keepdims=True))


def without(life: PooledLife, story: Story) -> Floats:
    """The belief about a part's group as it would be without this part's own story, (k, g, s).

    ``story`` is the part's as it was learned from. What the part itself showed is then counted once, by its bounds,
    when its own chances are reckoned. The weights' sum over the grid stands for how likely each place of the edges
    makes the rest.
    """
    weight = life.weight_of(story.machine, story.product)
    if (story.machine, story.product) not in life.group_weight or not tells(story):
        return weight
    held = bounds(life.kind, story).only(life.edges)
    cavity = np.zeros_like(weight)
    for edge in range(life.edges.size):
        rows = _stack([(0, held, story)], edge, life.kind)
        assert rows is not None
        told = (
            row_log_likelihood(life.kind.life.distribution, life.grid.log_median, np.exp(life.grid.log_shape), rows)[0]
            + held.doubt[edge]
        )
        cavity[edge] = weight[edge] * np.exp(np.minimum(-told, 300.0))
    return np.asarray(cavity / cavity.sum())
