"""``feedwright rounds``: the visits of the coming weeks, planned together and around what you ask for."""

import textwrap
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, Note, Who, farm, now, out, progress, show_time, table
from feedwright.errors import BadInput
from feedwright.units import show_duration

if TYPE_CHECKING:
    from feedwright.farm.rounds.round_paper import RoundPaper
    from feedwright.farm.rounds.round_values import Reckoning, RoundsSheet, WhatIf
    from feedwright.records.store import Store

rounds = typer.Typer(help="Plan the service of the coming weeks.", no_args_is_help=True, rich_markup_mode=None)
hours = typer.Typer(help="When somebody is at the bench.", no_args_is_help=True, rich_markup_mode=None)
busy = typer.Typer(help="Times in which machines cannot be served.", no_args_is_help=True, rich_markup_mode=None)
WIDTH = 78
StopNumber = Annotated[int, typer.Argument(help="Number of the stop, as `rounds show` tells it.", show_default=False)]
Reason = Annotated[str, typer.Option("--reason", help="Why.")]
Limit = Annotated[float | None, typer.Option("--limit-s", min=1, help="How long to search, in seconds.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    rounds.add_typer(hours, name="hours")
    rounds.add_typer(busy, name="busy")
    app.add_typer(rounds, name="rounds")


@rounds.command("plan")
def plan(limit_s: Limit = None, who: Who = None, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Plan the rounds of the coming four weeks, and keep the plan."""
    from feedwright.farm.rounds.round_sheets import rounds_sheet
    from feedwright.farm.rounds.rounds import plan as plan_rounds

    with farm(folder) as store, progress("Planning", as_json=as_json) as told:
        plan_rounds(store, limit_s=limit_s, person=who, progress=told)
        sheet = rounds_sheet(store, now())
        lines = list(_sheet_lines(store, sheet))
    out(sheet, lines, as_json=as_json)


@rounds.command("show")
def show(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """The plan in force, with the reason of every choice."""
    from feedwright.farm.rounds.round_sheets import rounds_sheet

    with farm(folder) as store:
        sheet = rounds_sheet(store, now())
        lines = list(_sheet_lines(store, sheet))
    out(sheet, lines, as_json=as_json)


def _sheet_lines(store: "Store", sheet: "RoundsSheet") -> Iterator[str]:
    from feedwright.farm.ground.settings import zone
    from feedwright.farm.rounds.rounds import wishes_held

    place = zone(store)
    yield f"Rounds planned {show_time(store, sheet.made_utc)}"
    yield from _reckoning_lines(sheet.reckoning)
    yield from (line for note in sheet.notes for line in _wrapped(f"Note: {note}", "      "))
    if sheet.stale:
        yield "Something was recorded since: plan again to take it in."
    if not sheet.rounds:
        yield "Nothing is worth a round."
    for one in sheet.rounds:
        yield ""
        times = f"{show_duration(60 * one.minutes)} of {show_duration(60 * one.hours_minutes)}"
        yield f"{one.day:%a %d %b %Y} from {one.begins_utc.astimezone(place):%H:%M}: {times}"
        for stop in one.stops:
            held = {"move": ", moved by you", "lock": ", locked by you"}.get(stop.held_by or "", "")
            state = "" if stop.state == "planned" else f", {stop.state}"
            yield (
                f"  [{stop.number}] {stop.begins_utc.astimezone(place):%H:%M} {stop.machine.name}, "
                f"{show_duration(60 * stop.minutes)}{held}{state}"
            )
            for task in stop.tasks:
                stock = f" ({task.stock})" if task.stock else ""
                yield from _wrapped(f"      - {task.title}{stock}", "        ")
                yield from (line for why in task.because for line in _wrapped(f"        {why}", "          "))
    for wish, machine in wishes_held(store, now()):
        reason = f": {wish.reason}" if wish.reason else ""
        yield f"asked, number {wish.id}: {machine.name}, {wish.kind} {wish.day}{reason}"
    if sheet.left:
        yield f"Left for later: {len(sheet.left)} tasks; `--json` lists them with the reasons."


def _reckoning_lines(held: "Reckoning") -> Iterator[str]:
    yield (
        f"  costs {held.total}: timing {held.timing}, bench {held.bench}, visits still to come {held.later}"
        + (f", changes {held.changes}" if held.changes.amount else "")
    )
    yield f"  at most {held.gap_frac:.2%} of it could still be saved (proved); searched {held.took_s:.1f} s"
    yield f"  each task alone when due: {held.when_due}; everything once a month: {held.monthly}"


def _wrapped(words: str, indent: str) -> Iterator[str]:
    yield from textwrap.wrap(words, WIDTH, subsequent_indent=indent)


@rounds.command("move")
def move(
    stop: StopNumber,
    to: Annotated[str, typer.Argument(help="The day, such as 2026-03-01.", show_default=False)],
    reason: Reason = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Have a stop on another day.

    `rounds plan` then plans the rest around it.
    """
    from feedwright.farm.rounds.rounds import move as move_stop

    with farm(folder) as store:
        made = move_stop(store, stop, to, reason=reason, person=who)
    out(made, [f"Asked, number {made.id}: on {made.day}. Plan again: `feedwright rounds plan`."], as_json=as_json)


@rounds.command("lock")
def lock(
    stop: StopNumber, reason: Reason = "", who: Who = None, as_json: AsJson = False, folder: FarmFolder = None
) -> None:
    """Keep a stop on its day with its tasks.

    However the rest is planned.
    """
    from feedwright.farm.rounds.rounds import lock as lock_stop

    with farm(folder) as store:
        made = lock_stop(store, stop, reason=reason, person=who)
    out(made, [f"Asked, number {made.id}: locked on {made.day}."], as_json=as_json)


@rounds.command("skip")
def skip(
    stop: StopNumber,
    reason: Annotated[str, typer.Option("--reason", help="Why; needed.")] = "",
    until: Annotated[str, typer.Option("--until", help="Until which day; else four weeks.")] = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Leave a stop's tasks out for a while."""
    from feedwright.farm.rounds.rounds import skip as skip_stop

    with farm(folder) as store:
        made = skip_stop(store, stop, reason, until=until, person=who)
    out(made, [f"Asked, number {made.id}: left out until {made.day}. Plan again for the rest."], as_json=as_json)


@rounds.command("let-go")
def let_go(
    wish: Annotated[int, typer.Argument(help="Number of what was asked.", show_default=False)],
    reason: Reason = "let go",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Take back a move, lock or skip.

    Its tasks are planned freely again.
    """
    from feedwright.farm.rounds.rounds import let_go as let_wish_go

    with farm(folder) as store:
        made = let_wish_go(store, wish, reason=reason, person=who)
    out(made, [f"{wish} is let go. Plan again: `feedwright rounds plan`."], as_json=as_json)


@rounds.command("begin")
def begin(
    stop: StopNumber,
    material: Annotated[str, typer.Option("--material", help="Material in the path.")] = "pla",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Begin the visit of a planned stop."""
    from feedwright.farm.rounds.rounds import begin_stop

    with farm(folder) as store:
        made = begin_stop(store, stop, material=material, person=who)
    out(made, [f"Visit {made.id} is begun: `feedwright visit show {made.id}`."], as_json=as_json)


@hours.command("set")
def set_hours(
    day: Annotated[str, typer.Argument(help="A weekday such as monday, or a day such as 2026-12-24.")],
    minutes: Annotated[float, typer.Argument(min=0, help="Minutes at the bench; 0 = not there.")],
    begins: Annotated[str, typer.Option("--from", help="Time of day at which they begin.")] = "09:00",
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Say the hours of a weekday, or of one day by itself (a holiday: 0)."""
    from feedwright.farm.rounds.bench_hours import set_hours as set_bench_hours

    with farm(folder) as store:
        made = set_bench_hours(store, day, minutes, begins=begins, note=note, person=who)
    out(made, [f"{day}: {show_duration(60 * made.minutes)} from {made.begins}."], as_json=as_json)


@hours.command("list")
def list_hours(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """The hours in force."""
    from feedwright.farm.rounds.bench_hours import WEEKDAYS, single_days, weekday_hours

    with farm(folder) as store:
        held = [*weekday_hours(store).values(), *single_days(store).values()]
    rows = [
        (one.day or WEEKDAYS[one.weekday or 0], one.begins, show_duration(60 * one.minutes), one.note) for one in held
    ]
    out(held, table(("day", "from", "for", "note"), rows), as_json=as_json)


@busy.command("add")
def add_busy(
    machine: Annotated[str, typer.Argument(help="The machine's name.", show_default=False)],
    begin_at: Annotated[str, typer.Argument(metavar="FROM", help="Such as 2026-03-01T14:00, in the farm's zone.")],
    until: Annotated[str, typer.Argument(help="The same.")],
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Say that a machine is busy for a time.

    A long print, a rush order; prints under way count by themselves.
    """
    from feedwright.farm.rounds.bench_hours import add_busy as add_busy_time

    with farm(folder) as store:
        made = add_busy_time(
            store, machine, _time(store, begin_at), _time(store, until), note=note, person=who
        )  # fmt: skip
        lines = [f"Busy window {made.id} is on record, until {show_time(store, made.until_utc)}."]
    out(made, lines, as_json=as_json)


@busy.command("list")
def list_busy(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Machines that are or will be busy, and why."""
    from feedwright.farm.rounds.bench_hours import busy_times

    with farm(folder) as store:
        held, names = busy_times(store, now()), {machine.id: machine.name for machine in store.machines()}
        rows = [
            (str(one.number or ""), names.get(one.machine_id, ""), show_time(store, one.from_utc),
             show_time(store, one.until_utc), one.why)
            for one in held
        ]  # fmt: skip
    out(held, table(("number", "machine", "from", "until", "why"), rows), as_json=as_json)


def _time(store: "Store", given: str) -> datetime:
    """A time as typed, past or to come, in the farm's zone where it names none."""
    from feedwright.farm.ground.settings import zone

    try:
        at = datetime.fromisoformat(given)
    except ValueError as error:
        raise BadInput(
            "time", place=f"“{given:.40}”", expected="expected a date and time", remedy="write it like 2026-03-01T14:00"
        ) from error
    return at if at.tzinfo else at.replace(tzinfo=zone(store))


@rounds.command("sheet")
def sheet(
    to: Annotated[Path | None, typer.Option("--to", help="Write it as PDF into this file.")] = None,
    day: Annotated[str, typer.Option("--day", help="Only the round of this day.")] = "",
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """The sheet to take along, to print.

    Parts, tools, and what to tick off at each machine.
    """
    from feedwright.farm.rounds.round_paper import paper_pdf, round_paper

    with farm(folder) as store:
        held = round_paper(store, now(), day)
    if to is None:
        out(held, _paper_lines(held), as_json=as_json)
        return
    to.write_bytes(paper_pdf(held, paper=paper))
    out({"file": str(to), "rounds": len(held.rounds)}, [f"{to} holds {len(held.rounds)} rounds."], as_json=as_json)


def _paper_lines(held: "RoundPaper") -> Iterator[str]:
    for one in held.rounds:
        yield f"{one.round.day:%A %d %B %Y}"
        parts = ", ".join(f"{count} x {part}" for part, count in one.parts)
        yield from _wrapped(f"  parts: {parts or 'none'}", "    ")
        yield from _wrapped("  tools: " + ", ".join(one.tools), "    ")
        for stop in one.stops:
            yield f"  [ ] {stop.stop.begins_utc.astimezone(held.zone):%H:%M} {stop.stop.machine.name}"
            yield from (f"      [ ] {task.title}" for task in stop.stop.tasks)


@rounds.command("calendar")
def calendar(
    to: Annotated[Path | None, typer.Option("--to", help="Write it into this file.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """The rounds for a calendar, as iCalendar (RFC 5545)."""
    from feedwright.farm.rounds.round_calendar import rounds_calendar

    with farm(folder) as store:
        made = rounds_calendar(store, now())
    text = made.decode()
    if to is None:
        out({"calendar": text}, [text.replace("\r\n", "\n").rstrip()], as_json=as_json)
        return
    to.write_bytes(made)
    out({"file": str(to)}, [f"{to} is written."], as_json=as_json)


@rounds.command("what-if")
def what_if(
    hours_percent: Annotated[float, typer.Option("--hours-percent", min=0, help="So much of the hours.")] = 100.0,
    holiday: Annotated[
        list[str] | None, typer.Option("--holiday", help="Nobody is there that day; repeatable.")
    ] = None,
    rush: Annotated[
        list[str] | None, typer.Option("--rush", help="MACHINE=FROM/UNTIL: a rush order keeps it busy; repeatable.")
    ] = None,
    grade: Annotated[list[str] | None, typer.Option("--grade", help="PART=PRODUCT fitted from now on.")] = None,
    price: Annotated[list[str] | None, typer.Option("--price", help="PART=PRICE of one renewal's parts.")] = None,
    limit_s: Limit = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What would be planned otherwise.

    For fewer hours, a holiday, a rush order, other parts; records nothing.
    """
    from feedwright.farm.rounds.round_what_ifs import Asked
    from feedwright.farm.rounds.round_what_ifs import what_if as ask

    with farm(folder) as store, progress("Planning twice", as_json=as_json) as told:
        spans = [(name, *_span(store, span)) for name, span in (_pair("--rush", one) for one in rush or ())]
        asked = Asked(
            hours_percent / 100, tuple(holiday or ()), tuple(spans), dict(_pair("--grade", one) for one in grade or ()),
            {part: _price(part, given) for part, given in (_pair("--price", one) for one in price or ())},
        )  # fmt: skip
        found = ask(store, asked, limit_s=limit_s, progress=told)
    out(found, _what_if_lines(found), as_json=as_json)


def _pair(option: str, given: str) -> tuple[str, str]:
    name, mark, value = given.rpartition("=")
    if not mark or not name or not value:
        raise BadInput(
            option, place=f"“{given:.40}”", expected="expected two words with = between", remedy="see --help"
        )
    return name, value


def _span(store: "Store", given: str) -> tuple[datetime, datetime]:
    begin, _, until = given.partition("/")
    return _time(store, begin), _time(store, until)


def _price(part: str, given: str) -> float:
    try:
        return float(given)
    except ValueError as error:
        raise BadInput(
            f"--price {part}", place=f"“{given:.40}”", expected="expected a number", remedy="such as 12.5"
        ) from error


def _what_if_lines(found: "WhatIf") -> Iterator[str]:
    yield f"If: {'; '.join(found.asked)}"
    yield f"  now:  {found.now.total}, {found.rounds_now} rounds, {show_duration(60 * found.now_minutes)}"
    yield f"  then: {found.then.total}, {found.rounds_then} rounds, {show_duration(60 * found.then_minutes)}"
    yield f"  costs {found.costs_more} more; below {found.noise} that may be nothing but the gaps of the two searches"
    for shift in found.shifts:
        ways = [f"{day:%a %d %b}" if day else "later" for day in (shift.from_day, shift.to_day)]
        yield f"  {shift.machine}: {shift.title}, {ways[0]} -> {ways[1]}"
