"""What was learned, for people: each part kind's life with its band, the findings behind it, how forecasts fared."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from feedwright.catalogue.entry import Catalogue, PartKind, Sourced
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.naming import pick_entry
from feedwright.farm.outlook.hindsight import Hindsight, hindsight
from feedwright.farm.outlook.kept import Kept
from feedwright.farm.outlook.learning import FarmLives, farm_lives, is_large
from feedwright.records.store import Store
from feedwright.wear.findings import Story, bounds
from feedwright.wear.life import curve, prior
from feedwright.wear.numbers import LearnedNumber, learn_number
from feedwright.wear.pooled import PooledLife, counts, learn, table_of
from feedwright.wear.posterior import quantiles
from feedwright.wear.telling import MUCH, about_the_farm, ratio_to_rule, source_of
from feedwright.wear.values import Interval

CURVE_POINTS = 48
CURVE_TO = 2.6
"""Reach of the drawn curve, in median lives."""


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Share alive at an exposure: as learned with its 90 % band, and by the rule of thumb."""

    exposure: float
    alive_low_frac: float
    alive_frac: float
    alive_high_frac: float
    rule_frac: float


@dataclass(frozen=True, slots=True)
class RawFinding:
    """What one part told: where it stood, and what was seen."""

    machine: str
    product: str
    exposure: float
    """As for the plain product."""
    what: str
    """'failed', 'renewed while it worked', 'still in use', or a grade."""
    misread: bool
    """True where it does not fit what else is known of the part."""


@dataclass(frozen=True, slots=True)
class MachineLesson:
    """How long parts last on one machine, in rules of thumb."""

    machine: str
    product: str
    ratio: Interval
    findings: int
    odd: bool
    """True where that differs much from the other machines."""


@dataclass(frozen=True, slots=True)
class KindLesson:
    """What was learned of one part kind."""

    kind: PartKind
    parts: int
    findings: int
    failures: int
    source: str
    ratio: Interval
    """Median life over the rule of thumb's; the band holds 80 %."""
    shape: Interval
    said: tuple[str, ...]
    machines: tuple[MachineLesson, ...]
    curve: tuple[CurvePoint, ...]
    raw: tuple[RawFinding, ...]


@dataclass(frozen=True, slots=True)
class Lessons:
    """Everything that was learned so far."""

    at_utc: datetime
    kinds: tuple[KindLesson, ...]
    """The most findings first."""
    numbers: tuple[LearnedNumber, ...]
    """Activation energies and abrasive weights, and whether the findings tell of them."""
    hindsight: Hindsight | None
    """How forecasts fared; None while there is too little to say."""


_KEPT = Kept[Lessons]("lessons", behind=True, shown_for=timedelta(days=2))


def lessons(store: Store, now_utc: datetime, *, part: str | None = None) -> Lessons:
    """All lessons, or those of one part kind; kept until something is recorded or a day has passed.

    Those of a large farm, whose hindsight takes minutes, are kept for the day whatever is recorded.
    """
    made = _KEPT.of(store, now_utc, lambda: _all_lessons(store, now_utc), stamp=_stamp(store, now_utc))
    if part is None:
        return made
    wanted = pick_entry(load_catalogue().parts, part, "part kind").id
    return replace(made, kinds=tuple(lesson for lesson in made.kinds if lesson.kind.id == wanted))


def lessons_at_hand(store: Store, now_utc: datetime) -> bool:
    """False where the lessons of a large farm still have to be worked out, which takes minutes."""
    return _KEPT.is_at_hand(store, now_utc, stamp=_stamp(store, now_utc)) or not is_large(store)


def lessons_are_due(store: Store, now_utc: datetime) -> bool:
    """True where those of a large farm are to be worked out for the day."""
    made = _KEPT.last(store)
    return is_large(store) and (made is None or made.at_utc.date() != now_utc.date())


def _stamp(store: Store, now_utc: datetime) -> tuple[int, int]:
    return 0 if is_large(store) else store.latest_act_id(), now_utc.toordinal()


def _all_lessons(store: Store, now_utc: datetime) -> Lessons:
    lives, names = farm_lives(store), {machine.id: machine.name for machine in store.machines()}
    kinds = [_lesson(lives.life(kind), told, names) for kind, told in lives.by_kind.items()]
    return Lessons(
        now_utc,
        tuple(sorted(kinds, key=lambda lesson: -lesson.findings)),
        tuple(_numbers(lives, load_catalogue())),
        hindsight(lives.histories, now_utc),
    )


def _lesson(life: PooledLife, told: Sequence[Story], names: Mapping[int, str]) -> KindLesson:
    low, mid, high = quantiles(life.grid.log_shape, life.kind_weight.sum(axis=0), (0.1, 0.5, 0.9))
    return KindLesson(
        life.kind, len(told), life.findings, sum(story.end == "failed" for story in told), source_of(life.findings),
        ratio_to_rule(life, life.kind_weight), Interval(math.exp(low), math.exp(mid), math.exp(high)),
        about_the_farm(life, life.kind.products[0].id), tuple(_machines(life, told, names)), tuple(_curve(life)),
        tuple(_raw(life.kind, told, names)),
    )  # fmt: skip


def _machines(life: PooledLife, told: Sequence[Story], names: Mapping[int, str]) -> Iterator[MachineLesson]:
    for (machine, product), weight in sorted(life.group_weight.items(), key=lambda group: names[group[0][0]]):
        own = sum(counts(story) for story in told if (story.machine, story.product) == (machine, product))
        if own:
            here, all_over = ratio_to_rule(life, weight), ratio_to_rule(life, life.product_weight[product])
            off = here.mid / all_over.mid
            yield MachineLesson(names[machine], product, here, own, max(off, 1 / off) >= MUCH)


def _curve(life: PooledLife) -> Iterator[CurvePoint]:
    table, rule = table_of(life), curve(prior(life.kind.life))
    weight = table.of(life.kind_weight)
    middle = max(float(np.interp(-0.5, -(table.alive @ weight), table.exposure)), life.kind.life.median.value)
    for exposure in np.linspace(0.0, CURVE_TO * middle, CURVE_POINTS):
        after = min(int(np.searchsorted(table.exposure, exposure)), table.exposure.size - 1)
        alive = table.alive[after]
        order = np.argsort(alive)
        low, high = np.interp((0.05, 0.95), np.cumsum(weight[order]), alive[order])
        at = float(table.exposure[after])
        yield CurvePoint(at, float(low), float(alive @ weight), float(high), float(rule.alive(at)))


def _raw(kind: PartKind, told: Sequence[Story], names: Mapping[int, str]) -> Iterator[RawFinding]:
    ends = {"failed": "failed", "renewed": "renewed while it worked", "open": "still in use"}
    for story in told:
        known = kind.product(story.product)
        ratio = known.life_ratio.value if known else 1.0
        misread = bounds(kind, story).misread
        for look in story.looks:
            at = (story.before.mid + look.gathered) / ratio
            yield RawFinding(names[story.machine], story.product, at, look.grade, misread)
        at = (story.before.mid + story.gathered) / ratio
        yield RawFinding(names[story.machine], story.product, at, ends[story.end], misread)


def _numbers(lives: FarmLives, catalogue: Catalogue) -> Iterator[LearnedNumber]:
    """What the findings say of the numbers that the wear laws assume."""
    for kind in catalogue.parts.values():
        energy = kind.exposure.numbers.get("activation_ev")
        if energy is not None and any(counts(story) for story in lives.by_kind.get(kind.id, ())):
            name = f"activation energy of the {kind.title.lower()}"

            def with_energy(value: float, kind: PartKind = kind, energy: Sourced = energy) -> float:
                numbers = {**kind.exposure.numbers, "activation_ev": replace(energy, value=value)}
                changed = replace(kind, exposure=replace(kind.exposure, numbers=numbers))
                return _evidence(lives, replace(catalogue, parts={**catalogue.parts, kind.id: changed}), kind.id)

            yield learn_number(name, energy, with_energy, on_log=False)
    nozzles = [kind.id for kind in catalogue.parts.values() if kind.exposure.law == "abrasive_mass"]
    for material in sorted(lives.histories.materials()):
        weight = catalogue.materials[material].abrasive_ratio
        for kind_id in nozzles if catalogue.materials[material].filler else ():
            if any(counts(story) for story in lives.by_kind.get(kind_id, ())):
                name = f"abrasive weight of {catalogue.materials[material].title}"

                def with_weight(value: float, material: str = material, kind_id: str = kind_id) -> float:
                    held = catalogue.materials[material]
                    changed = replace(held, abrasive_ratio=replace(held.abrasive_ratio, value=value))
                    other = replace(catalogue, materials={**catalogue.materials, material: changed})
                    return _evidence(lives, other, kind_id)

                yield learn_number(name, weight, with_weight, on_log=True)


def _evidence(lives: FarmLives, catalogue: Catalogue, part_kind: str) -> float:
    """Log of how likely all that was found of a part kind is under another catalogue's laws."""
    stories = lives.histories.under(catalogue).stories(only=part_kind)
    return learn(catalogue.parts[part_kind], tuple(stories.values())).log_evidence
