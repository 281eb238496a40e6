"""Outlook and advice of fitted parts, by what the farm has learned of their lives."""

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from feedwright.catalogue.entry import PartKind
from feedwright.farm.outlook.learning import Belief, FarmLives
from feedwright.planning.look import look_plan
from feedwright.planning.prospect import AgePolicy, Prospect, age_policy, prospect, weighed
from feedwright.planning.renew import advise
from feedwright.planning.values import Advice, AgeOptimum, LookPlan, RenewalCosts
from feedwright.records.values import Fitting
from feedwright.wear.findings import (
    EDGES,
    MISREAD_FRAC,
    SCATTER_SD,
    Bounds,
    Floats,
    Story,
    bounds,
    edges_of,
    wear_grades,
)
from feedwright.wear.life import LifeCurve, LifeTable
from feedwright.wear.outlook import still_alive, told
from feedwright.wear.outlook_numbers import OutlookNumbers, outlook_numbers
from feedwright.wear.pooled import PooledLife, log_ratio_of, without
from feedwright.wear.standing import Standing
from feedwright.wear.telling import about_the_farm, about_the_machine, about_the_part, source_of
from feedwright.wear.values import Interval, Outlook, PaceOfUse, Share

LEAST_SHARE = 1e-2
FOUND_FAILED_FRAC = 1e-3
"""A part that was found failed is given so much more of its life, which is nothing."""
SCATTER = np.exp(SCATTER_SD * np.sqrt(3.0) * np.array([-1.0, 0.0, 1.0]))
SCATTER_SHARES = np.array([1.0, 4.0, 1.0]) / 6
Group = tuple[int, str]


@dataclass(frozen=True, slots=True)
class Body:
    """One part by itself: its life as believed without its own story, and that story."""

    weight: Floats
    """Belief without its own story, (m,) over the lives of the table."""
    curve: LifeCurve
    standing: Standing
    said: tuple[str, ...]
    failed: bool
    """True where it was found failed and is fitted still."""

    def alive_after(self, more: Floats) -> Floats:
        """Chance that it is alive after that much more exposure."""
        if self.failed:
            return np.zeros_like(more)
        return still_alive(self.curve, self.standing, more)


@dataclass(frozen=True, slots=True)
class _OwnPart:
    """One part, and what renewing it brings."""

    body: Body
    prospect: Prospect
    numbers: OutlookNumbers
    row: int
    """Its row of the numbers."""


@dataclass(frozen=True, slots=True)
class _PartsAlike:
    """The parts of one product on one machine."""

    curve: LifeCurve
    said: tuple[str, ...]
    policy: AgePolicy
    looks: LookPlan


Done = Callable[[tuple[int, int]], None]
"""Told how many kinds of part are judged, and of how many."""


class Judgement:
    """What is to be thought of some fittings; all of one kind are worked out together."""

    def __init__(
        self, lives: FarmLives, fittings: Sequence[Fitting], paces: Mapping[int, PaceOfUse],
        costs: Callable[[Fitting], RenewalCosts], done: Done | None = None,
    ) -> None:  # fmt: skip
        self._paces, self._costs = paces, costs
        self._alike: dict[tuple[str, Group], _PartsAlike] = {}
        self._own: dict[int, _OwnPart] = {}
        by_kind: dict[str, list[Fitting]] = defaultdict(list)
        for fitting in fittings:
            by_kind[fitting.part_kind].append(fitting)
        for number, (kind, those) in enumerate(by_kind.items()):
            if done is not None:
                done((number, len(by_kind)))
            by_product: dict[str, list[Fitting]] = defaultdict(list)
            for fitting in those:
                by_product[fitting.product].append(fitting)
            belief = lives.belief(kind)
            for product, alike in by_product.items():
                self._judge(lives, belief, _stretched(belief.table, belief.life.kind, product), product, alike)

    def of(
        self, fitting: Fitting, kind: PartKind, exposure: Interval, drivers: tuple[Share, ...]
    ) -> tuple[Outlook, Advice, Prospect]:
        """Outlook, advice and prospect of one fitting."""
        own, alike = self._own[fitting.id], self._alike[fitting.part_kind, _group(fitting)]
        pace, costs = self._paces[fitting.id], self._costs(fitting)
        said = (*alike.said, *own.body.said)
        seen = told(kind, alike.curve, exposure, pace, drivers, own.numbers, own.row, said=said, failed=own.body.failed)
        return seen, advise(seen, pace, alike.policy.optimum, own.prospect, alike.looks, costs), own.prospect

    def curve(self, fitting: Fitting) -> LifeCurve:
        """The life of such parts in its place."""
        return self._alike[fitting.part_kind, _group(fitting)].curve

    def plan(self, fitting: Fitting) -> tuple[AgeOptimum, LookPlan]:
        """The best age of such parts in its place, and the best interval of looks."""
        alike = self._alike[fitting.part_kind, _group(fitting)]
        return alike.policy.optimum, alike.looks

    def _judge(
        self, lives: FarmLives, belief: Belief, table: LifeTable, product: str, fittings: Sequence[Fitting]
    ) -> None:
        """All parts of one product."""
        life, kind = belief.life, belief.life.kind
        groups = {_group(fitting): self._costs(fitting) for fitting in fittings}
        weights = table.of(np.stack([life.weight_of(*group).sum(axis=0) for group in groups]))
        about = about_the_farm(life, product)
        for (group, costs), curve in zip(groups.items(), table.curves(weights, source_of(life.findings)), strict=True):
            here = about_the_machine(life, *group, lives.of_machine(kind.id, group[0]))
            self._alike[kind.id, group] = _PartsAlike(
                curve, (*about, *here), age_policy(table, curve.rates, costs),
                look_plan(curve, worn_from_frac(kind), costs),
            )  # fmt: skip
        bodies = _bodies(life, table, fittings, lives.stories, belief.stories)
        policies = [self._alike[kind.id, _group(fitting)].policy for fitting in fittings]
        surviving, earning = weighed(table, np.stack([body.weight for body in bodies]), policies)
        numbers = outlook_numbers(
            table.exposure, np.stack([body.curve.survival for body in bodies]), [body.standing for body in bodies],
            [self._paces[fitting.id] for fitting in fittings],
        )  # fmt: skip
        for at, (fitting, body) in enumerate(zip(fittings, bodies, strict=True)):
            ahead = prospect(
                table.exposure, surviving[:, at], earning[:, at], self._costs(fitting), body.standing
            )  # fmt: skip
            self._own[fitting.id] = _OwnPart(body, ahead, numbers, at)


def bodies_of(belief: Belief, fittings: Sequence[Fitting], stories: Mapping[int, Story]) -> list[Body]:
    """Parts of one kind, each by itself, by their stories of now."""
    made = {}
    for product in {fitting.product for fitting in fittings}:
        own = [fitting for fitting in fittings if fitting.product == product]
        table = _stretched(belief.table, belief.life.kind, product)
        bodies = _bodies(belief.life, table, own, stories, belief.stories)
        made.update({fitting.id: body for fitting, body in zip(own, bodies, strict=True)})
    return [made[fitting.id] for fitting in fittings]


def alive_by_life(belief: Belief, product: str, body: Body, more: Floats) -> tuple[Floats, Floats]:
    """A part's chance to be alive after ``more`` (q,) by each life that it may have, (q, m), and the belief in each.

    It is alive now by each of them; what the farm taught and what was seen of the part weigh the lives.
    """
    table, standing = _stretched(belief.table, belief.life.kind, product), body.standing
    until = np.minimum(np.maximum(standing.age + np.append(0.0, more)[:, None], standing.low), standing.high)
    floor = np.where(np.isfinite(standing.high), standing.high, table.exposure[-1])
    spared = _rows(table, until) - np.where(np.isfinite(standing.high)[:, None], _rows(table, floor), 0.0)
    left = np.einsum("qkm,k->qm", np.maximum(spared, 0.0), standing.share)
    weight = body.weight * left[0]
    return left[1:] / np.maximum(left[0], 1e-300), np.asarray(weight / weight.sum())


def alive_when_new(belief: Belief, fitting: Fitting, more: Floats) -> Floats:
    """Chance that a new part in the place of a fitting is alive after ``more``, any shape."""
    table = _stretched(belief.table, belief.life.kind, fitting.product)
    weight = table.of(belief.life.weight_of(*_group(fitting)).sum(axis=0))
    return np.asarray(np.interp(more, table.exposure, table.alive @ weight))


def _rows(table: LifeTable, at: Floats) -> Floats:
    """Share alive by each life at exposures of any shape, the lives along a last axis."""
    place = np.clip(np.searchsorted(table.exposure, at, side="right") - 1, 0, table.exposure.size - 2)
    part = (at - table.exposure[place]) / (table.exposure[place + 1] - table.exposure[place])
    part = np.clip(part, 0.0, 1.0)[..., None]
    return np.asarray(table.alive[place] * (1.0 - part) + table.alive[place + 1] * part)


def _bodies(
    life: PooledLife, table: LifeTable, fittings: Sequence[Fitting], stories: Mapping[int, Story],
    learned_from: Mapping[int, Story],
) -> list[Body]:  # fmt: skip
    """Each part by its story of now, and by the belief without the story of it that was learned from."""
    weights = [
        without(life, learned_from[fitting.id])
        if fitting.id in learned_from
        else life.weight_of(fitting.machine_id, fitting.product)
        for fitting in fittings
    ]
    over = table.of(np.stack([weight.sum(axis=0) for weight in weights]))
    bodies = []
    for fitting, weight, row, curve in zip(
        fittings, weights, over, table.survivals(over, source_of(life.findings)), strict=True
    ):
        story, by_edge = stories[fitting.id], weight.sum(axis=(1, 2))
        held = bounds(life.kind, story).only(life.edges)
        said = about_the_part(held, story, by_edge / by_edge.sum(), life.kind.exposure.unit)
        bodies.append(Body(row, curve, _standing(held, by_edge, story), said, story.end == "failed"))
    return bodies


def _group(fitting: Fitting) -> Group:
    return fitting.machine_id, fitting.product


def _stretched(table: LifeTable, kind: PartKind, product: str) -> LifeTable:
    """The table in a product's own exposure."""
    ratio = math.exp(log_ratio_of(kind, product)[0])
    return replace(table, exposure=table.exposure * ratio, length=table.length * ratio)


def worn_from_frac(kind: PartKind) -> float:
    """Share of its life from which on a part of this kind shows that it is nearly worn out; 1 where it never does."""
    worst = max((g for g in wear_grades(kind) if not g.failed), key=lambda grade: grade.life_low_frac)
    lower = float(edges_of(kind, worst)[0][EDGES.size // 2])
    return min(1.0, lower) if lower > 0 else 1.0


def _standing(held: Bounds, by_edge: Floats, story: Story) -> Standing:
    """The points of belief of one part: each place of the edges with each age when fitted.

    What one eye sees scatters about the edges, and now and then a grade is written down wrongly.
    """
    if story.end == "failed":  # still fitted, but found failed: it does no more
        age = held.entry + story.gathered
        return Standing(age, age, age * (1 + FOUND_FAILED_FRAC), np.full(age.size, 1.0 / age.size))
    likely = by_edge * np.exp(held.doubt)
    edges = np.flatnonzero(likely > LEAST_SHARE * likely.max())
    age = held.entry + story.gathered
    points = [
        (np.maximum(held.low[edge] * factor, age), np.maximum(held.high[edge] * factor, age), likely[edge] * share)
        for edge in edges
        for factor, share in zip(SCATTER, SCATTER_SHARES, strict=True)
    ]
    if story.looks:
        points.append((age, np.full(age.size, np.inf), MISREAD_FRAC * likely.sum()))
    shares = np.concatenate([np.full(age.size, share) for _, _, share in points])
    return Standing(
        np.tile(age, len(points)), np.concatenate([low for low, _, _ in points]),
        np.concatenate([high for _, high, _ in points]), shares,
    )  # fmt: skip
