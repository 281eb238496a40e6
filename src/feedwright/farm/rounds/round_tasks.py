"""From the farm as it stands to a problem of rounds: what may be done when, what it costs, what it takes."""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from feedwright.catalogue.entry import Figures
from feedwright.catalogue.procedures import Procedure
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.rounds.bench_hours import Busy, RoundDay, free_stretches
from feedwright.farm.service.visit_plan import has_procedure, merged_for, procedure_for, with_proofs
from feedwright.farm.stores.item_terms import all_terms
from feedwright.farm.stores.stock import chosen_item, fitting_items, stocks
from feedwright.planning.rounds_values import MachineWork, RoundsProblem, RoundTask
from feedwright.records.reads import Reads
from feedwright.records.rounds_values import RoundWish
from feedwright.records.stores_values import Item
from feedwright.records.values import Machine
from feedwright.wear.life import Floats

HORIZON_D = 28
AHEAD_D = 182.0
"""A renewal whose own moment lies further beyond the plan is not thought of."""
MOST_TASKS = 8
"""So many tasks of one machine are weighed at most: those with most to gain."""
FAILED_FRAC = 0.99
MATERIAL = "pla"
"""What is taken to be in the path: it moves the minutes of heating by next to nothing."""


@dataclass(frozen=True, slots=True)
class Supply:
    """One item of the stores: what is there, and what comes when."""

    item: Item
    on_hand: int
    coming: tuple[tuple[datetime, int], ...]
    pieces: int
    """How many a renewal takes."""

    def there_by(self, at_utc: datetime) -> int:
        """Pieces there at a moment."""
        return max(0, self.on_hand) + sum(count for comes, count in self.coming if comes <= at_utc)


@dataclass(frozen=True, slots=True)
class Candidate:
    """One task that may be planned."""

    part: FittedPart
    procedure: Procedure
    supply: Supply | None
    """None: it takes no part, or the stores do not keep it."""
    wish: RoundWish | None = None

    @property
    def id(self) -> int:
        """The fitting that it is about."""
        return self.part.fitting.id

    @property
    def title(self) -> str:
        """What is done: 'trim the tube end'."""
        kind, number = self.part.kind, self.part.fitting.position
        renews = self.part.advice.act == "renew"
        words = kind.renewal.title if renews else f"look at the {kind.title.lower()}"
        return f"{words} {number}" if number > 1 else words

    @property
    def renews(self) -> bool:
        """False where it is but looked at."""
        return self.part.advice.act == "renew"


@dataclass(frozen=True, slots=True)
class Laid:
    """A problem of rounds, and what its numbers mean."""

    problem: RoundsProblem
    days: tuple[RoundDay, ...]
    machines: tuple[Machine, ...]
    candidates: tuple[tuple[Candidate, ...], ...]
    """For each machine, in the order of its tasks."""
    timing: Mapping[int, Floats]
    """By fitting: what doing it on each day costs, whatever forbids it, and last what leaving it costs."""
    crowded: tuple[str, ...]
    """Machines with more tasks than are weighed."""


@dataclass(frozen=True, slots=True)
class Given:
    """Everything that a problem is laid out from."""

    parts: Sequence[FittedPart]
    figures: Figures
    days: Sequence[RoundDay]
    busy: Sequence[Busy]
    wishes: Mapping[int, RoundWish]
    """The wish in force for each fitting."""
    before: Mapping[int, str]
    """The day of each task in the plan before; empty = it was left."""
    supplies: "Supplies"
    now_utc: datetime
    zone: ZoneInfo
    price_of: Mapping[str, float] = field(default_factory=dict)
    """What-if: other prices of parts, by kind."""
    life_of: Mapping[str, float] = field(default_factory=dict)
    """What-if: lives of the parts fitted from now on, over those of today's, by kind."""


class Supplies:
    """What the stores hold for renewals."""

    def __init__(self, records: Reads, figures: Figures) -> None:
        self._items, self._stocks, self._terms = records.every(Item), stocks(records), all_terms(records, figures)

    def for_part(self, part: FittedPart) -> Supply | None:
        """The item that renewing a part will take; None where none is kept."""
        found = fitting_items(self._items, part.kind.id, part.fitting.product)
        if not found:
            return None
        item, pieces = chosen_item(found, self._stocks)
        stock, lead = self._stocks[item.id], timedelta(days=self._terms[item.id].lead_days)
        coming = tuple((order.movement.moved_utc + lead, order.left) for order in stock.open_orders)
        return Supply(item, stock.on_hand, coming, pieces)


def lay_out(given: Given) -> Laid:
    """The problem for a farm as it stands."""
    by_machine: dict[int, list[FittedPart]] = defaultdict(list)
    for part in given.parts:
        by_machine[part.machine.id].append(part)
    minutes = _Minutes()
    machines, held, works, crowded = [], [], [], []
    timing: dict[int, Floats] = {}
    fig = {name: sourced.value for name, sourced in given.figures.numbers.items()}
    minute_cost = (fig["labour_per_h"] + fig["machine_per_h"]) / 60
    for parts in by_machine.values():
        machine = parts[0].machine
        candidates = [one for one in (_candidate(given, part) for part in parts) if one is not None]
        timing |= {one.id: _timing(given, one.part, fig) for one in candidates}
        worth = {one.id: _worth(given, one, timing[one.id], minutes.of(machine, [one]) * minute_cost, fig)
                 for one in candidates}  # fmt: skip
        chosen = [one for one in candidates if one.wish is not None or worth[one.id] > 0]
        chosen.sort(key=lambda one: (one.wish is None, -worth[one.id]))
        if len(chosen) > MOST_TASKS:
            crowded.append(machine.name)
        chosen = chosen[:MOST_TASKS]
        if chosen:
            machines.append(machine)
            held.append(tuple(chosen))
            works.append(_work(given, machine, chosen, timing, minutes))
    supplies = _supplies(given, held)
    problem = RoundsProblem(
        _hours(given, works, fig), tuple(works), minute_cost, fig["round_minutes"], fig["stop_minutes"],
        fig["replan_price"], supplies,
    )  # fmt: skip
    return Laid(problem, tuple(given.days), tuple(machines), tuple(held), timing, tuple(crowded))


def _candidate(given: Given, part: FittedPart) -> Candidate | None:
    """The task for a part, where one may be worth it within the plan, or was asked for."""
    wish, advice = given.wishes.get(part.fitting.id), part.advice
    if not has_procedure(part.machine, part):
        return None
    soon = advice.best_in_days < HORIZON_D + AHEAD_D if advice.act == "renew" else part.outlook.failure_frac_month > 0
    if not soon and wish is None:
        return None
    takes = advice.act == "renew" and part.kind.renewal.parts
    return Candidate(part, procedure_for(part.machine, part), given.supplies.for_part(part) if takes else None, wish)


def days_ahead(given: Given, day: RoundDay) -> float:
    """How far a round's middle lies ahead."""
    middle = day.begins_utc + timedelta(minutes=day.minutes / 2)
    return max(0.0, (middle - given.now_utc).total_seconds() / 86400)


def _timing(given: Given, part: FittedPart, fig: Mapping[str, float]) -> Floats:
    """What doing the part's task on each round day costs, early or late, and last what leaving it costs."""
    ahead = np.array([*(days_ahead(given, day) for day in given.days), float(HORIZON_D)])
    advice = part.advice
    if advice.act == "look":
        risk = float(advice.failure_cost.amount - advice.planned_cost.amount)
        return np.asarray(risk * failed_by(part, ahead))
    weeks = np.arange(len(advice.cost_at_weeks)) * 7.0
    at, cost = list(weeks), list(advice.cost_at_weeks)
    if 0 < advice.best_in_days < weeks[-1]:
        at, cost = [*at, advice.best_in_days], [*cost, 0.0]
    order = np.argsort(at)
    held = np.interp(ahead, np.array(at)[order], np.array(cost)[order])
    held = held + _other_grade(given, part, ahead)
    if part.outlook.failure_frac_day >= FAILED_FRAC:  # it prints no more: every hour that it would have printed is lost
        held = held + fig["machine_per_h"] * part.pace.printing_h_per_day * ahead
    if advice.best_in_days > HORIZON_D:
        held[-1] = 0.0
    return np.asarray(held)


def _other_grade(given: Given, part: FittedPart, ahead: Floats) -> Floats:
    """What-if: parts that cost or last otherwise from now on make the life that is left of this one worth more or less.

    Their long-run cost per exposure changes by price times renewals per exposure, over their longer life; at the best
    age as it is now.
    """
    kind, advice = part.kind.id, part.advice
    if kind not in given.price_of and kind not in given.life_of:
        return np.zeros_like(ahead)
    planned = float(advice.planned_cost.amount)
    dearer = given.price_of.get(kind, 0.0)
    rate = advice.cost_rate * (1 + dearer / planned) / given.life_of.get(kind, 1.0)
    return (advice.cost_rate - rate) * part.pace.exposure_per_day * ahead


def failed_by(part: FittedPart, ahead: Floats) -> Floats:
    """Chance that the part has failed by so many days, straight between those known."""
    out = part.outlook
    return np.interp(
        ahead, [0.0, 1.0, 7.0, 30.0],
        [0.0, out.failure_frac_day, out.failure_frac_week, out.failure_frac_month],
    )  # fmt: skip


def _worth(given: Given, one: Candidate, timing: Floats, alone: float, fig: Mapping[str, float]) -> float:
    """At most what doing the task within the plan can save: a sound bound, so that what is dropped is never of use."""
    if not one.renews:
        look = fig["look_minutes"] * (fig["labour_per_h"] + fig["machine_per_h"]) / 60
        return float(timing[-1] - timing[:-1].min(initial=math.inf)) - min(look, alone)
    return float(timing[-1] - timing[:-1].min(initial=math.inf)) + alone


def _work(
    given: Given, machine: Machine, chosen: Sequence[Candidate], timing: Mapping[int, Floats], minutes: "_Minutes"
) -> MachineWork:
    busy = [one for one in given.busy if one.machine_id == machine.id]
    pinned = {one.wish.day for one in chosen if one.wish is not None and one.wish.kind != "skip"}
    free = tuple(
        math.inf if day.day.isoformat() in pinned else max(
            ((until - begin).total_seconds() / 60 for begin, until in free_stretches(day, busy)), default=0.0
        )
        for day in given.days
    )  # fmt: skip
    tasks = tuple(_task(given, one, timing[one.id]) for one in chosen)
    table = [minutes.of(machine, [chosen[bit] for bit in range(len(chosen)) if mask >> bit & 1])
             for mask in range(1 << len(chosen))]  # fmt: skip
    return MachineWork(machine.id, tasks, np.array(table), free)


def _task(given: Given, one: Candidate, timing: Floats) -> RoundTask:
    days = [day.day.isoformat() for day in given.days]
    cost, later = timing[:-1].copy(), float(timing[-1])
    needs: tuple[tuple[str, int], ...] = ()
    if one.supply is not None:
        needs = ((str(one.supply.item.id), one.supply.pieces),)
    if one.wish is not None and one.wish.kind == "skip":
        cost[[day < one.wish.day for day in days]] = math.inf
    elif one.wish is not None:
        cost[[day != one.wish.day for day in days]] = math.inf
        later, needs = math.inf, ()
    group = None
    if one.renews:
        group = int(max(0.0, min(one.part.advice.best_in_days, 1e4) - HORIZON_D) // HORIZON_D)
    return RoundTask(one.id, tuple(cost.tolist()), later, group, _before(given, one.id, days), needs)


def _before(given: Given, fitting_id: int, days: Sequence[str]) -> int | None:
    """Where the plan before had it; None where it is new, or its day is gone."""
    day = given.before.get(fitting_id)
    if day == "":
        return -1
    return days.index(day) if day in days else None


def _supplies(given: Given, held: Sequence[Sequence[Candidate]]) -> dict[str, tuple[int, ...]]:
    """What is there by each day of every item that is short: less than all tasks would take; pinned ones come first."""
    wanted: dict[str, int] = defaultdict(int)
    taken: dict[str, int] = defaultdict(int)
    of: dict[str, Supply] = {}
    for one in (one for those in held for one in those if one.supply is not None):
        assert one.supply is not None
        key = str(one.supply.item.id)
        of[key] = one.supply
        counted = taken if one.wish is not None and one.wish.kind != "skip" else wanted
        counted[key] += one.supply.pieces
    short = {}
    for key, supply in of.items():
        there = tuple(max(0, supply.there_by(day.begins_utc) - taken[key]) for day in given.days)
        if there and there[0] < wanted[key]:
            short[key] = there
    return short


def _hours(given: Given, works: Sequence[MachineWork], fig: Mapping[str, float]) -> tuple[float, ...]:
    """The hours of each day; where what you asked for takes longer, as long as that takes."""
    asked = [0.0] * len(given.days)
    for work in works:
        for day in range(len(given.days)):
            held = sum(
                1 << bit for bit, task in enumerate(work.tasks)
                if math.isinf(task.later_cost) and math.isfinite(task.cost[day])
            )  # fmt: skip
            asked[day] += float(work.minutes[held]) + fig["stop_minutes"] if held else 0.0
    return tuple(
        max(day.minutes, asked[number] + fig["round_minutes"] if asked[number] else 0.0)
        for number, day in enumerate(given.days)
    )


class _Minutes:
    """How long any procedures take together on a machine; machines built alike share what is known."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], float] = {}

    def of(self, machine: Machine, tasks: Sequence[Candidate]) -> float:
        """Minutes of these tasks as one visit, with the proofs that they call for."""
        if not tasks:
            return 0.0
        ids = frozenset(one.procedure.id for one in tasks)
        key = (machine.drive, machine.hot_end, machine.motion, ids)
        if key not in self._known:
            procedures = with_proofs({one.procedure.id: one.procedure for one in tasks}.values())
            self._known[key] = merged_for(machine, procedures, MATERIAL)[0].minutes
        return self._known[key]
