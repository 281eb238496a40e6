"""Plans of rounds as pages and commands show them."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from feedwright.records.rounds_values import RoundPlan, WishKind
from feedwright.records.values import Machine
from feedwright.units import Money

StopState = Literal["planned", "under way", "done", "missed"]


@dataclass(frozen=True, slots=True)
class PlannedTask:
    """One task of a planned stop."""

    fitting_id: int
    part_kind: str
    title: str
    """'trim the tube end', or 'look at the belt'."""
    procedure: str
    """Catalogue id of the procedure that does it."""
    because: tuple[str, ...]
    stock: str
    """Whether its part is there, in words; empty where it takes none."""


@dataclass(frozen=True, slots=True)
class LeftTask:
    """One task that is left for after the plan, and why."""

    fitting_id: int
    machine_id: int
    part_kind: str
    title: str
    because: str
    due: bool = False
    """True where the bench list calls for it now."""


@dataclass(frozen=True, slots=True)
class InPlan:
    """What the plan of rounds in force does with one fitting."""

    begins_utc: datetime | None
    """When the stop begins that serves it; None = it is left for later."""
    because: str
    missed: bool = False
    """True where that stop went by."""


@dataclass(frozen=True, slots=True)
class Stop:
    """One machine's visit within a round."""

    number: int
    machine: Machine
    begins_utc: datetime
    minutes: float
    tasks: tuple[PlannedTask, ...]
    held_by: WishKind | None
    """Whether you moved or locked it."""
    state: StopState
    visit_id: int | None
    """The visit that does or did it."""


@dataclass(frozen=True, slots=True)
class Round:
    """The stops of one day."""

    day: date
    begins_utc: datetime
    minutes: float
    """What it takes, itself included."""
    hours_minutes: float
    """What there was when it was planned."""
    hour_price: Money
    """What one more hour on that day would save."""
    stops: tuple[Stop, ...]


@dataclass(frozen=True, slots=True)
class Reckoning:
    """What a plan costs, of what, and what it is held against."""

    total: Money
    timing: Money
    """Doing tasks early or late, what is left included."""
    bench: Money
    """Minutes of rounds and visits."""
    later: Money
    """Minutes of the visits that are left for after it."""
    changes: Money
    """The price on leaving the plan before."""
    gap_frac: float
    """At most so much of the total could still be saved; proved."""
    when_due: Money
    """Each task by itself when due."""
    monthly: Money
    """Everything at once, once a month."""
    took_s: float


@dataclass(frozen=True, slots=True)
class RoundsSheet:
    """A plan as it stands."""

    plan: RoundPlan
    made_utc: datetime
    reckoning: Reckoning
    rounds: tuple[Round, ...]
    left: tuple[LeftTask, ...]
    notes: tuple[str, ...]
    stale: bool
    """True where something was recorded since it was made."""


@dataclass(frozen=True, slots=True)
class Shift:
    """One task that a changed plan does at another time."""

    machine: str
    title: str
    from_day: date | None
    """None = it was left for later."""
    to_day: date | None


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What would be planned under other circumstances, beside the plan for things as they are."""

    asked: tuple[str, ...]
    now: Reckoning
    then: Reckoning
    costs_more: Money
    """Total then, less total now."""
    noise: Money
    """A difference smaller than this may be nothing but the gaps of the two plans."""
    shifts: tuple[Shift, ...]
    rounds_now: int
    rounds_then: int
    now_minutes: float
    then_minutes: float
