"""When somebody is at the bench for rounds: hours of weekdays, single days, and times in which machines are busy."""

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from feedwright.errors import BadInput
from feedwright.farm.ground.naming import NAME, nearest, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.prints.prints import under_way
from feedwright.records.reads import Reads
from feedwright.records.rounds_values import BenchHours, BusyWindow
from feedwright.records.store import Store

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
USUAL_BEGIN, USUAL_MIN = "09:00", 120.0
USUAL = tuple(BenchHours(day, "", USUAL_BEGIN, USUAL_MIN, "assumed until hours are said") for day in (0, 2, 4))
"""Monday, Wednesday and Friday (assumed), while nobody has said otherwise."""
DAY_MIN = 1440.0


@dataclass(frozen=True, slots=True)
class RoundDay:
    """A day on which a round may be made."""

    day: date
    begins_utc: datetime
    minutes: float
    note: str = ""

    @property
    def ends_utc(self) -> datetime:
        """When its hours are over."""
        return self.begins_utc + timedelta(minutes=self.minutes)


@dataclass(frozen=True, slots=True)
class Busy:
    """A time in which a machine cannot be served, and why."""

    machine_id: int
    from_utc: datetime
    until_utc: datetime
    why: str
    number: int = 0
    """Of the record; 0 for a print under way."""


def set_hours(
    store: Store, day: str, minutes: float, *, begins: str = USUAL_BEGIN, note: str = "", person: str | None = None
) -> BenchHours:
    """Say how long somebody is at the bench: on every ``monday``, or on one day such as ``2026-12-24``; 0 = not at all.

    Refuses what is no day, no time, or more than reaches until midnight.
    """
    weekday = _weekday(day)
    begun = _time(begins)
    within("minutes at the bench", minutes, 0.0, DAY_MIN - 60 * begun.hour - begun.minute, "min")
    alone = "" if weekday is not None else day_of(day).isoformat()
    held = BenchHours(weekday, alone, f"{begun:%H:%M}", float(minutes), text("note", note, NAME, lines=False))
    with store.act("set bench hours", person_id=person_id(store, person)) as act:
        if weekday is not None and not any(one.weekday is not None for one in act.every(BenchHours)):
            for usual in USUAL:  # what held as long as nobody had said anything goes on for the other weekdays
                act.add(replace(usual, note=""))
        number = act.add(held)
    return replace(held, id=number, act_id=act.id)


def _weekday(word: str) -> int | None:
    known = [number for number, name in enumerate(WEEKDAYS) if len(word) >= 3 and name.startswith(word.casefold())]
    return known[0] if len(known) == 1 else None


def day_of(word: str, what: str = "day") -> date:
    """A day as typed; refuses what is none."""
    try:
        return date.fromisoformat(word)
    except ValueError as error:
        remedy = nearest(word, WEEKDAYS) if word.isalpha() else "write it like 2026-03-01"
        raise BadInput(what, place=f"“{word:.40}”", expected="expected a day or a weekday", remedy=remedy) from error


def _time(word: str) -> time:
    try:
        return time.fromisoformat(word)
    except ValueError as error:
        raise BadInput(
            "time of day", place=f"“{word:.20}”", expected="expected hours and minutes", remedy="write it like 09:00"
        ) from error


def weekday_hours(records: Reads) -> dict[int, BenchHours]:
    """The hours in force by weekday; those assumed where nobody has said anything."""
    said = {held.weekday: held for held in records.every(BenchHours) if held.weekday is not None}
    return dict(sorted(said.items())) or {usual.weekday: usual for usual in USUAL if usual.weekday is not None}


def single_days(records: Reads) -> dict[str, BenchHours]:
    """What was said of single days, the latest of each."""
    return {held.day: held for held in records.every(BenchHours) if held.day}


def round_days(records: Reads, zone: ZoneInfo, now_utc: datetime, days_count: int) -> list[RoundDay]:
    """The days with hours from now on, earliest first; what is gone of today's hours is left out."""
    by_weekday, alone = weekday_hours(records), single_days(records)
    today = now_utc.astimezone(zone).date()
    found = []
    for ahead in range(days_count):
        day = today + timedelta(days=ahead)
        held = alone.get(day.isoformat()) or by_weekday.get(day.weekday())
        if held is not None and held.minutes > 0:
            begins = datetime.combine(day, time.fromisoformat(held.begins), zone)
            found.append(_from(RoundDay(day, begins.astimezone(now_utc.tzinfo), held.minutes, held.note), now_utc))
    return [one for one in found if one.minutes > 0]


def _from(one: RoundDay, now_utc: datetime) -> RoundDay:
    if one.begins_utc >= now_utc:
        return one
    return replace(one, begins_utc=now_utc, minutes=max(0.0, (one.ends_utc - now_utc).total_seconds() / 60))


def add_busy(
    store: Store, machine: str, from_utc: datetime, until_utc: datetime, *, note: str = "", person: str | None = None
) -> BusyWindow:
    """Say that a machine cannot be served for a time, such as a long print or a rush order."""
    whose = machine_named(store, machine)
    refuse_order(from_utc, until_utc)
    held = BusyWindow(whose.id, from_utc, until_utc, text("note", note, lines=False))
    with store.act("machine busy", person_id=person_id(store, person)) as act:
        number = act.add(held)
    return replace(held, id=number, act_id=act.id)


def refuse_order(from_utc: datetime, until_utc: datetime) -> None:
    """Refuses a time that ends before it begins."""
    if until_utc <= from_utc:
        raise BadInput(
            "until", place=f"{until_utc:%Y-%m-%d %H:%M}", expected=f"expected later than {from_utc:%Y-%m-%d %H:%M}",
            remedy="correct one of the two",
        )  # fmt: skip


def busy_times(records: Reads, now_utc: datetime) -> list[Busy]:
    """Times from now on in which machines cannot be served: those said, and prints under way whose end is known."""
    said = [
        Busy(one.machine_id, one.from_utc, one.until_utc, one.note or "busy", one.id)
        for one in records.every(BusyWindow)
        if one.until_utc > now_utc
    ]
    printing = [
        Busy(one.machine.id, now_utc, one.ends_utc, "it prints")
        for one in under_way(records)
        if one.ends_utc is not None and one.ends_utc > now_utc
    ]
    return sorted((*said, *printing), key=lambda one: (one.from_utc, one.machine_id))


def free_stretches(day: RoundDay, busy: list[Busy]) -> list[tuple[datetime, datetime]]:
    """The stretches of a day's hours in which a machine with these busy times can be served."""
    stretches, at = [], day.begins_utc
    for one in sorted(busy, key=lambda held: held.from_utc):
        if one.until_utc <= at or one.from_utc >= day.ends_utc:
            continue
        if one.from_utc > at:
            stretches.append((at, one.from_utc))
        at = max(at, one.until_utc)
    if at < day.ends_utc:
        stretches.append((at, day.ends_utc))
    return stretches
