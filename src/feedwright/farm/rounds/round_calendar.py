"""The planned rounds as an iCalendar feed (RFC 5545), for whatever calendar the person keeps."""

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from uuid import NAMESPACE_OID, uuid5

from feedwright import __version__
from feedwright.farm.ground.settings import farm_name, zone
from feedwright.farm.rounds.round_sheets import rounds_sheet
from feedwright.farm.rounds.round_values import Round
from feedwright.records.reads import Reads
from feedwright.records.rounds_values import PlannedStop, RoundPlan
from feedwright.records.store import Store
from feedwright.units import show_duration

REFRESH = timedelta(hours=12)
"""How often a calendar may ask again (RFC 7986, 5.7)."""


def rounds_calendar(store: Store, now_utc: datetime) -> bytes:
    """One event a round, times in UTC. An event keeps its UID as long as there is a round on its day.

    SEQUENCE is the number of the plan in which the round last changed, so that it never falls.
    """
    from icalendar import Calendar, Event

    sheet = rounds_sheet(store, now_utc)
    changed, farm = _last_changed(store), _farm_mark(store)
    calendar = Calendar()
    calendar.add("prodid", f"-//Feedwright//Rounds {__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", f"{farm_name(store)}: rounds of service")
    calendar.add("refresh-interval", REFRESH, parameters={"value": "DURATION"})
    for one in sheet.rounds:
        plan = changed[one.day.isoformat()]
        event = Event()
        event.add("uid", str(uuid5(NAMESPACE_OID, f"{farm} {one.day.isoformat()}")))
        event.add("dtstamp", plan.made_utc.astimezone(UTC))
        event.add("last-modified", plan.made_utc.astimezone(UTC))
        event.add("sequence", plan.id)
        event.add("dtstart", one.begins_utc.astimezone(UTC).replace(microsecond=0))
        event.add("dtend", _end(one))
        event.add("summary", _summary(one))
        event.add("description", _description(one, zone(store)))
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _end(one: Round) -> datetime:
    return one.begins_utc.astimezone(UTC).replace(microsecond=0) + timedelta(minutes=max(1, round(one.minutes)))


def _summary(one: Round) -> str:
    names = [stop.machine.name for stop in one.stops]
    shown = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
    return f"Round of service: {shown}"


def _description(one: Round, place: object) -> str:
    lines = [f"{show_duration(60 * one.minutes)} at the bench."]
    for stop in one.stops:
        begins = stop.begins_utc.astimezone(place)  # type: ignore[arg-type]
        lines.append(f"{begins:%H:%M} {stop.machine.name}: {', '.join(task.title for task in stop.tasks)}")
    return "\n".join(lines)


def _farm_mark(records: Reads) -> str:
    """What tells this farm from all others, through backups and restores: the moment of its first act."""
    first = records.one_act(1)
    return "" if first is None else first.at_utc.isoformat()


def _last_changed(records: Reads) -> dict[str, RoundPlan]:
    """For each day of the plan in force, the plan since which its round has stayed the same."""
    plans = sorted(records.every(RoundPlan), key=lambda plan: plan.id)
    since: dict[str, tuple[object, RoundPlan]] = {}
    for plan in plans:
        by_day: dict[str, list[PlannedStop]] = {}
        for stop in records.every(PlannedStop, round_plan_id=plan.id):
            by_day.setdefault(stop.day, []).append(stop)
        since = {
            day: since[day] if day in since and since[day][0] == _mark(stops) else (_mark(stops), plan)
            for day, stops in by_day.items()
        }
    return {day: plan for day, (_, plan) in since.items()}


def _mark(stops: Sequence[PlannedStop]) -> list[object]:
    """What is said of a round, without why."""
    return [
        (stop.machine_id, stop.begins_utc, stop.minutes, [task["fitting_id"] for task in json.loads(stop.tasks)])
        for stop in sorted(stops, key=lambda stop: (stop.begins_utc, stop.machine_id))
    ]
