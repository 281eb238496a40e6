"""What planning decides, as values."""

from dataclasses import dataclass
from typing import Literal

from feedwright.units import Money
from feedwright.wear.values import Interval, Status


@dataclass(frozen=True, slots=True)
class RenewalCosts:
    """What renewing one part costs in good time, and what its failure costs instead."""

    planned: float
    """Part, minutes at the bench and the machine standing still, in the farm's currency."""
    failure: float
    """The same, plus the print that is likely spoiled and the trouble of an unplanned stop."""
    look: float
    """What one look at the part costs, without renewing it."""
    currency: str
    shared: float = 0.0
    """Of ``planned``, what is saved where another job of the same visit heats the nozzle, or has the bed trammed."""


@dataclass(frozen=True, slots=True)
class AgeOptimum:
    """The exposure at which renewing costs least in the long run (Barlow & Proschan 1965)."""

    exposure: float
    """Infinite where renewing by age does not pay: wait for a sign instead."""
    cost_rate: float
    """Long-run cost per unit of exposure at that optimum."""


@dataclass(frozen=True, slots=True)
class LookPlan:
    """Looking at a part every so often and renewing it when it shows that it is nearly worn out."""

    every: float
    """Exposure between looks; infinite where no interval of looks costs less than waiting for the failure."""
    cost_rate: float
    """Long-run cost per unit of exposure."""


@dataclass(frozen=True, slots=True)
class Advice:
    """Whether to renew one fitting, when, and what waiting costs."""

    status: Status
    act: Literal["renew", "look"]
    """Renew by age; or, where that does not pay, look at it and wait for a sign."""
    waiting_cost_week: Money
    """Expected extra cost of putting it off one more week: risk taken less life gained, or less the look saved."""
    best_in_exposure: float
    """Exposure still worth running before renewal; 0 = past the best moment, infinite = not by age."""
    best_in_days: float
    planned_cost: Money
    failure_cost: Money
    optimum_exposure: float
    because: tuple[str, ...]
    look_every_days: float
    """How often to look at it where that is cheaper than waiting for a failure; infinite where it is not."""
    cost_by_weeks: tuple[Money, ...]
    """Expected extra cost of renewing it only after 0, 1, 2 ... weeks, over the best moment."""
    cost_at_weeks: tuple[float, ...] = ()
    """The same where renewing it too early costs too: the life that is given away."""
    cost_rate: float = 0.0
    """Long-run cost of such parts per unit of exposure, renewed at the best age."""
    reason: str = ""
    """What decided the status, in a few words: costs and chances do, and not the share of life used."""


@dataclass(frozen=True, slots=True)
class TrimBudget:
    """How often a guide tube can still be trimmed, and when a new one must be cut."""

    length_mm: float
    needed_mm: float
    trim_mm: float
    """Usual trim: the mean of what was cut on this machine, else the catalogue's."""
    trims_done: int
    trims_left: int
    last_trim_days: Interval
    """Until the trim that uses the budget up; infinite where the machine is not used."""
    new_tube_days: Interval
    """Until the trim after that, which needs a new tube."""
