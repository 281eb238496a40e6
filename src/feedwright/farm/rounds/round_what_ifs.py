"""What would be planned under other circumstances. Nothing is recorded."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import pick, pick_entry, within
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.rounds.bench_hours import Busy, day_of, refuse_order
from feedwright.farm.rounds.round_sheets import reckoning_of
from feedwright.farm.rounds.round_solving import Solved, compare, gather, solve
from feedwright.farm.rounds.round_tasks import Given
from feedwright.farm.rounds.round_values import Reckoning, Shift, WhatIf
from feedwright.farm.rounds.round_words import Words
from feedwright.planning.rounds import Progress
from feedwright.planning.rounds_cost import minutes_used
from feedwright.records.store import Store
from feedwright.units import Money

DEAREST = 1e6


@dataclass(frozen=True, slots=True)
class Asked:
    """Other circumstances; several may be asked together."""

    hours_frac: float = 1.0
    """So much of the hours."""
    holidays: tuple[str, ...] = ()
    """Days on which nobody is there."""
    busy: tuple[tuple[str, datetime, datetime], ...] = ()
    """Machine, from, until: a rush order."""
    grades: Mapping[str, str] = field(default_factory=dict)
    """Part kind: the product that is fitted from now on."""
    prices: Mapping[str, float] = field(default_factory=dict)
    """Part kind: what its parts cost for one renewal, in the farm's currency."""


def what_if(
    store: Store, asked: Asked, *, now_utc: datetime | None = None, limit_s: float | None = None,
    progress: Progress | None = None,
) -> WhatIf:  # fmt: skip
    """The plan for things as they are beside the plan under other circumstances; refuses where nothing is asked."""
    given = gather(store, moment(now_utc))
    other, words = _changed(store, given, asked)
    if not words:
        raise BadInput("what-if", expected="say what would be otherwise", remedy="fewer hours, a holiday, a rush order")
    now = solve(given, limit_s=limit_s, progress=progress)
    # the other plan begins from this one, so that nothing shifts without a reason
    then = solve(replace(other, before=_planned(now)), limit_s=limit_s, progress=progress)
    return _beside(given, other, now, then, words)


def _changed(store: Store, given: Given, asked: Asked) -> tuple[Given, list[str]]:
    """The circumstances as asked, and what was asked in words."""
    words: list[str] = []
    days = list(given.days)
    if asked.hours_frac != 1.0:
        within("share of the hours", asked.hours_frac, 0.0, 5.0)
        days = [replace(day, minutes=day.minutes * asked.hours_frac) for day in days]
        words.append(f"{asked.hours_frac:.0%} of the hours")
    for word in asked.holidays:
        day = day_of(word, "holiday")
        if day not in {one.day for one in days}:
            raise BadInput(
                "holiday", place=word, expected="there is no round day then", remedy="name one of the plan's days"
            )
        days = [one for one in days if one.day != day]
        words.append(f"nobody there on {day:%a %d %b}")
    busy = list(given.busy)
    for name, begin, until in asked.busy:
        machine = machine_named(store, name)
        refuse_order(begin, until)
        busy.append(Busy(machine.id, begin, until, "a rush order"))
        words.append(f"{machine.name} busy until {until.astimezone(given.zone):%a %d %b, %H:%M}")
    price_of, life_of, said = _other_parts(given, asked)
    return replace(given, days=days, busy=busy, price_of=price_of, life_of=life_of), words + said


def _other_parts(given: Given, asked: Asked) -> tuple[dict[str, float], dict[str, float], list[str]]:
    """How much dearer each kind's renewal would be, how much longer it would last, and that in words."""
    parts, ratio = load_catalogue().parts, given.figures.numbers["price_ratio"].value
    price_of, life_of, words = dict[str, float](), dict[str, float](), list[str]()
    for word, product_word in asked.grades.items():
        kind = pick_entry(parts, word, "part kind")
        product = pick({one.id: one for one in kind.products}, product_word, "product")
        fitted = {part.fitting.product for part in given.parts if part.kind.id == kind.id}
        plain = [one.life_ratio.value for one in kind.products if one.id in fitted] or [1.0]
        life_of[kind.id] = product.life_ratio.value / (sum(plain) / len(plain))
        if product.price is not None:
            price_of[kind.id] = (product.price.value - kind.renewal.parts_cost.value) * ratio
        words.append(f"{kind.title.lower()}: {product.title.lower()}")
    for word, price in asked.prices.items():
        kind = pick_entry(parts, word, "part kind")
        within(f"price of {kind.title.lower()}", price, 0.0, DEAREST)
        price_of[kind.id] = price - kind.renewal.parts_cost.value * ratio
        words.append(f"{kind.title.lower()} at {Money.of(price, given.figures.currency)}")
    return price_of, life_of, words


def _planned(solved: Solved) -> dict[int, str]:
    """The day of each task in a solved plan; empty = it is left."""
    laid = solved.laid
    return {
        one.id: laid.days[on].day.isoformat() if on >= 0 else ""
        for those, choice in zip(laid.candidates, solved.solution.choices, strict=True)
        for one, on in zip(those, choice, strict=True)
    }


def _beside(given: Given, other: Given, now: Solved, then: Solved, words: Sequence[str]) -> WhatIf:
    first, second = _planned(now), _planned(then)
    named = {
        one.id: (machine.name, one.title)
        for solved in (now, then)
        for machine, those in zip(solved.laid.machines, solved.laid.candidates, strict=True)
        for one in those
    }
    shifts = [
        Shift(*named[key], _day(first.get(key, "")), _day(second.get(key, "")))
        for key in sorted({*first, *second})
        if first.get(key, "") != second.get(key, "")
    ]
    cost_now, cost_then = (solved.solution.cost.total - solved.solution.cost.changes for solved in (now, then))
    noise = sum(solved.solution.gap_frac * solved.solution.cost.total for solved in (now, then))
    minutes = [sum(minutes_used(solved.laid.problem, solved.solution.choices)) for solved in (now, then)]
    rounds = [len({day for _, day in solved.begins}) for solved in (now, then)]
    currency = given.figures.currency
    return WhatIf(
        asked=tuple(words), now=_reckoned(given, now), then=_reckoned(other, then),
        costs_more=Money.of(cost_then - cost_now, currency), noise=Money.of(noise, currency), shifts=tuple(shifts),
        rounds_now=rounds[0], rounds_then=rounds[1], now_minutes=minutes[0], then_minutes=minutes[1],
    )  # fmt: skip


def _reckoned(given: Given, solved: Solved) -> Reckoning:
    """What a plan comes to, without the price on changing: it is held against what is, not against what was."""
    said = Words(given, solved.laid, solved.solution).reckoning(compare(solved), solved.took_s)
    return reckoning_of({**said, "changes": 0.0})


def _day(word: str) -> date | None:
    return date.fromisoformat(word) if word else None
