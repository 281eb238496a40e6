"""What is known and expected of a fitted part, as values."""

from dataclasses import dataclass
from typing import Literal

Status = Literal["service now", "service soon", "in order", "unknown"]
"""The same words on every page and in every command."""


@dataclass(frozen=True, slots=True)
class Interval:
    """A value with the band it lies in: ``low`` and ``high`` bound the middle 80 % unless said otherwise."""

    low: float
    mid: float
    high: float

    def times(self, factor: float) -> "Interval":
        """The interval in another unit, or for ``factor`` of the thing."""
        return Interval(self.low * factor, self.mid * factor, self.high * factor)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a stretch of printing does not say itself but wear depends on."""

    material: str
    """Catalogue id of the material printed."""
    ambient_c: float = 22.0
    filament_diameter_mm: float = 1.75


@dataclass(frozen=True, slots=True)
class Share:
    """One cause of an exposure in words and numbers: 'printing at 240 °C' brought 61 % of it."""

    words: str
    exposure: float
    share_frac: float


@dataclass(frozen=True, slots=True)
class PaceOfUse:
    """How fast a fitting gathers exposure: mean and spread per day of calendar, from recent records."""

    exposure_per_day: float
    relative_sd: float
    """Standard deviation of a week's exposure over its mean."""
    printing_h_per_day: float


@dataclass(frozen=True, slots=True)
class Outlook:
    """The forecast for one fitting."""

    part_kind: str
    exposure: Interval
    """Exposure so far; a band where part of the history is unknown."""
    unit: str
    life: Interval
    """The life such a part is believed to have, in the same unit."""
    share_used: Interval
    """Exposure over the median life (mid), and over the band of believed lives (low, high)."""
    failure_frac_day: float
    failure_frac_week: float
    failure_frac_month: float
    remaining: Interval
    """Exposure left before failure."""
    remaining_printing_h: Interval
    remaining_days: Interval
    """Infinite where the machine is not used."""
    because: tuple[str, ...]
    """Sentences: which duty drives it, what the life rests on."""
    drivers: tuple[Share, ...]
    life_source: str
    """'rule of thumb' until the farm's own findings have narrowed it; then how many findings."""
    failure_by_days: tuple[tuple[float, float], ...] = ()
    """Chances to fail by some days further on: (days, chance)."""
