"""How much filament is left on a spool, and whether that is enough: what was drawn is reckoned, not weighed."""

import math
from dataclasses import dataclass
from typing import Literal

from feedwright.wear.values import Interval

Verdict = Literal["enough", "doubtful", "short"]

DRAWN_RELATIVE_SD = 0.03
"""Of what runs are reckoned to have drawn. Filament is sold as 1.75 mm ± 0.05 mm (common practice): its area, and so
the mass of a length, lies within ± 5.7 %; those bounds taken as two standard deviations."""
NEW_RELATIVE_SD = 0.01
"""Of the mass that a new spool is sold with (assumed)."""
SCALE_SD_G = 2.0
"""Of what a kitchen scale says, the empty spool's own spread included (assumed)."""
TENTH = 1.2815515655446004
"""The standard normal is above this with a chance of one in ten."""
ENOUGH_FRAC, SHORT_FRAC = 0.95, 0.2
"""Chances from which on a spool is called enough, and below which short (assumed)."""


@dataclass(frozen=True, slots=True)
class MassLeft:
    """Filament left on a spool, as a normal distribution cut off at nought."""

    mean_g: float
    sd_g: float

    @property
    def interval(self) -> Interval:
        """What is left, eight times in ten between low and high; never below nought."""
        spread = TENTH * self.sd_g
        return Interval(*(max(0.0, at) for at in (self.mean_g - spread, self.mean_g, self.mean_g + spread)))

    def enough_frac(self, needed_g: float, needed_relative_sd: float = DRAWN_RELATIVE_SD) -> float:
        """Chance that a print which needs so much is finished from it."""
        sd_g = math.hypot(self.sd_g, needed_relative_sd * needed_g)
        if sd_g == 0:
            return 1.0 if self.mean_g >= needed_g else 0.0
        return 0.5 * math.erfc((needed_g - self.mean_g) / (sd_g * math.sqrt(2.0)))


def mass_left(start_g: float, drawn_g: float, *, weighed: bool) -> MassLeft:
    """What is left of ``start_g`` after runs drew ``drawn_g`` by their files.

    ``start_g`` was ``weighed``, or is what the spool was sold with. The error of what was drawn is taken as one and
    the same for the whole spool (its diameter), so that it grows with the sum and not with its root.
    """
    start_sd_g = SCALE_SD_G if weighed else NEW_RELATIVE_SD * start_g
    return MassLeft(start_g - drawn_g, math.hypot(start_sd_g, DRAWN_RELATIVE_SD * drawn_g))


def verdict(enough_frac: float) -> Verdict:
    """The chance in one word."""
    if enough_frac >= ENOUGH_FRAC:
        return "enough"
    return "doubtful" if enough_frac >= SHORT_FRAC else "short"
