"""Rounds of service: the plan of the coming weeks, and what you ask of it."""

import json
from dataclasses import replace
from datetime import datetime, timedelta

from feedwright.errors import BadInput, NotFound
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import text
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.settings import zone
from feedwright.farm.rounds.bench_hours import day_of
from feedwright.farm.rounds.round_sheets import stop_numbered
from feedwright.farm.rounds.round_solving import compare, gather, solve, wishes_in_force
from feedwright.farm.rounds.round_tasks import HORIZON_D
from feedwright.farm.rounds.round_words import Words
from feedwright.farm.service.service_visits import begin_visit
from feedwright.planning.rounds import Progress
from feedwright.records.rounds_values import PlannedStop, RoundPlan, RoundWish, WishKind
from feedwright.records.store import Store
from feedwright.records.values import Machine, Visit


def plan(
    store: Store, *, now_utc: datetime | None = None, limit_s: float | None = None, person: str | None = None,
    progress: Progress | None = None,
) -> RoundPlan:  # fmt: skip
    """Plan the rounds of the coming four weeks around what you asked for, from the plan before; the plan is kept."""
    at_utc = moment(now_utc)
    given = gather(store, at_utc)
    solved = solve(given, limit_s=limit_s, progress=progress)
    words = Words(given, solved.laid, solved.solution)
    made = RoundPlan(
        at_utc, at_utc.astimezone(given.zone).date().isoformat(), HORIZON_D,
        json.dumps(words.reckoning(compare(solved), solved.took_s)),
    )  # fmt: skip
    with store.act("plan rounds", person_id=person_id(store, person)) as act:
        number = act.add(made)
        for (at, day), begins_utc in sorted(solved.begins.items(), key=lambda one: one[1]):
            act.add(PlannedStop(
                number, solved.laid.machines[at].id, solved.laid.days[day].day.isoformat(), begins_utc,
                solved.stop_minutes(at, day), json.dumps(words.tasks(at, day)),
            ))  # fmt: skip
    return replace(made, id=number, act_id=act.id)


def move(
    store: Store, stop: int, to: str, *, reason: str = "", wished_utc: datetime | None = None, person: str | None = None
) -> RoundWish:
    """Ask that a stop be on another day; plan again for the rest to follow. Refuses a day that is gone or too far."""
    at_utc = moment(wished_utc)
    day = day_of(to)
    today = at_utc.astimezone(zone(store)).date()
    if not today <= day < today + timedelta(days=HORIZON_D):
        raise BadInput(
            "day", place=to, expected=f"expected a day from today to {today + timedelta(days=HORIZON_D - 1)}",
            remedy="choose one within the four weeks of the plan",
        )  # fmt: skip
    return _wish(store, stop, "move", day.isoformat(), reason, at_utc, person)


def lock(
    store: Store, stop: int, *, reason: str = "", wished_utc: datetime | None = None, person: str | None = None
) -> RoundWish:
    """Keep a stop on its day with its tasks, however the rest is planned."""
    return _wish(store, stop, "lock", None, reason, moment(wished_utc), person)


def skip(
    store: Store, stop: int, reason: str, *, until: str = "", wished_utc: datetime | None = None,
    person: str | None = None,
) -> RoundWish:  # fmt: skip
    """Leave a stop's tasks out, until a day or for four weeks; refuses without a reason."""
    at_utc = moment(wished_utc)
    text("reason", reason, needed=True)
    today = at_utc.astimezone(zone(store)).date()
    day = day_of(until, "until") if until else today + timedelta(days=HORIZON_D)
    if day <= today:
        raise BadInput("until", place=until, expected="expected a day to come", remedy="correct the day")
    return _wish(store, stop, "skip", day.isoformat(), reason, at_utc, person)


def _wish(
    store: Store, number: int, kind: WishKind, day: str | None, reason: str, at_utc: datetime, person: str | None
) -> RoundWish:
    with store.act(f"{kind} stop", person_id=person_id(store, person)) as act:
        stop, _ = stop_numbered(act, number)
        fittings = json.dumps(sorted(task["fitting_id"] for task in json.loads(stop.tasks)))
        held = RoundWish(stop.machine_id, kind, day or stop.day, fittings, at_utc, text("reason", reason))
        return replace(held, id=act.add(held), act_id=act.id)


def let_go(store: Store, wish: int, *, reason: str = "let go", person: str | None = None) -> RoundWish:
    """Let go what was asked: its tasks are planned freely again, once the rounds are planned anew."""
    with store.act("void", person_id=person_id(store, person), reason=text("reason", reason, needed=True)) as act:
        held = act.one(RoundWish, wish)
        if held is None:
            raise NotFound(
                "wish", place=f"number {wish}", expected="there is none, or it is let go already",
                remedy="list them: `feedwright rounds show`",
            )  # fmt: skip
        act.void(held)
    return held


def wishes_held(store: Store, now_utc: datetime) -> list[tuple[RoundWish, Machine]]:
    """What was asked and is still to come, with its machine."""
    with store.snapshot() as reads:
        known = {machine.id: machine for machine in reads.machines()}
        still = {wish.id: wish for wish in wishes_in_force(reads, now_utc.astimezone(zone(store)).date()).values()}
    return [(wish, known[wish.machine_id]) for wish in still.values() if wish.machine_id in known]


def begin_stop(store: Store, stop: int, *, material: str = "pla", person: str | None = None) -> Visit:
    """Begin the visit of a planned stop."""
    held, _ = stop_numbered(store, stop)
    machine = store.machine(held.machine_id)
    if machine is None:
        raise NotFound("machine", place=f"stop {stop}", expected="it is no longer there", remedy="plan again")
    procedures = list(dict.fromkeys(task["procedure"] for task in json.loads(held.tasks)))
    return begin_visit(store, machine.name, procedures, material=material, person=person)
