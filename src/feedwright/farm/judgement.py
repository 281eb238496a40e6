"""Outlook and advice of fitted parts, by what the farm has learned of their lives."""

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from feedwright.catalogue.entry import PartKind
from feedwright.farm.learning import FarmLives
from feedwright.planning.look import look_plan
from feedwright.planning.prospect import AgePolicy, Prospect, age_policy, prospect, weighed
from feedwright.planning.renew import advise
from feedwright.planning.values import Advice, AgeOptimum, LookPlan, RenewalCosts
from feedwright.records.values import Fitting
from feedwright.wear.findings import EDGES, Bounds, Floats, Story, edges_of, wear_grades
from feedwright.wear.life import LifeCurve, LifeTable, life_table
from feedwright.wear.outlook import Standing, outlook
from feedwright.wear.pooled import PooledLife, log_ratio_of, without
from feedwright.wear.telling import about_the_farm, about_the_machine, about_the_part, source_of
from feedwright.wear.values import Interval, Outlook, PaceOfUse, Share

LEAST_SHARE = 1e-3
Group = tuple[int, str]


@dataclass(frozen=True, slots=True)
class _OwnPart:
    """What is known of one part: its life without its own story, its story, and what renewing it brings."""

    curve: LifeCurve
    standing: Standing
    said: tuple[str, ...]
    prospect: Prospect


@dataclass(frozen=True, slots=True)
class _PartsAlike:
    """The parts of one product on one machine."""

    curve: LifeCurve
    said: tuple[str, ...]
    policy: AgePolicy
    looks: LookPlan


class Judgement:
    """What is to be thought of some fittings; all of one kind are worked out together."""

    def __init__(self, lives: FarmLives, fittings: Sequence[Fitting], costs: Callable[[Fitting], RenewalCosts]) -> None:
        self._costs = costs
        self._alike: dict[tuple[str, Group], _PartsAlike] = {}
        self._own: dict[int, _OwnPart] = {}
        by_kind: dict[str, list[Fitting]] = defaultdict(list)
        for fitting in fittings:
            by_kind[fitting.part_kind].append(fitting)
        for kind, those in by_kind.items():
            by_product: dict[str, list[Fitting]] = defaultdict(list)
            for fitting in those:
                by_product[fitting.product].append(fitting)
            life = lives.life(kind)
            beliefs = [*life.group_weight.values(), *life.product_weight.values()]
            most = np.maximum.reduce([belief.sum(axis=0) for belief in beliefs])
            table = life_table(life.kind.life.distribution, life.grid.log_median, life.grid.log_shape, most)
            for product, alike in by_product.items():
                self._judge(lives, life, _stretched(table, life.kind, product), product, alike)

    def of(
        self, fitting: Fitting, kind: PartKind, exposure: Interval, pace: PaceOfUse, drivers: tuple[Share, ...]
    ) -> tuple[Outlook, Advice, Prospect]:
        """Outlook, advice and prospect of one fitting."""
        own, alike = self._own[fitting.id], self._alike[fitting.part_kind, _group(fitting)]
        seen = outlook(kind, alike.curve, exposure, pace, drivers, standing=own.standing, own=own.curve,
                       said=(*alike.said, *own.said))  # fmt: skip
        costs = self._costs(fitting)
        return seen, advise(seen, pace, alike.policy.optimum, own.prospect, alike.looks, costs), own.prospect

    def plan(self, fitting: Fitting) -> tuple[AgeOptimum, LookPlan]:
        """The best age of such parts in its place, and the best interval of looks."""
        alike = self._alike[fitting.part_kind, _group(fitting)]
        return alike.policy.optimum, alike.looks

    def _judge(
        self, lives: FarmLives, life: PooledLife, table: LifeTable, product: str, fittings: Sequence[Fitting]
    ) -> None:
        """All parts of one product."""
        kind, told = life.kind, lives.by_kind.get(life.kind.id, ())
        groups = {_group(fitting): self._costs(fitting) for fitting in fittings}
        weights = table.of(np.stack([life.weight_of(*group).sum(axis=0) for group in groups]))
        about = about_the_farm(life, product)
        for (group, costs), curve in zip(groups.items(), table.curves(weights, source_of(life.findings)), strict=True):
            self._alike[kind.id, group] = _PartsAlike(
                curve, (*about, *about_the_machine(life, *group, told)), age_policy(table, curve.rates, costs),
                look_plan(curve, worn_from_frac(kind), costs),
            )  # fmt: skip
        own = [without(life, lives.stories[fitting.id]) for fitting in fittings]
        own_weights = table.of(np.stack([weight.sum(axis=0) for weight, _ in own]))
        policies = [self._alike[kind.id, _group(fitting)].policy for fitting in fittings]
        survival, (surviving, earning) = table.alive @ own_weights.T, weighed(table, own_weights, policies)
        for at, (fitting, (weight, held)) in enumerate(zip(fittings, own, strict=True)):
            story, by_edge = lives.stories[fitting.id], weight.sum(axis=(1, 2))
            standing = _standing(held, by_edge, story)
            rates = self._alike[kind.id, _group(fitting)].curve.rates
            self._own[fitting.id] = _OwnPart(
                LifeCurve(table.exposure, survival[:, at], source_of(life.findings), rates), standing,
                about_the_part(held, story, by_edge / by_edge.sum(), kind.exposure.unit),
                prospect(table.exposure, surviving[:, at], earning[:, at], self._costs(fitting), standing),
            )  # fmt: skip


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
    """The points of belief of one part: each place of the edges with each age when fitted."""
    age = np.broadcast_to(held.entry + story.gathered, held.low.shape)
    share = np.broadcast_to((by_edge * np.exp(held.doubt))[:, None], held.low.shape)
    kept = share.ravel() > LEAST_SHARE * share.max()
    low, high = np.maximum(held.low, age), np.maximum(held.high, age)
    return Standing(age.ravel()[kept], low.ravel()[kept], high.ravel()[kept], share.ravel()[kept])
