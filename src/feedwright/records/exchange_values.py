"""What came in and what was said, as values; see :mod:`feedwright.records.values`."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

Answer = Literal["printed", "under_way", "put_aside"]


@dataclass(frozen=True, slots=True)
class Arrival:
    """A file that was seen in the watched folder: known by its content, and never offered twice."""

    seen_utc: datetime
    sha256: str
    name: str
    bytes_count: int
    toolpath_id: int | None = None
    """What it was recorded as; None where it was refused."""
    refused: str = ""
    """Why it was refused; empty where it was read."""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class ArrivalAnswer:
    """What a person said of a file that was offered."""

    arrival_id: int
    answered_utc: datetime
    answer: Answer
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class HotSpell:
    """One time that a nozzle was hot, from its samples: all that is kept of them."""

    machine_id: int
    begun_utc: datetime
    ended_utc: datetime
    from_c: float
    target_c: float
    """The highest that was asked for."""
    highest_c: float
    rise_s: float | None
    """From the first sample with a target until within 2 K of it; None where it never got there."""
    dip_dk: float
    """How far it fell below a held target after it had reached it; 0 where it did not."""
    samples: int
    rise: str
    """The rise as JSON: pairs of seconds and °C, at most 120."""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class NoticeLine:
    """Something that was to be told: since when, and whether it was sent and is over."""

    cause: str
    """Names the cause: while it lasts, it is told once."""
    kind: str
    title: str
    words: str
    arose_utc: datetime
    sent_utc: datetime | None = None
    cleared_utc: datetime | None = None
    id: int = 0


@dataclass(frozen=True, slots=True)
class LinkState:
    """The latest of a way in or out, as JSON, and when that was."""

    name: str
    at_utc: datetime
    value: str
