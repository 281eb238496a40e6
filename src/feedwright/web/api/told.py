"""What the API tells, with the unit of each quantity in its name. Times are ISO 8601 with their zone."""

from datetime import date, datetime
from decimal import Decimal
from typing import Literal

from pydantic import Field

from feedwright.farm.rounds.round_values import StopState
from feedwright.records.values import EventKind, RemovalReason, RunOutcome
from feedwright.toolpath.values import MotionLimits
from feedwright.wear.values import Status
from feedwright.web.api.base import Told


class Money(Told):
    """An amount with its ISO 4217 currency."""

    amount: Decimal
    currency: str


class Band(Told):
    """A value with the band that holds the middle 80 %; null where there is no end to it."""

    low: float | None
    mid: float | None
    high: float | None


class Me(Told):
    """Who asks, as the farm sees it."""

    kind: Literal["here", "session", "device", "nobody"]
    name: str
    scopes: list[str]


class MachineTold(Told):
    """One printer."""

    number: int
    name: str
    build: str
    drive: str
    hot_end: str
    box_mm: tuple[float, float, float]
    tube_needed_mm: float
    enclosure_c: float
    motion: MotionLimits
    registered_utc: datetime
    note: str


class FittingTold(Told):
    """One real part, fitted at one place from a moment until it is taken off."""

    number: int
    machine: str
    part_kind: str
    position: int
    product: str
    fitted_utc: datetime
    history: str
    exposure_before: float
    length_mm: float | None
    label: str


class OutlookTold(Told):
    """The forecast for one fitted part, with its interval and its reasons, and what is advised."""

    machine: str
    fitting: int
    part_kind: str
    position: int
    title: str
    status: Status
    act: Literal["renew", "look"]
    exposure: Band
    exposure_unit: str
    life: Band
    life_source: str
    share_used: Band = Field(description="Exposure over the life believed in; 1 is one whole life.")
    failure_frac_week: float
    failure_frac_month: float
    remaining_printing_h: Band
    remaining_days: Band
    best_in_days: float | None = Field(description="Until the best moment to act; null where there is no date.")
    waiting_cost_week: Money
    because: list[str]


class BenchTold(Told):
    """What to service now, and what comes due next."""

    at_utc: datetime
    machines_count: int
    runs_count: int
    now: list[OutlookTold]
    soon: list[OutlookTold]


class ToolpathTold(Told):
    """A file that was read, known by its content."""

    number: int
    sha256: str
    name: str
    bytes_count: int
    kind: str
    complete: bool
    read_utc: datetime


class RunTold(Told):
    """One printing on one machine."""

    number: int
    machine: str
    started_utc: datetime
    outcome: RunOutcome
    material: str
    toolpath: str | None = Field(description="SHA-256 of the toolpath; null where it was recorded by its hours.")
    fraction: float
    copies: int
    hours: float | None
    nozzle_c: float | None
    filament_g: float | None
    printing_h: float = Field(description="What it is charged with: hours of printing.")
    note: str


class PrintTold(Told):
    """One print that was begun."""

    number: int
    machine: str
    started_utc: datetime
    material: str
    toolpath: str | None
    copies: int
    hours: float | None
    ends_utc: datetime | None = Field(description="When it should end; null where nobody knows.")
    note: str


class QueueTold(Told):
    """One entry of the queue."""

    number: int
    toolpath: str = Field(description="Its SHA-256.")
    toolpath_name: str
    material: str
    copies: int
    done_count: int
    under_way_count: int
    waiting_count: int = Field(description="Copies that wait for a machine; spoiled ones wait again.")
    queued_utc: datetime
    due_utc: datetime | None
    machine: str = Field(description="The machine that a person put it on; empty: as proposed.")
    note: str


class FindingTold(Told):
    """What a person or sensor saw of a part."""

    number: int
    machine: str
    fitting: int
    part_kind: str
    position: int
    found_utc: datetime
    grade: str
    reading: float | None
    reading_unit: str
    note: str


class RenewalTold(Told):
    """The end of one fitting, and what took its place."""

    number: int
    machine: str
    fitting: int
    part_kind: str
    position: int
    removed_utc: datetime
    reason: RemovalReason
    replaced_by: int | None
    trimmed_mm: float | None
    minutes: float | None
    note: str


class EventTold(Told):
    """Something that happened to a machine outside its plain printing."""

    number: int
    machine: str
    kind: EventKind
    at_utc: datetime
    nozzle_c: float | None
    minutes: float | None
    material: str
    note: str


class Voided(Told):
    """What taking a record back did, in words."""

    done: str


class CaseTold(Told):
    """One trouble under investigation."""

    number: int
    label: str
    machine: str = Field(description="Empty where it is somebody else's.")
    opened_utc: datetime
    material: str
    seen: list[str]
    closed_utc: datetime | None
    cause: str
    cure: str


class SuspectTold(Told):
    """One cause that may be at fault."""

    cause: str
    title: str
    chance_frac: float


class CaseSheetTold(CaseTold):
    """One case with what is suspected; the likeliest first."""

    answers: dict[str, str]
    readings: dict[str, float]
    tried: list[str]
    suspects: list[SuspectTold]


class VisitTold(Told):
    """The service done on one machine in one go."""

    number: int
    machine: str
    begun_utc: datetime
    procedures: list[str]
    material: str
    ended_utc: datetime | None
    outcome: str = Field(description="done, given_up, or empty while it is under way.")
    note: str


class ItemTold(Told):
    """One thing kept in the stores."""

    number: int
    name: str
    on_hand_count: int
    on_order_count: int
    counted_utc: datetime | None
    note: str


class SpoolTold(Told):
    """One spool of filament."""

    number: int
    material: str
    label: str
    lot: str
    net_g: float
    drawn_g: float
    left_g: Band = Field(description="Filament left on it.")
    machine: str = Field(description="Where it hangs; empty where it hangs nowhere.")
    place: str
    empty: bool


class TaskTold(Told):
    """One task of a planned stop, and why."""

    fitting: int
    part_kind: str
    title: str
    procedure: str
    because: list[str]


class StopTold(Told):
    """One machine's visit within a planned round."""

    number: int
    machine: str
    day: date
    begins_utc: datetime
    minutes: float
    state: StopState
    tasks: list[TaskTold]


class RoundsTold(Told):
    """The plan of rounds that holds."""

    number: int
    made_utc: datetime
    first_day: date
    days_count: int
    stops: list[StopTold]
