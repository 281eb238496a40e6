"""What the farm remembers of its rounds, as values; see :mod:`feedwright.records.values`."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

WishKind = Literal["move", "lock", "skip"]


@dataclass(frozen=True, slots=True)
class BenchHours:
    """When the person is at the bench: on every such weekday, or on one day by itself. The latest of each holds."""

    weekday: int | None
    """0 = Monday ... 6; None where one day is meant."""
    day: str
    """That day as ISO 8601, in the farm's zone; empty where a weekday is meant."""
    begins: str
    """Time of day as HH:MM, in the farm's zone."""
    minutes: float
    """Nought: not at the bench, such as on a holiday."""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class BusyWindow:
    """A time in which a machine cannot be served: a long print, a rush order."""

    machine_id: int
    from_utc: datetime
    until_utc: datetime
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class RoundPlan:
    """One plan of rounds as it was made; the latest holds."""

    made_utc: datetime
    first_day: str
    """ISO 8601, in the farm's zone."""
    days_count: int
    reckoning: str
    """What it costs, its proved gap, what it is compared with and what it leaves out, as JSON."""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class PlannedStop:
    """One machine's visit within a planned round."""

    round_plan_id: int
    machine_id: int
    day: str
    begins_utc: datetime
    minutes: float
    tasks: str
    """What is to be done and why, as JSON."""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class RoundWish:
    """What the user asked of the plan: certain fittings of a machine on a certain day, or not before it."""

    machine_id: int
    kind: WishKind
    day: str
    """Moved to or locked on this day; skipped: left out before it."""
    fittings: str
    """Numbers of the fittings, as JSON list."""
    wished_utc: datetime
    reason: str = ""
    id: int = 0
    act_id: int = 0
