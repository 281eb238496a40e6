"""What the farm remembers of its queue and of prints under way, as values; see :mod:`feedwright.records.values`."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class QueueEntry:
    """One file that is to be printed."""

    toolpath_id: int
    material: str
    """Catalogue id of the material it is to be printed in."""
    copies: int
    queued_utc: datetime
    due_utc: datetime | None = None
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Placement:
    """A person's word that a queued print goes on a certain machine, whatever is proposed."""

    queue_entry_id: int
    machine_id: int
    placed_utc: datetime
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Print:
    """One printing that was begun; under way until it has an ending."""

    machine_id: int
    started_utc: datetime
    material: str
    toolpath_id: int | None = None
    hours: float | None = None
    """How long one copy should take: by the file as this machine moves, or as told; None where nobody knows."""
    copies: int = 1
    nozzle_c: float | None = None
    """Where the machine was set otherwise than the file says, or there is no file."""
    spool_id: int | None = None
    queue_entry_id: int | None = None
    """What it was begun for, where it came from the queue."""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class PrintEnding:
    """The end of a print; its act also wrote the run that the print became."""

    print_id: int
    run_id: int
    ended_utc: datetime
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class RunLook:
    """How a run that went wrong looked."""

    run_id: int
    observation: str
    """Catalogue id of the observation."""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class FormKey:
    """A form that was taken: its act did what the form asked for, and sent again it counts no second time."""

    form: str
    """What it asked for: 'run', 'start print' ..."""
    entry_key: str
    """Made by the device that sent it."""
    id: int = 0
    act_id: int = 0
