"""From the farm as it stands to solved rounds: gathering what a plan rests on, choosing, and timing the stops."""

import json
import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from feedwright.farm.ground.settings import figures, zone
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.rounds.bench_hours import RoundDay, busy_times, free_stretches, round_days
from feedwright.farm.rounds.round_sheets import latest_plan
from feedwright.farm.rounds.round_tasks import HORIZON_D, Given, Laid, Supplies, lay_out
from feedwright.planning.rounds import Progress, plan_rounds
from feedwright.planning.rounds_against import all_at_once, when_due
from feedwright.planning.rounds_cost import cost_of
from feedwright.planning.rounds_machine import mask_of
from feedwright.planning.rounds_times import StopWish, begin_times
from feedwright.planning.rounds_values import Choice, RoundsProblem, RoundsSolution
from feedwright.records.reads import Reads
from feedwright.records.rounds_values import PlannedStop, RoundWish
from feedwright.records.store import Store

GAP_FRAC = 0.005
"""Near enough to the best: what a search may end at."""
LIMIT_S, LARGE_LIMIT_S, LARGE = 10.0, 60.0, 100
"""How long it may take, also for a farm of so many machines with tasks."""
WHOLE_DAY = ((0.0, 1e6),)
USUAL_H = 9
"""When a round begins on a day that has no hours of its own."""


@dataclass(frozen=True, slots=True)
class Solved:
    """A problem of rounds with its choices and the times of its stops."""

    laid: Laid
    solution: RoundsSolution
    begins: Mapping[tuple[int, int], datetime]
    """Of each stop, by machine and day of the problem."""
    took_s: float

    def stop_minutes(self, at: int, day: int) -> float:
        """How long a stop takes, by machine and day of the problem."""
        held = mask_of(self.solution.choices[at], day)
        return float(self.laid.problem.machines[at].minutes[held]) + self.laid.problem.stop_minutes


def gather(store: Store, now_utc: datetime) -> Given:
    """Everything that a plan rests on, as it stands."""
    place = zone(store)
    numbers = figures(store)
    with store.snapshot() as reads:
        wishes = wishes_in_force(reads, now_utc.astimezone(place).date())
        days = round_days(reads, place, now_utc, HORIZON_D)
        return Given(
            parts=fitted_parts(store, now_utc), figures=numbers, days=with_wished(days, wishes, now_utc, place),
            busy=busy_times(reads, now_utc), wishes=wishes, before=planned_before(reads),
            supplies=Supplies(reads, numbers), now_utc=now_utc, zone=place,
        )  # fmt: skip


def with_wished(
    days: Sequence[RoundDay], wishes: Mapping[int, RoundWish], now_utc: datetime, place: ZoneInfo
) -> list[RoundDay]:
    """The round days, and those beside them to which you moved something: somebody will be there then."""
    last = now_utc.astimezone(place).date() + timedelta(days=HORIZON_D)
    asked = {date.fromisoformat(wish.day) for wish in wishes.values() if wish.kind != "skip"}
    further = [
        RoundDay(day, max(now_utc, datetime(day.year, day.month, day.day, USUAL_H, tzinfo=place)), 0.0, "asked for")
        for day in asked - {one.day for one in days}
        if day < last
    ]
    return sorted((*days, *further), key=lambda one: one.day)


def wishes_in_force(records: Reads, today: date) -> dict[int, RoundWish]:
    """The latest wish for each fitting that is still to come; a renewed part's wishes are spent."""
    held: dict[int, RoundWish] = {}
    for wish in records.every(RoundWish):
        for fitting in json.loads(wish.fittings):
            held[fitting] = wish
    if not held:
        return {}
    still = {fitting.id for fitting in records.fittings(open_only=True)}
    return {fitting: wish for fitting, wish in held.items() if fitting in still and wish.day >= today.isoformat()}


def planned_before(records: Reads) -> dict[int, str]:
    """The day of each task in the latest plan; empty = it was left."""
    held = latest_plan(records)
    if held is None:
        return {}
    left = {one["fitting_id"]: "" for one in json.loads(held.reckoning)["left"]}
    planned = {
        task["fitting_id"]: stop.day
        for stop in records.every(PlannedStop, round_plan_id=held.id)
        for task in json.loads(stop.tasks)
    }
    return left | planned


def solve(given: Given, *, limit_s: float | None = None, progress: Progress | None = None) -> Solved:
    """The choices, and when each stop begins; a stop that finds no place beside the others is tried on other days."""
    begun = time.monotonic()
    laid = lay_out(given)
    limit = limit_s or (LARGE_LIMIT_S if len(laid.machines) > LARGE else LIMIT_S)
    while True:
        before = [
            tuple(-1 if task.before is None else task.before for task in work.tasks) for work in laid.problem.machines
        ]
        solution = plan_rounds(laid.problem, before=before, limit_s=limit, gap=GAP_FRAC, progress=progress)
        begins, homeless = _times(given, laid, solution)
        if not homeless:
            return Solved(laid, solution, begins, time.monotonic() - begun)
        laid = replace(laid, problem=_without(laid, homeless))


def _times(
    given: Given, laid: Laid, solution: RoundsSolution
) -> tuple[dict[tuple[int, int], datetime], list[tuple[int, int]]]:
    """When each stop begins, and the stops that find no place: one of each day, the least urgent."""
    begins: dict[tuple[int, int], datetime] = {}
    homeless: list[tuple[int, int]] = []
    for number, day in enumerate(laid.days):
        stops = [_stop_wish(given, laid, at, choice, number) for at, choice in enumerate(solution.choices)
                 if number in choice]  # fmt: skip
        placed = begin_times(stops, laid.problem.round_minutes) if stops else {}
        if placed is None:
            homeless.append((min(stops, key=lambda stop: stop.waiting_cost).key, number))
            continue
        for key, minute in placed.items():
            begins[key, number] = day.begins_utc + timedelta(minutes=minute)
    return begins, homeless


def _stop_wish(given: Given, laid: Laid, at: int, choice: Choice, day: int) -> StopWish:
    held = mask_of(choice, day)
    minutes = float(laid.problem.machines[at].minutes[held]) + laid.problem.stop_minutes
    round_day = laid.days[day]
    if math.isinf(laid.problem.machines[at].free_minutes[day]):  # you asked for it
        return StopWish(at, minutes, math.inf, WHOLE_DAY)
    busy = [one for one in given.busy if one.machine_id == laid.machines[at].id]
    free = tuple(
        ((begin - round_day.begins_utc).total_seconds() / 60, (until - round_day.begins_utc).total_seconds() / 60)
        for begin, until in free_stretches(round_day, busy)
    )
    waiting = max(
        float(one.part.advice.waiting_cost_week.amount)
        for one, on in zip(laid.candidates[at], choice, strict=True) if on == day
    )  # fmt: skip
    return StopWish(at, minutes, waiting, free or WHOLE_DAY)


def _without(laid: Laid, homeless: Sequence[tuple[int, int]]) -> RoundsProblem:
    works = list(laid.problem.machines)
    for at, day in homeless:
        free = list(works[at].free_minutes)
        free[day] = 0.0
        works[at] = replace(works[at], free_minutes=tuple(free))
    return replace(laid.problem, machines=tuple(works))


def compare(solved: Solved) -> tuple[float, float]:
    """What each task by itself when due would cost, and everything at once a month; both heed nothing you asked."""
    problem = _unasked(solved.laid)
    return when_due(problem).total, cost_of(problem, all_at_once(problem)).total


def _unasked(laid: Laid) -> RoundsProblem:
    """The problem as if nothing had been asked, and as if no plan had been before."""
    works = tuple(
        replace(work, tasks=tuple(
            replace(
                task, cost=tuple(laid.timing[task.key][:-1].tolist()), later_cost=float(laid.timing[task.key][-1]),
                before=None,
            )
            for task in work.tasks
        ))
        for work in laid.problem.machines
    )  # fmt: skip
    return replace(laid.problem, machines=works)
