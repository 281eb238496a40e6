"""Rounds: the plan of the coming weeks, what you ask of it, hours, what-if, the sheet to print and the calendar."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Annotated

from fastapi import APIRouter, Form, Query
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import NotFound
from feedwright.farm.ground.settings import figures, zone
from feedwright.farm.machines.machines import machines
from feedwright.farm.rounds.bench_hours import (
    WEEKDAYS,
    Busy,
    add_busy,
    busy_times,
    set_hours,
    single_days,
    weekday_hours,
)
from feedwright.farm.rounds.round_calendar import rounds_calendar
from feedwright.farm.rounds.round_paper import RoundPaper, paper_pdf, round_paper
from feedwright.farm.rounds.round_sheets import rounds_sheet
from feedwright.farm.rounds.round_tasks import HORIZON_D
from feedwright.farm.rounds.round_values import LeftTask, RoundsSheet, WhatIf
from feedwright.farm.rounds.round_what_ifs import Asked, what_if
from feedwright.farm.rounds.rounds import begin_stop, let_go, lock, move, plan, skip, wishes_held
from feedwright.records.rounds_values import BenchHours, RoundWish
from feedwright.records.store import Store
from feedwright.records.values import Machine
from feedwright.web.fields import local_moment, number_or_none
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()
Text = Annotated[str, Form()]
PAGE_LIMIT_S = 20.0
"""A page waits no longer for a plan; the command may search longer."""


@dataclass(frozen=True, slots=True)
class Week:
    """The rounds of one week, by its Monday."""

    monday: date
    rounds: tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Context:
    """The plan in force, week by week."""

    sheet: RoundsSheet | None
    weeks: list[Week]
    left: list[tuple[str, LeftTask]]
    """With the machine's name."""
    wishes: list[tuple[RoundWish, Machine]]
    first: date
    last: date
    asked: tuple[RoundWish, Machine] | None
    """What was asked just now, to be taken back with one tap."""
    let_go: Machine | None
    """The machine for which something asked was let go just now."""


@dataclass(frozen=True, slots=True)
class HoursContext:
    """When somebody is there, and when machines are not free."""

    weekdays: list[tuple[str, BenchHours | None]]
    days: list[BenchHours]
    busy: list[tuple[Busy, str]]
    machines: list[Machine]


@dataclass(frozen=True, slots=True)
class WhatIfContext:
    """Other circumstances, and what would be planned under them."""

    found: WhatIf | None
    machines: list[Machine]
    kinds: list[PartKind]
    currency: str


@router.get("/rounds")
def show(request: Request, wish: int = 0, let_go: int = 0) -> Response:
    """The plan in force, or how to make the first; ``wish`` and ``let_go`` say what was done just before."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        return answer(request, "rounds", _context(store, wish, let_go))


def _context(store: Store, asked: int, let_go: int) -> Context:
    now = datetime.now(UTC)
    try:
        sheet = rounds_sheet(store, now)
    except NotFound:
        sheet = None
    known = {machine.id: machine for machine in store.machines()}
    wishes = wishes_held(store, now)
    today = now.astimezone(zone(store)).date()
    return Context(
        sheet, [] if sheet is None else list(_weeks(sheet)),
        [] if sheet is None else [(known[one.machine_id].name, one) for one in sheet.left], wishes,
        today, today + timedelta(days=HORIZON_D - 1),
        next((one for one in wishes if one[0].id == asked), None), known.get(let_go),
    )  # fmt: skip


def _weeks(sheet: RoundsSheet) -> Iterable[Week]:
    mondays = sorted({one.day - timedelta(days=one.day.weekday()) for one in sheet.rounds})
    for monday in mondays:
        yield Week(monday, tuple(one for one in sheet.rounds if monday <= one.day < monday + timedelta(days=7)))


@router.post("/rounds/plan")
def plan_anew(request: Request, person: Text = "") -> Response:
    """Plan the coming four weeks."""
    with farm(request) as store:
        made = plan(store, limit_s=PAGE_LIMIT_S, person=person or None)
    return done(request, "/rounds?recorded=rounds", made)


@router.post("/rounds/stops/{number}/move")
def move_stop(request: Request, number: int, day: Text = "", reason: Text = "", person: Text = "") -> Response:
    """Have a stop on another day; the rest is planned around it."""
    with farm(request) as store:
        made = move(store, number, day, reason=reason, person=person or None)
        plan(store, limit_s=PAGE_LIMIT_S)
    return done(request, f"/rounds?wish={made.id}", made)


@router.post("/rounds/stops/{number}/lock")
def lock_stop(request: Request, number: int, person: Text = "") -> Response:
    """Keep a stop on its day."""
    with farm(request) as store:
        made = lock(store, number, person=person or None)
    return done(request, f"/rounds?wish={made.id}", made)


@router.post("/rounds/stops/{number}/skip")
def skip_stop(request: Request, number: int, reason: Text = "", until: Text = "", person: Text = "") -> Response:
    """Leave a stop's tasks out for a while; the rest is planned anew."""
    with farm(request) as store:
        made = skip(store, number, reason, until=until, person=person or None)
        plan(store, limit_s=PAGE_LIMIT_S)
    return done(request, f"/rounds?wish={made.id}", made)


@router.post("/rounds/wishes/{number}/let-go")
def let_wish_go(request: Request, number: int, person: Text = "") -> Response:
    """Take back what was asked; the rounds are planned anew."""
    with farm(request) as store:
        made = let_go(store, number, person=person or None)
        plan(store, limit_s=PAGE_LIMIT_S)
    return done(request, f"/rounds?let_go={made.machine_id}", made)


@router.post("/rounds/stops/{number}/begin")
def begin(request: Request, number: int, person: Text = "") -> Response:
    """Begin the visit of a stop."""
    with farm(request) as store:
        made = begin_stop(store, number, person=person or None)
    return done(request, f"/visits/{made.id}", made)


@router.get("/rounds/hours")
def show_hours(request: Request) -> Response:
    """When somebody is at the bench, and when machines cannot be served."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        by_weekday, names = weekday_hours(store), {machine.id: machine.name for machine in store.machines()}
        busy = [(one, names.get(one.machine_id, "")) for one in busy_times(store, datetime.now(UTC))]
        days = sorted(single_days(store).values(), key=lambda one: one.day)
        weekdays = [(name, by_weekday.get(number)) for number, name in enumerate(WEEKDAYS)]
        return answer(request, "rounds_hours", HoursContext(weekdays, days, busy, machines(store)))


@router.post("/rounds/hours")
def say_hours(
    request: Request, day: Text, hours: Text, begins: Text = "09:00", note: Text = "", person: Text = ""
) -> Response:
    """Say the hours of a weekday or of one day."""
    with farm(request) as store:
        minutes = 60 * (number_or_none("hours", hours) or 0.0)
        made = set_hours(store, day, minutes, begins=begins, note=note, person=person or None)
    return done(request, "/rounds/hours", made)


@router.post("/rounds/busy")
def say_busy(
    request: Request, machine: Text, begins: Text, until: Text, note: Text = "", person: Text = ""
) -> Response:
    """Say that a machine cannot be served for a time."""
    with farm(request) as store:
        now = datetime.now(UTC)
        made = add_busy(
            store, machine, local_moment(store, begins) or now, local_moment(store, until) or now, note=note,
            person=person or None,
        )  # fmt: skip
    return done(request, "/rounds/hours", made)


@router.get("/rounds/what-if")
def ask(
    request: Request, hours: str = "", holiday: str = "", machine: str = "", begins: str = "", until: str = "",
    part: str = "", product: str = "", price: str = "",
) -> Response:  # fmt: skip
    """What would be planned under other circumstances; nothing is recorded."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        asked = _asked(store, hours, holiday, machine, begins, until, part, product, price)
        found = None if asked is None else what_if(store, asked, limit_s=PAGE_LIMIT_S / 2)
        kinds = list(load_catalogue().parts.values())
        return answer(
            request, "rounds_what_if", WhatIfContext(found, machines(store), kinds, figures(store).currency)
        )  # fmt: skip


def _asked(
    store: Store, hours: str, holiday: str, machine: str, begins: str, until: str, part: str, product: str, price: str
) -> Asked | None:
    """What a form asks; None where nothing was filled in."""
    percent, cost = number_or_none("hours", hours), number_or_none("price", price)
    now = datetime.now(UTC)
    begin, end = local_moment(store, begins) or now, local_moment(store, until)
    asked = Asked(
        1.0 if percent is None else percent / 100,
        (holiday,) if holiday else (),
        ((machine, begin, end),) if machine and end is not None else (),
        {part: product} if part and product else {},
        {part: cost} if part and cost is not None else {},
    )  # fmt: skip
    return None if asked == Asked() else asked


@router.get("/rounds/sheet")
def sheet(request: Request, day: str = "") -> Response:
    """The sheet of one round, or of all, for printing from the browser."""
    with farm(request) as store:
        return answer(request, "rounds_sheet", _Paper(round_paper(store, datetime.now(UTC), day), day))


@dataclass(frozen=True, slots=True)
class _Paper:
    """Sheets for printing."""

    held: RoundPaper
    day: str


@router.get("/rounds/sheet.pdf")
def sheet_pdf(request: Request, day: Annotated[str, Query()] = "", paper: str = "a4") -> Response:
    """The same as PDF."""
    with farm(request) as store:
        made = paper_pdf(round_paper(store, datetime.now(UTC), day), paper=paper)
    name = f"rounds-{day}.pdf" if day else "rounds.pdf"
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    return Response(made, media_type="application/pdf", headers=headers)


@router.get("/rounds.ics")
def calendar(request: Request) -> Response:
    """The rounds as an iCalendar feed."""
    with farm(request) as store:
        made = rounds_calendar(store, datetime.now(UTC))
    return Response(made, media_type="text/calendar; charset=utf-8; component=vevent")
