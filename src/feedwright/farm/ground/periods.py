"""The span of time that figures are reckoned over, from whole days in the farm's zone."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from feedwright.errors import BadInput
from feedwright.farm.ground.house import AHEAD
from feedwright.farm.ground.naming import within

USUAL_DAYS = 365
CHOICES = (30, 90, 365)
"""Spans of days that a page offers."""


@dataclass(frozen=True, slots=True)
class Period:
    """From the begin of one day to the end of another, or to now with what clocks may differ by.

    ``days`` where it is the last so many.
    """

    since_utc: datetime
    until_utc: datetime
    since: str
    """First day, ISO 8601, in the farm's zone."""
    until: str
    """Last day."""
    days: int | None

    def holds(self, at_utc: datetime) -> bool:
        """True for a moment within it."""
        return self.since_utc <= at_utc < self.until_utc


def period(
    zone: ZoneInfo, now_utc: datetime, *, since: str | None = None, until: str | None = None, days: int | None = None
) -> Period:
    """The days from ``since`` to ``until``, both included; else the last ``days`` up to now.

    Where one end is left out, the other is now, or so many days before.
    """
    if days is not None:
        within("days", days, 1, 36_500)
    if days is not None and since:
        raise BadInput(
            "days", place=str(days), expected="either a first day or a number of days", remedy="leave one of them out"
        )
    today = now_utc.astimezone(zone).date()
    last = _day("until", until) if until else today
    if last > today:
        raise BadInput("until", place=str(last), expected="expected a day up to today", remedy="leave it out for today")
    span = days or USUAL_DAYS
    first = _day("since", since) if since else last - timedelta(days=span - 1)
    if first > last:
        raise BadInput(
            "since",
            place=str(first),
            expected=f"expected a day up to {last}",
            remedy="give an earlier first day, or a later last one",
        )
    end = datetime.combine(last + timedelta(days=1), time(), zone).astimezone(now_utc.tzinfo)
    begin = datetime.combine(first, time(), zone).astimezone(now_utc.tzinfo)
    rolling = None if since or until else span
    return Period(begin, min(end, now_utc + AHEAD), first.isoformat(), last.isoformat(), rolling)


def _day(which: str, given: str) -> date:
    try:
        day = date.fromisoformat(given.strip())
    except ValueError as error:
        raise BadInput(which, place=f"“{given:.40}”", expected="expected a day", remedy="such as 2026-03-01") from error
    if not 2000 <= day.year <= 2200:
        raise BadInput(which, place=f"“{given}”", expected="expected a day since 2000", remedy="correct the year")
    return day
