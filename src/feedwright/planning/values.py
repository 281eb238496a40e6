"""What planning decides, as values."""

from dataclasses import dataclass
from typing import Literal

from feedwright.units import Money
from feedwright.wear.values import Status


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


@dataclass(frozen=True, slots=True)
class AgeOptimum:
    """The exposure at which renewing costs least in the long run (Barlow & Proschan 1965)."""

    exposure: float
    """Infinite where renewing by age does not pay: wait for a sign instead."""
    cost_rate: float
    """Long-run cost per unit of exposure at that optimum."""


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
