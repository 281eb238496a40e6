"""What the API takes, with the unit of each quantity in its name. Times are ISO 8601 and name their zone."""

from typing import Annotated

from pydantic import AwareDatetime, Field

from feedwright.farm.prints.queue import MOST_COPIES
from feedwright.records.values import EventKind, History, RemovalReason, RunOutcome
from feedwright.web.api.base import Given, Number

Name = Annotated[str, Field(min_length=1, max_length=60)]
Word = Annotated[str, Field(max_length=60)]
Note = Annotated[str, Field(max_length=2000)]
MachineName = Annotated[Name, Field(description="The machine's name.", examples=["Larch"])]
PartKindId = Annotated[Name, Field(description="Id of the part kind in the catalogue.", examples=["nozzle"])]
Position = Annotated[int, Field(ge=1, le=100, description="Which one, where a machine has several of the kind.")]
When = Annotated[AwareDatetime | None, Field(description="When it was, with its zone; now where left out.")]
Person = Annotated[
    Name | None, Field(description="Who did it, a person on record; else the token's or the session's person.")
]


class MachineGiven(Given):
    """A machine to describe by a build of the catalogue."""

    name: MachineName
    build: Name = Field(description="Id of the build in the catalogue.", examples=["moving_bed_remote"])
    history: History = "unknown"
    in_service_since: When = None
    note: Note = ""
    person: Person = None


class RunGiven(Given):
    """One printing: of a known toolpath, or of so many hours."""

    machine: MachineName
    material: Name = Field(description="Id of the material in the catalogue.", examples=["pla"])
    toolpath: Annotated[str, Field(max_length=255)] | None = Field(
        None, description="Name of a known toolpath, or how its SHA-256 begins; else give hours."
    )
    hours: float | None = Field(None, ge=0, le=10_000, description="Without a toolpath: how long one copy printed.")
    outcome: RunOutcome = "complete"
    fraction: float | None = Field(None, ge=0, le=1, description="Stopped or spoiled: the share that was done.")
    copies: int = Field(1, ge=1, le=10_000)
    started_utc: When = None
    nozzle_c: float | None = Field(None, description="Where the machine was set otherwise than the file says.")
    filament_g: float | None = Field(None, ge=0, le=100_000)
    note: Note = ""
    person: Person = None


class PrintGiven(Given):
    """A print that begins now, or began."""

    machine: MachineName
    material: Word = Field("", description="Id of the material; may be left out where it comes from the queue.")
    toolpath: Annotated[str, Field(max_length=255)] | None = Field(None, description="As for a run; may be unknown.")
    hours: float | None = Field(None, ge=0, le=10_000)
    copies: int = Field(1, ge=1, le=10_000)
    nozzle_c: float | None = None
    queue_entry: Number | None = Field(None, description="Number of the queue's entry it is for.")
    started_utc: When = None
    note: Note = ""
    person: Person = None


class QueueGiven(Given):
    """A known toolpath that is to be printed."""

    toolpath: Annotated[str, Field(min_length=1, max_length=255)] = Field(
        description="Name of a known toolpath, or how its SHA-256 begins."
    )
    material: Name = Field(description="Id of the material in the catalogue.", examples=["pla"])
    copies: int = Field(1, ge=1, le=MOST_COPIES)
    due_utc: AwareDatetime | None = Field(None, description="Until when, with its zone, where that matters.")
    note: Note = ""
    person: Person = None


class PlaceGiven(Given):
    """The machine that a queued print is put on."""

    machine: Name | None = Field(None, description="The machine's name; none leaves it to the proposal.")
    note: Note = ""
    person: Person = None


class PrintEndGiven(Given):
    """How the print under way on a machine ended."""

    outcome: RunOutcome = "complete"
    fraction: float | None = Field(None, ge=0, le=1, description="Of the whole, all copies; by the clock if left out.")
    looks: list[Word] = Field([], max_length=20, description="Spoiled: ids of observations, how it looked.")
    ended_utc: When = None
    note: Note = ""
    person: Person = None


class FindingGiven(Given):
    """A grade, or a reading with its unit."""

    machine: MachineName
    part: PartKindId
    position: Position = 1
    grade: Word = Field("", description="A grade of that part kind.", examples=["trace"])
    reading: float | None = Field(None, ge=-1e9, le=1e9)
    reading_unit: Word = Field("", description="A unit suffix such as mm, c or n; needed with a reading.")
    found_utc: When = None
    note: Note = ""
    person: Person = None


class RenewalGiven(Given):
    """A part that was renewed."""

    machine: MachineName
    part: PartKindId
    position: Position = 1
    reason: RemovalReason = "worn"
    grade_found: Word = Field("", description="Grade in which the old part was found.")
    product: Word | None = Field(None, description="Id of the product fitted, where it differs.")
    trimmed_mm: float | None = Field(None, ge=0, le=10_000, description="Tube end: how much was cut off.")
    length_mm: float | None = Field(None, ge=0, le=100_000, description="Guide tube: length of the new one.")
    minutes: float | None = Field(None, ge=0, le=100_000)
    renewed_utc: When = None
    note: Note = ""
    person: Person = None


class EventGiven(Given):
    """A power cut, a hot stop, a stalled fan and the like."""

    machine: MachineName
    kind: EventKind
    at_utc: When = None
    nozzle_c: float | None = Field(None, ge=0, le=450, description="Set temperature when it happened.")
    minutes: float | None = Field(None, ge=0, le=100_000)
    material: Word = ""
    note: Note = ""
    person: Person = None


class VoidGiven(Given):
    """Why a record is taken back."""

    reason: Annotated[str, Field(min_length=1, max_length=2000)]
    person: Person = None
