"""Which machine should take which queued print: the machines as they stand, the files held against them, and why."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.dispatch.dispatch_words import Given, OtherMachine, Serviced, other_machine, reasons, serviced
from feedwright.farm.dispatch.stations import Yard, yard_of
from feedwright.farm.ground.settings import figures
from feedwright.farm.outlook.forecasts import refuse_to_wait
from feedwright.farm.outlook.kept import Kept
from feedwright.farm.prints.queue import QueueLine, queue_lines
from feedwright.farm.stores.spools import Enough, lasts
from feedwright.planning.dispatch import DispatchPrices, OtherChoice, Reckoning, Turn
from feedwright.planning.dispatch_search import other_choices, plan
from feedwright.planning.fit import Trouble
from feedwright.records.store import Store
from feedwright.records.values import Machine
from feedwright.units import Money
from feedwright.wear.values import Interval

KEPT_S = 60
"""A plan holds so long at most, for times move on."""
MOST_COPIES = 60
"""So many copies are planned at once: those due first, then as they were queued."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """Some copies of one queued print, one after the other on one machine."""

    line: QueueLine
    machine: Machine
    copies: int
    begins_utc: datetime
    ends_utc: datetime
    now: bool
    """True where the machine stands ready for it."""
    finish: Interval
    """The chance that all of these copies finish as far as the machine's parts go, and its band."""
    late_h: float
    """By how much it would end after it is due."""
    change: bool
    """True where the material is changed for it."""
    cost: Money
    """Expected: spoiled hours and filament, lateness, waiting and changes."""
    spoiled_h: float
    """Machine hours lost on average."""
    why: tuple[str, ...]
    other: OtherMachine | None
    """The next best machine."""
    serviced: tuple[Serviced, ...]
    """What servicing a machine first would change, the most first."""
    troubles: tuple[Trouble, ...]
    """What the reading of the file says against it."""
    spool: Enough

    @property
    def on_spool_frac(self) -> float | None:
        """The chance that they finish with what is on the spool that hangs there; None where that is not known."""
        return None if self.spool.enough_frac is None else self.finish.mid * self.spool.enough_frac


@dataclass(frozen=True, slots=True)
class LeftOver:
    """A queued print that no machine can take, and why, machine by machine."""

    line: QueueLine
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Dispatch:
    """What is proposed for the queue as it stands."""

    at_utc: datetime
    proposals: tuple[Proposal, ...]
    """In the order in which they begin."""
    left_over: tuple[LeftOver, ...]
    unplanned: int
    """Copies beyond those that are planned at once."""
    away: tuple[tuple[Machine, str], ...]
    """Machines that take nothing now, and why."""
    cost: Money
    gap_frac: float
    """By how much of that the plan might be bettered at most."""
    spoiled_h: float


_KEPT = Kept[Dispatch]("plan of the queue", behind=True)
"""What was proposed last."""


def dispatch(store: Store, now_utc: datetime) -> Dispatch:
    """Propose a machine for every queued print, what is due first first; kept until something is recorded.

    On a page of a large farm it is the last plan without what has been begun or taken off since, until the keeper has
    planned anew.
    """
    refuse_to_wait(store)
    made = _KEPT.of(store, now_utc, lambda: _dispatch(store, now_utc), stamp=_stamp(store, now_utc))
    return made if planned_before(store, now_utc) is None else _still_open(store, made)


def planned_before(store: Store, now_utc: datetime) -> datetime | None:
    """When the plan that is shown was made, where something was recorded since; None where it is of now."""
    return _KEPT.out_of_date(store, stamp=_stamp(store, now_utc))


def _stamp(store: Store, now_utc: datetime) -> tuple[int, str, float]:
    return store.latest_act_id(), load_catalogue().digest, now_utc.timestamp() // KEPT_S


def _still_open(store: Store, made: Dispatch) -> Dispatch:
    """A plan without what no longer waits, and without what was to begin on a machine that prints by now."""
    waiting = {line.entry.id: line.left for line in queue_lines(store)}
    busy = {one.machine_id for one in store.open_prints()}
    proposals = (
        one for one in made.proposals
        if waiting.get(one.line.entry.id, 0) >= one.copies and not (one.now and one.machine.id in busy)
    )  # fmt: skip
    left_over = (one for one in made.left_over if waiting.get(one.line.entry.id))
    return replace(made, proposals=tuple(proposals), left_over=tuple(left_over))


def last_proposals(store: Store) -> tuple[Proposal, ...]:
    """What was proposed last for prints that still wait, without working anything out; empty where nothing was."""
    made = _KEPT.last(store)
    if made is None:
        return ()
    left = {line.entry.id for line in queue_lines(store) if line.left}
    return tuple(one for one in made.proposals if one.line.entry.id in left)


def _dispatch(store: Store, now_utc: datetime) -> Dispatch:
    waiting = _first(queue_lines(store))
    unplanned = sum(line.left for line in queue_lines(store)) - sum(copies for _, copies in waiting)
    yard = yard_of(store, waiting, now_utc)
    reckoning = Reckoning([bay.station for bay in yard.bays], [job.asked for job in yard.jobs], prices_of(store))
    made, currency = plan(reckoning), figures(store).currency
    others = other_choices(reckoning, made)
    proposals, before = [], dict[int, list[int]]()
    for turns in grouped(made.turns):
        earlier = before.setdefault(turns[0].station, [])
        proposals.append(_proposal(yard, reckoning, turns, tuple(earlier), others, now_utc, currency))
        earlier.extend(turn.asked for turn in turns)
    left_over = tuple(LeftOver(yard.jobs[one].line, yard.against(yard.jobs[one].line)) for one in made.left_over)
    return Dispatch(
        now_utc, tuple(proposals), left_over, unplanned, yard.away, Money.of(made.cost, currency), made.gap_frac,
        made.spoiled_h,
    )  # fmt: skip


def _first(lines: Sequence[QueueLine]) -> list[tuple[QueueLine, int]]:
    """The prints that are planned, each with so many of its copies."""
    taken: list[tuple[QueueLine, int]] = []
    room = MOST_COPIES
    for line in lines:
        if line.left and room:
            taken.append((line, min(line.left, room)))
            room -= taken[-1][1]
    return taken


def prices_of(store: Store) -> DispatchPrices:
    """What the plan weighs, by the farm's figures."""
    fig = {name: sourced.value for name, sourced in figures(store).numbers.items()}
    minute = (fig["labour_per_h"] + fig["machine_per_h"]) / 60
    change = fig["material_change_minutes"]
    return DispatchPrices(
        machine_per_h=fig["machine_per_h"], clear_up_cost=fig["unplanned_minutes"] * minute,
        change_cost=change * minute, change_h=change / 60, late_per_h=fig["late_per_h"], wait_per_h=fig["wait_per_h"],
    )  # fmt: skip


def grouped(turns: Sequence[Turn]) -> list[list[Turn]]:
    """Turns in the order in which they begin, copies of one print that follow each other on a machine together."""
    last: dict[int, list[Turn]] = {}
    groups: list[list[Turn]] = []
    for turn in turns:
        if turn.station in last and last[turn.station][-1].asked == turn.asked:
            last[turn.station].append(turn)
        else:
            last[turn.station] = [turn]
            groups.append(last[turn.station])
    return groups


def _proposal(
    yard: Yard, reckoning: Reckoning, turns: list[Turn], before: tuple[int, ...],
    others: dict[tuple[int, int], OtherChoice], now_utc: datetime, currency: str,
) -> Proposal:  # fmt: skip
    bay, job = yard.bays[turns[0].station], yard.jobs[turns[0].asked]
    given = Given(bay, turns[0].asked, len(turns), before)
    choice = others.get((turns[0].station, turns[0].asked))
    also = [] if choice is None else [serviced(Given(yard.bays[choice.turn.station], given.job, 1, ()))]
    gains = [one for one in (serviced(given), *also) if one is not None]
    return Proposal(
        line=job.line,
        machine=bay.machine,
        copies=len(turns),
        begins_utc=now_utc + timedelta(hours=max(0.0, turns[0].begins_h)),
        ends_utc=now_utc + timedelta(hours=turns[-1].ends_h),
        now=not before and bay.busy is None and turns[0].begins_h <= reckoning.prices.change_h,
        finish=given.band(),
        late_h=max(0.0, turns[-1].ends_h - job.asked.due_h) if math.isfinite(job.asked.due_h) else 0.0,
        change=turns[0].change,
        cost=Money.of(sum(turn.cost for turn in turns), currency),
        spoiled_h=sum(turn.spoiled_h for turn in turns),
        why=reasons(given, yard, reckoning, turns, job),
        other=None if job.line.placed else other_machine(yard, choice, currency),
        serviced=tuple(sorted(gains, key=lambda one: one.finish_frac - one.serviced_frac)),
        troubles=bay.troubles[turns[0].asked],
        spool=_spool(yard, given),
    )


def _spool(yard: Yard, given: Given) -> Enough:
    """Whether what hangs there lasts these copies, after all that is drawn from it before."""
    bay, material = given.bay, yard.jobs[given.job].line.entry.material
    grams = float(bay.filament_g[given.job]) * given.copies
    before = [one for one in given.before if yard.jobs[one].line.entry.material == material]
    draws_on = None if bay.busy is None else bay.busy.held.spool_id  # the one that hung there as it began
    busy_g = bay.busy_g if bay.spool is not None and bay.spool.spool.id == draws_on else 0.0
    return lasts(bay.spool, bay.machine, grams, busy_g + float(bay.filament_g[before].sum()), material=material)
