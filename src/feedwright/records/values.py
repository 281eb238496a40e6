"""What the farm remembers, as values. Each is written once and never edited; a mistake is voided.

Every value carries ``id`` (0 before it is stored) and, once stored, ``act_id``: the act that wrote it.
Times are aware UTC.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from feedwright.toolpath.values import MotionLimits, Stretch

RunOutcome = Literal["complete", "stopped", "spoiled"]
History = Literal["new", "used", "unknown"]
RemovalReason = Literal["failed", "worn", "sound", "moved", "retired"]
EventKind = Literal["power_cut", "hot_stop", "fan_stall", "jam", "slip", "collision", "stored", "returned", "note"]


CaseEntryKind = Literal["fact", "answer", "reading", "tried", "state"]
VisitEntryKind = Literal["cautions", "done", "skipped", "paused", "resumed"]
VisitOutcome = Literal["done", "given_up"]


@dataclass(frozen=True, slots=True)
class Act:
    """One thing a person did: every record hangs on the act that wrote it, and on the one that voided it."""

    id: int
    kind: str
    at_utc: datetime
    person_id: int | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Touched:
    """What an act wrote or voided in one table: the first record's number, and how many records it were."""

    table: str
    first: int
    many: int


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who keeps the machines."""

    name: str
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Machine:
    """One printer: how it is built, its box and limits."""

    name: str
    build: str
    """Catalogue id of the build it was described by."""
    drive: Literal["remote", "direct"]
    hot_end: Literal["lined", "all_metal"]
    box_mm: tuple[float, float, float]
    motion: MotionLimits
    registered_utc: datetime
    tube_needed_mm: float = 0.0
    """Least guide tube that still reaches the far corners; 0 for a direct drive."""
    enclosure_c: float = 22.0
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Fitting:
    """One real part, fitted at one place on one machine, from a moment until it is taken off."""

    machine_id: int
    part_kind: str
    position: int
    """1, 2, ... where a machine has several of the kind."""
    product: str
    fitted_utc: datetime
    history: History = "new"
    exposure_before: float = 0.0
    """What it had been through when it was fitted or registered, where that is known or estimated."""
    length_mm: float | None = None
    """Tubes: length as fitted."""
    label: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Removal:
    """The end of a fitting, and what took its place. Renewing a part is a removal with a replacement."""

    fitting_id: int
    removed_utc: datetime
    reason: RemovalReason
    replaced_by: int | None = None
    trimmed_mm: float | None = None
    """Tube ends: how much was cut off the guide tube."""
    minutes: float | None = None
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Toolpath:
    """A file that was read: known by its content, whatever it is called today."""

    sha256: str
    name: str
    bytes_count: int
    kind: str
    complete: bool
    read_utc: datetime
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Run:
    """One printing on one machine: of a toolpath, or without a file of so many hours.

    ``fraction`` is the share of the toolpath's time that was done (1 when complete); ``copies`` how often
    the toolpath was printed one after the other.
    """

    machine_id: int
    started_utc: datetime
    outcome: RunOutcome
    material: str
    toolpath_id: int | None = None
    fraction: float = 1.0
    copies: int = 1
    hours: float | None = None
    """Without a toolpath: how long one copy printed."""
    nozzle_c: float | None = None
    """Without a toolpath, or where the machine was set otherwise than the file says."""
    filament_g: float | None = None
    """Without a toolpath: what one copy used, where known."""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to a machine outside its plain printing."""

    machine_id: int
    kind: EventKind
    at_utc: datetime
    nozzle_c: float | None = None
    """Set temperature when it happened."""
    minutes: float | None = None
    """How long it lasted, where that is known."""
    material: str = ""
    note: str = ""
    stretch: Stretch | None = None
    """What its heat did to the machine, as a stretch of printing that wears alike; None where nothing was reckoned."""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Finding:
    """What a person or a sensor saw of a fitting: a grade, or a reading with its unit."""

    fitting_id: int
    found_utc: datetime
    grade: str = ""
    """Grade id of the part kind; empty for a bare reading."""
    reading: float | None = None
    reading_unit: str = ""
    """A unit suffix: 'c', 'mm', 'n'."""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Setting:
    """One of the farm's own figures or choices; the latest of a name holds."""

    name: str
    value: str
    """JSON text."""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class ExposureTotal:
    """A fitting's exposure since it was fitted, in billionths of its unit, under one wear law. Not a record."""

    law_key: str
    exposure_nano: int
    charges: int


@dataclass(frozen=True, slots=True)
class Case:
    """One trouble under investigation, on an own machine or on one never seen."""

    opened_utc: datetime
    label: str = ""
    """A free word to know it by; nothing personal is asked for."""
    machine_id: int | None = None
    """None for somebody else's machine."""
    drive: Literal["remote", "direct", ""] = ""
    """Somebody else's machine: how it is built; empty = not known."""
    hot_end: Literal["lined", "all_metal", ""] = ""
    material: str = ""
    """Catalogue id of the material printed; empty = not known."""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class CaseEntry:
    """One thing told of a case: the latest of its kind and name counts."""

    case_id: int
    told_utc: datetime
    kind: CaseEntryKind
    name: str
    """Catalogue id of the circumstance, observation, reading or repair."""
    value: str
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class CaseEnding:
    """How a case ended: the cause that was found and the repair that cured it; empty where nobody found out."""

    case_id: int
    ended_utc: datetime
    cause: str = ""
    cure: str = ""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Visit:
    """The service done on one machine in one go."""

    machine_id: int
    begun_utc: datetime
    procedures: str
    """Catalogue ids of its procedures as JSON list, in the order they were asked for."""
    material: str
    """Catalogue id of the material in the path: it sets the temperatures."""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class VisitEntry:
    """One thing entered at a visit. Sent twice it counts once, by its key; a step is done or skipped once."""

    visit_id: int
    entered_utc: datetime
    kind: VisitEntryKind
    entry_key: str
    """Made by the device that sent it."""
    step: str = ""
    """Id of the step; empty where the visit was paused or resumed."""
    value: str = ""
    """What was recorded at the step, as JSON; empty where nothing was."""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class VisitEnding:
    """The end of a visit; its act also wrote the renewals, findings and measurements."""

    visit_id: int
    ended_utc: datetime
    outcome: VisitOutcome
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Measurement:
    """Something measured of a machine as a whole, such as its bed or its feed rate."""

    machine_id: int
    measured_utc: datetime
    kind: str
    """A proof of the catalogue, or 'heater', 'flow', 'feed_free', 'feed_hot'."""
    value: float
    unit: str
    """A unit suffix."""
    detail: str = ""
    """All of it as JSON."""
    visit_id: int | None = None
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class MachineSetting:
    """One working value of a machine from some moment on; the latest of a name and material holds."""

    machine_id: int
    set_utc: datetime
    name: str
    value: float
    unit: str
    why: str
    material: str = ""
    """Empty where it holds for every material."""
    measurement_id: int | None = None
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Release:
    """The act that says a serviced machine may take work again."""

    machine_id: int
    visit_id: int
    released_utc: datetime
    proofs: str
    """The measurements that prove it, as JSON: number by proof."""
    override: str = ""
    """Why it was released without its proofs; empty where they were in order."""
    id: int = 0
    act_id: int = 0
