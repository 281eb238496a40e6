"""What was really done in a period against blanket calendars over the very same weeks.

Both sides are priced alike by the farm's figures, so that the difference is one of what was done and not of prices.
Only the feed path is told of: that is what a blanket calendar renews, and the rest would cost the same either way.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import pairwise

import numpy as np

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.figures.policy import CALENDARS, FEED_PATH, drawn_lives
from feedwright.farm.ground.periods import Period, period
from feedwright.farm.ground.settings import figures, zone
from feedwright.farm.outlook.costs import CostOfMachine
from feedwright.farm.outlook.forecasts import costs_of_machines
from feedwright.farm.outlook.kept import Kept
from feedwright.farm.outlook.learning import FarmLives, farm_lives
from feedwright.farm.outlook.stories import before, median_life
from feedwright.farm.parts.renewals import TUBE_END
from feedwright.planning.replay import NEVER, Place, Replayed, replay
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import Fitting, Removal

FARMS, FEWER_FARMS, MANY_PLACES = 400, 100, 600
"""Farms lived through; fewer where there are many places, which even out chance themselves."""
LEAST_WEEKS = min(CALENDARS)
"""A calendar shows itself no sooner than its rounds come round."""
SEED = 1
WEEK = timedelta(weeks=1)
HOW = (
    "What was done: every renewal, failure and look on record in the feed path (drive, tube, hot end), each priced "
    "by the farm's figures.",
    "Instead: the same machines in the same weeks with what they really printed, but all of the feed path renewed "
    "in rounds; a machine that printed nothing since its last round is passed over.",
    "The parts that sat there when the period began last as long as they truly did. How long the parts after them "
    "would have lasted is drawn from what the findings have taught, this period's included.",
    "Rounds may fall on any week of their cycle, and the band holds nine drawn farms in ten. It does not tell how the "
    "prices, or the share of failures that spoil a print, may be off.",
    "It tells what was done, whether or not that was what the bench list advised. A figure below nought says that the "
    "calendar would have cost less.",
)


@dataclass(frozen=True, slots=True)
class Done:
    """What was really done in the feed path."""

    failures: int
    renewals: int
    """Planned ones."""
    looks: int
    cost: float


@dataclass(frozen=True, slots=True)
class Savings:
    """What was done, and what each calendar would have brought instead, the cheapest first."""

    period: Period
    weeks: int
    """Whole weeks of it that are on record."""
    currency: str
    machines: int
    places: int
    farms: int
    """How many were lived through."""
    done: Done
    instead: tuple[Replayed, ...]
    how: tuple[str, ...]

    @property
    def calendar(self) -> Replayed:
        """The cheapest of the blanket calendars: the one worth comparing with."""
        return next(one for one in self.instead if math.isfinite(one.every_weeks))

    @property
    def to_failure(self) -> Replayed:
        """Nothing renewed until it fails."""
        return next(one for one in self.instead if math.isinf(one.every_weeks))


_KEPT = Kept[Savings | None]("savings")
"""By period."""


def savings(
    store: Store, now_utc: datetime, *, since: str | None = None, until: str | None = None, days: int | None = None
) -> Savings | None:
    """What was done against the calendars; None where no part of the feed path printed in that period.

    Kept until something is recorded, and on a page of a large farm a while longer. Refuses a period shorter than the
    shortest calendar.
    """
    span = period(zone(store), now_utc, since=since, until=until, days=days)
    since_utc = _on_record_since(store, span)
    weeks = weeks_on_record(store, span)
    if weeks < LEAST_WEEKS:
        raise BadInput(
            "period", place=f"{span.since} to {span.until}", expected=f"{weeks} weeks are on record in it, and "
            f"the shortest calendar takes {LEAST_WEEKS}", remedy="choose a longer period, or wait",
        )  # fmt: skip
    return _KEPT.of(
        store, now_utc, lambda: _worked_out(store, now_utc, span, since_utc, weeks), stamp=store.latest_act_id(),
        asked=(span.since, span.until),
    )  # fmt: skip


def weeks_on_record(store: Reads, span: Period) -> int:
    """Whole weeks of a period in which there was a machine."""
    return max(0, int((span.until_utc - _on_record_since(store, span)) / WEEK))


def _on_record_since(store: Reads, span: Period) -> datetime:
    return max(span.since_utc, min((one.registered_utc for one in store.machines()), default=span.since_utc))


def _worked_out(store: Store, now_utc: datetime, span: Period, since: datetime, weeks: int) -> Savings | None:
    lives, costs, draw = farm_lives(store), costs_of_machines(store, now_utc), np.random.default_rng(SEED)
    until = since + weeks * WEEK
    firsts = _first_fitted(lives, since, until)
    farms = FARMS if len(firsts) <= MANY_PLACES else FEWER_FARMS
    believed = {kind: lives.life(kind) for kind in {first.part_kind for first in firsts}}
    places = []
    for first in firsts:
        place = _place(first, lives, costs[first.machine_id], since, weeks)
        if place is not None:
            medians, shapes = drawn_lives(believed[first.part_kind], first.machine_id, first.product, draw, farms)
            places.append(replace(place, medians=medians, shapes=shapes))
    if not places:
        return None
    done = _done(store, lives, costs, since, until)
    calendars = [every for every in CALENDARS if every <= weeks]
    instead = [replay(places, every, done.cost, draw) for every in (*calendars, NEVER)]
    return Savings(
        span, weeks, figures(store).currency, len({place.machine for place in places}), len(places), farms, done,
        tuple(sorted(instead, key=lambda one: one.cost.mid)), HOW,
    )  # fmt: skip


def _first_fitted(lives: FarmLives, since: datetime, until: datetime) -> list[Fitting]:
    """The fitting that sat first at each place of the feed path in that time; by machine."""
    kinds, removals = load_catalogue().parts, lives.histories.removals
    first: dict[tuple[int, str, int], Fitting] = {}
    for fitting in sorted(lives.histories.fittings, key=lambda one: (one.machine_id, one.fitted_utc, one.id)):
        removal = removals.get(fitting.id)
        there = fitting.fitted_utc < until and (removal is None or removal.removed_utc > since)
        if there and kinds[fitting.part_kind].place in FEED_PATH:
            first.setdefault((fitting.machine_id, fitting.part_kind, fitting.position), fitting)
    return list(first.values())


def _place(first: Fitting, lives: FarmLives, costs: CostOfMachine, since: datetime, weeks: int) -> Place | None:
    """One place with what it gathered from week to week, no lives drawn yet; None where it gathered nothing."""
    kind, gathered = load_catalogue().parts[first.part_kind], lives.histories.gathered(first)
    begins = [max(first.fitted_utc, since + week * WEEK) for week in range(weeks + 1)]
    weekly = np.array([max(0.0, gathered.between(*ends)) for ends in pairwise(begins)])
    if not weekly.any():
        return None
    removal, last = lives.histories.removals.get(first.id), since + weeks * WEEK
    ended = removal is not None and removal.removed_utc < last
    taken_off = removal.removed_utc if removal is not None and ended else last
    had = before(first, median_life(kind, first.product)).mid
    return Place(
        first.machine_id, weekly, had + max(0.0, gathered.between(first.fitted_utc, begins[0])),
        had + max(0.0, gathered.between(first.fitted_utc, taken_off)),
        removal is not None and ended and removal.reason == "failed", np.empty(0), np.empty(0),
        kind.life.distribution == "lognormal", costs.of(kind),
    )  # fmt: skip


def _done(store: Store, lives: FarmLives, costs: dict[int, CostOfMachine], since: datetime, until: datetime) -> Done:
    """What the records tell, priced as the calendars are; jobs of one machine on one day share a heat-up."""
    failures = renewals = looks = 0
    cost, shared, place = 0.0, defaultdict[tuple[int, date], list[float]](list), zone(store)
    for fitting, removal in _taken_off(lives, since, until):
        held = costs[fitting.machine_id].of(load_catalogue().parts[fitting.part_kind])
        if removal.reason == "failed":
            failures, cost = failures + 1, cost + held.failure
        else:
            renewals, cost = renewals + 1, cost + held.planned
            shared[fitting.machine_id, removal.removed_utc.astimezone(place).date()].append(held.shared)
    for fitting in _looked_at(store, lives, since, until):
        looks, cost = looks + 1, cost + costs[fitting.machine_id].of(load_catalogue().parts[fitting.part_kind]).look
    cost -= sum(sum(saved) - max(saved) for saved in shared.values())
    return Done(failures, renewals, looks, cost)


def _looked_at(store: Store, lives: FarmLives, since: datetime, until: datetime) -> Iterator[Fitting]:
    """Each part of the feed path that was looked at without being renewed."""
    kinds, renewed = load_catalogue().parts, {removal.act_id for removal in lives.histories.removals.values()}
    fittings = {fitting.id: fitting for fitting in lives.histories.fittings}
    for finding in store.findings():
        fitting = fittings.get(finding.fitting_id)
        by_itself = since <= finding.found_utc < until and finding.act_id not in renewed
        if fitting is not None and by_itself and kinds[fitting.part_kind].place in FEED_PATH:
            yield fitting


def _taken_off(lives: FarmLives, since: datetime, until: datetime) -> Iterator[tuple[Fitting, Removal]]:
    """Parts of the feed path that were renewed; the end that goes with its tube costs nothing, nor what was moved."""
    kinds = load_catalogue().parts
    for fitting in lives.histories.fittings:
        removal = lives.histories.removals.get(fitting.id)
        if removal is None or removal.replaced_by is None or not since <= removal.removed_utc < until:
            continue
        along = removal.reason == "retired" and fitting.part_kind == TUBE_END
        if kinds[fitting.part_kind].place in FEED_PATH and not along:
            yield fitting, removal


def calendar_words(one: Replayed) -> str:
    """What a way of keeping is called."""
    if math.isinf(one.every_weeks):
        return "each part only when it fails"
    return f"all of it every {one.every_weeks:g} weeks"


def savings_words(made: Savings) -> Sequence[str]:
    """The comparison in sentences."""
    against, done = made.calendar, made.done
    saved, money = against.saved, made.currency
    if saved.low > 0:
        said = f"What was done cost {saved.mid:,.0f} {money} less ({saved.low:,.0f} to {saved.high:,.0f})"
    elif saved.high < 0:
        said = f"What was done cost {-saved.mid:,.0f} {money} more ({-saved.high:,.0f} to {-saved.low:,.0f})"
    else:
        said = f"What was done cost about as much ({saved.low:+,.0f} to {saved.high:+,.0f} {money} saved)"
    return (
        f"{said} than renewing {calendar_words(against)}, the cheapest of the calendars.",
        f"On record in the feed path: {done.failures} failures, {done.renewals} renewals in good time and "
        f"{done.looks} looks, {done.cost:,.0f} {money} by the farm's figures.",
        f"Renewing {calendar_words(made.to_failure)} would have cost {made.to_failure.cost.mid:,.0f} {money} "
        f"({made.to_failure.cost.low:,.0f} to {made.to_failure.cost.high:,.0f}).",
    )
