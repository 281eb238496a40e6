"""Reading a kept plan of rounds: its rounds and stops, how each stands, and what the plan comes to."""

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from feedwright.errors import NotFound
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.rounds.round_values import (
    InPlan,
    LeftTask,
    PlannedTask,
    Reckoning,
    Round,
    RoundsSheet,
    Stop,
    StopState,
)
from feedwright.records.reads import Reads
from feedwright.records.rounds_values import PlannedStop, RoundPlan, RoundWish
from feedwright.records.store import Store
from feedwright.records.values import Machine, Visit
from feedwright.units import Money

LEAVE_H = 12.0
"""A stop is missed once its day is over by so much."""


def latest_plan(records: Reads) -> RoundPlan | None:
    """The plan in force."""
    return records.latest(RoundPlan)


def stops_of(records: Reads, plan: RoundPlan) -> list[PlannedStop]:
    """A plan's stops in their order of time."""
    return sorted(records.every(PlannedStop, round_plan_id=plan.id), key=lambda stop: (stop.begins_utc, stop.id))


def in_plan(records: Reads, parts: Iterable[FittedPart], now_utc: datetime) -> dict[int, InPlan]:
    """What the plan in force does with each of these parts that it weighed, by fitting; nothing where none was made.

    Of a large farm's plan only what tells of these parts is unpacked: the bench list asks at every look.
    """
    held, machine_of = latest_plan(records), {part.fitting.id: part.machine.id for part in parts}
    if held is None or not machine_of:
        return {}
    left = json.loads(held.reckoning)["left"]
    found = {
        one["fitting_id"]: InPlan(None, str(one["because"])) for one in left if one["fitting_id"] in machine_of
    }  # fmt: skip
    machines, visits = set(machine_of.values()), records.visits()
    for stop in (stop for stop in stops_of(records, held) if stop.machine_id in machines):
        missed = _went_by(stop, now_utc) and _visit_for(stop, held, visits) is None
        for task in json.loads(stop.tasks):
            if task["fitting_id"] in machine_of:
                found[task["fitting_id"]] = InPlan(stop.begins_utc, " ".join(task["because"]), missed)
    return found


def _went_by(stop: PlannedStop, now_utc: datetime) -> bool:
    return stop.begins_utc + timedelta(hours=LEAVE_H) < now_utc


def rounds_sheet(store: Store, now_utc: datetime) -> RoundsSheet:
    """The plan in force as it stands; refuses where none was made yet."""
    with store.snapshot() as reads:
        held = latest_plan(reads)
        if held is None:
            raise NotFound("plan of rounds", expected="none was made yet", remedy="run `feedwright rounds plan`")
        stops, visits = stops_of(reads, held), reads.visits()
        machines = {machine.id: machine for machine in reads.machines()}
        ended = {ending.visit_id for ending in reads.visit_endings()}
        wishes = reads.every(RoundWish)
        latest_act = reads.latest_act_id()
    said = json.loads(held.reckoning)
    shown = [
        _stop(stop, machines[stop.machine_id], held, visits, ended, wishes, now_utc)
        for stop in stops
        if stop.machine_id in machines
    ]
    left = tuple(LeftTask(**one) for one in said["left"] if one["machine_id"] in machines)
    return RoundsSheet(
        held, held.made_utc, reckoning_of(said), _rounds(shown, stops, said), left, tuple(said["notes"]),
        stale=latest_act - held.act_id > len({one.act_id for one in wishes if one.act_id > held.act_id}),
    )  # fmt: skip


def reckoning_of(said: Mapping[str, Any]) -> Reckoning:
    """What a plan comes to, from what is kept of it."""
    currency = str(said["currency"])

    def money(name: str) -> Money:
        return Money.of(float(said[name]), currency)

    parts = {name: money(name) for name in ("timing", "bench", "later", "changes", "when_due", "monthly")}
    total = sum(said[name] for name in ("timing", "bench", "later", "changes"))
    return Reckoning(
        total=Money.of(total, currency),
        gap_frac=float(said["gap_frac"]),
        took_s=float(said["took_s"]),
        **parts,
    )


def _stop(
    stop: PlannedStop, machine: Machine, plan: RoundPlan, visits: Sequence[Visit], ended: set[int],
    wishes: Sequence[RoundWish], now_utc: datetime,
) -> Stop:  # fmt: skip
    tasks = tuple(PlannedTask(**{**task, "because": tuple(task["because"])}) for task in json.loads(stop.tasks))
    visit = _visit_for(stop, plan, visits)
    state: StopState = "planned"
    if visit is not None:
        state = "done" if visit.id in ended else "under way"
    elif _went_by(stop, now_utc):
        state = "missed"
    fittings = {task.fitting_id for task in tasks}
    wish = next(
        (one for one in reversed(wishes) if fittings & set(json.loads(one.fittings)) and one.kind != "skip"
         and one.day == stop.day), None,
    )  # fmt: skip
    return Stop(
        stop.id, machine, stop.begins_utc, stop.minutes, tasks, None if wish is None else wish.kind, state,
        None if visit is None else visit.id,
    )  # fmt: skip


def _visit_for(stop: PlannedStop, plan: RoundPlan, visits: Sequence[Visit]) -> Visit | None:
    """The visit to the stop's machine since the plan was made that has one of its procedures."""
    wanted = {task["procedure"] for task in json.loads(stop.tasks)}
    found = [
        visit for visit in visits
        if visit.machine_id == stop.machine_id and visit.begun_utc >= plan.made_utc
        and wanted & set(json.loads(visit.procedures))
    ]  # fmt: skip
    return found[0] if found else None


def _rounds(stops: Sequence[Stop], kept: Sequence[PlannedStop], said: Mapping[str, Any]) -> tuple[Round, ...]:
    day_of = {stop.id: stop.day for stop in kept}
    days: list[dict[str, Any]] = said["days"]
    by_day = {str(one["day"]): one for one in days}
    rounds = []
    for day in sorted({day_of[stop.number] for stop in stops}):
        own = tuple(stop for stop in stops if day_of[stop.number] == day)
        about = by_day[day]
        begins = datetime.fromisoformat(str(about["begins_utc"]))
        last = max(stop.begins_utc + timedelta(minutes=stop.minutes) for stop in own)
        price = Money.of(float(about["hour_price"]), str(said["currency"]))
        rounds.append(Round(
            date.fromisoformat(day), begins, (last - begins).total_seconds() / 60, float(about["minutes"]), price, own,
        ))  # fmt: skip
    return tuple(rounds)


def stop_numbered(records: Reads, number: int) -> tuple[PlannedStop, RoundPlan]:
    """A stop of the plan in force by its number; refuses one of another plan."""
    plan = latest_plan(records)
    stop = records.one(PlannedStop, number)
    if plan is None or stop is None or stop.round_plan_id != plan.id:
        raise NotFound(
            "stop", place=f"number {number}", expected="the plan in force has no such stop",
            remedy="look at the plan again: `feedwright rounds show`",
        )  # fmt: skip
    return stop, plan
