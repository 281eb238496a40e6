"""What the use cases hand to pages and commands, as values."""

from dataclasses import dataclass
from datetime import datetime

from feedwright.catalogue.entry import PartKind
from feedwright.planning.values import Advice
from feedwright.records.values import Act, Event, Finding, Fitting, Machine, Removal, Run, Toolpath
from feedwright.toolpath.values import Stretch
from feedwright.wear.values import Outlook, PaceOfUse


@dataclass(frozen=True, slots=True)
class FittedPart:
    """One fitted part as it stands: what it is, what it has been through, what is expected and advised."""

    machine: Machine
    fitting: Fitting
    kind: PartKind
    pace: PaceOfUse
    outlook: Outlook
    advice: Advice
    last_finding: Finding | None

    @property
    def title(self) -> str:
        """The part's name, numbered where the machine has several of the kind."""
        return self.kind.title if self.fitting.position == 1 else f"{self.kind.title} {self.fitting.position}"


@dataclass(frozen=True, slots=True)
class Bench:
    """What to service now, in order of what waiting costs, and what comes due next."""

    at_utc: datetime
    now: tuple[FittedPart, ...]
    soon: tuple[FittedPart, ...]
    """Due within two weeks, or cheaper along with a job due now; then what a look pays for, likeliest to fail first."""
    later: tuple[FittedPart, ...]
    """The rest that has a date, soonest first."""
    watch: tuple[FittedPart, ...]
    """Not renewed by age: look at them at each visit."""
    machines: int
    runs: int


@dataclass(frozen=True, slots=True)
class ActLine:
    """One act as the books show it."""

    act: Act
    wrote: str
    """What it wrote: 'run 12', '17 fittings'."""
    voided: str
    """What it took back."""
    through: str = ""
    """The device or browser over the network that it came through; empty for this machine itself."""


@dataclass(frozen=True, slots=True)
class RunLine:
    """One run as a list shows it."""

    run: Run
    machine: str
    toolpath: Toolpath | None
    charge: Stretch


@dataclass(frozen=True, slots=True)
class Change:
    """What one act did to one fitting's outlook."""

    part: str
    unit: str
    exposure_before: float
    exposure_after: float
    share_before_frac: float
    share_after_frac: float


@dataclass(frozen=True, slots=True)
class RunReceipt:
    """A recorded run: what it is charged with, and what each part had been through without it and with it."""

    run: Run
    machine: Machine
    charge: Stretch
    changes: tuple[Change, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RenewalReceipt:
    """What recording a renewal wrote."""

    removal: Removal
    removed: Fitting
    fitted: Fitting
    also: tuple[str, ...]
    """What else changed: the guide tube grew shorter by the trim, and how much is left."""


@dataclass(frozen=True, slots=True)
class MachineSheet:
    """One machine with all that is known of it."""

    machine: Machine
    parts: tuple[FittedPart, ...]
    runs: tuple[RunLine, ...]
    """Latest first, a page full."""
    runs_count: int
    printing_h: float
    filament_kg: float
    events: tuple[Event, ...]
    findings: tuple[tuple[Finding, Fitting], ...]
    past: tuple[tuple[Fitting, Removal], ...]
    """Fittings taken off, latest first."""
    trims_left: int | None
    """How often the guide tube can still be trimmed; None without a tube."""


@dataclass(frozen=True, slots=True)
class MachineLine:
    """One machine as a list shows it."""

    machine: Machine
    worst: FittedPart | None
    """The fitting with the most pressing advice."""
    last_run_utc: datetime | None
    printing_h_per_day: float


@dataclass(frozen=True, slots=True)
class ExposurePoint:
    """Exposure of one fitting at a moment."""

    at_utc: datetime
    exposure: float
