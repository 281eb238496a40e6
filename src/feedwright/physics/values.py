"""What the physics answers, as values: bands, heat along the feed path, soak, fan, force, slack, orifice."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SoakKind = Literal["power cut", "hot stop", "stalled fan"]
FanWord = Literal["healthy", "weak", "failed"]
Limit = Literal["drive grip", "unsupported gap", "filament strength", "motor", "heat into the filament"]


@dataclass(frozen=True, slots=True)
class Band:
    """A value with the band it most likely lies in (about 90 % of our belief)."""

    low: float
    mid: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class HeatState:
    """Temperatures along the feed axis from the top of the sink down, arrays of shape (n,), and the heat flows."""

    z_mm: Floats
    """Middle of each cell, counted from the top of the sink."""
    wall_c: Floats
    """Sink, neck and block."""
    core_c: Floats
    """The filament, mean over its section."""
    heater_w: float
    """What the heater must give to hold the block."""
    lost_w: float
    """Heat that leaves to the air."""
    carried_w: float
    """Heat that the filament carries out."""

    @property
    def sink_top_c(self) -> float:
        """Temperature at the top of the sink."""
        return float(self.wall_c[0])


@dataclass(frozen=True, slots=True, eq=False)
class HeatRun:
    """Temperatures over time: ``after_s`` (m,), ``wall_c`` and ``core_c`` (m, n). Steps grow longer."""

    after_s: Floats
    wall_c: Floats
    core_c: Floats


@dataclass(frozen=True, slots=True)
class SoakCurve:
    """The soak over time for a picture, at most a few hundred points."""

    after_s: tuple[float, ...]
    sink_top_c: tuple[float, ...]
    liner_end_c: tuple[float, ...]
    nozzle_c: tuple[float, ...]
    creep_mm: tuple[float, ...]
    """How far softened filament reaches above the heated block."""


@dataclass(frozen=True, slots=True)
class SoakOutcome:
    """What a power cut, a hot stop or a stalled fan did, and what to check before trusting the machine."""

    what: SoakKind
    set_c: float
    ambient_c: float
    minutes: float
    sink_before_c: float
    sink_peak_c: float
    sink_peak_after_s: float
    liner_before_c: float
    liner_peak_c: float
    liner_peak_after_s: float
    softened_mm: float
    """Longest length of filament that was soft at one time, the melt included."""
    creep_mm: float
    """How far up above the heated block it was soft, at the most."""
    sink_softens_after_s: float | None
    """When filament more than 3 mm up in the sink began to soften; None = it did not."""
    sink_touch_after_s: float
    """When a hand may rest on the sink, on the slowest hot end of its kind (upper end of the catalogue's band)."""
    nozzle_touch_after_s: float
    """When a hand may rest on block and nozzle, on the slowest hot end of its kind."""
    sink_finger_s: float
    """How long a finger may rest on the sink at its hottest without a burn: 0 = not at all, infinite = for hours."""
    liner_s: tuple[tuple[float, float], ...]
    """(°C, seconds) the liner end spent, in steps of 5 K: what wears it, in the form a stretch of printing has."""
    curve: SoakCurve
    checks: tuple[str, ...]
    """What to check before trusting the machine, the most telling first."""
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FanVerdict:
    """What a reading at the top of the sink says of its fan."""

    word: FanWord
    sure: bool
    """True where the whole band of effectiveness earns the same word."""
    effectiveness_ratio: Band
    """Share of the heat that a healthy fan takes away; 1 = healthy, 0 = still air. Above 1 = better than usual."""
    sink_top_c: Band
    """The reading, as a band."""
    healthy_sink_top_c: Band
    """What a healthy fan would give."""
    liner_end_c: Band
    neck_top_c: Band
    """Where the sink meets the neck: what decides whether filament softens too early."""
    creep_mm: Band
    because: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pressure:
    """Pressure drop of the nozzle, zone by zone."""

    melt_zone_mpa: float
    cone_mpa: float
    orifice_mpa: float

    @property
    def sum_mpa(self) -> float:
        """All three."""
        return self.melt_zone_mpa + self.cone_mpa + self.orifice_mpa


@dataclass(frozen=True, slots=True)
class ForceBalance:
    """The push a flow needs at the drive, and the push the drive can give."""

    flow_mm3_s: float
    nozzle_c: float
    melt_c: float
    """Mean temperature of the melt as it enters the cone."""
    core_c: float
    """Temperature of its core there."""
    pressure: Pressure
    nozzle_n: float
    """Push against the melt."""
    tube_n: float
    """What friction in the guide tube adds."""
    spool_n: float
    """What the drive must pull from the spool."""
    needed_n: float
    available_n: float
    limits_n: tuple[tuple[Limit, float], ...]
    """Every element's own limit, the weakest first."""
    limited_by: Limit
    """What gives way first, if anything does."""
    heated_through: bool
    """False where the core is too cold to pass the orifice, whatever the push."""

    @property
    def margin_n(self) -> float:
        """Push left over; below zero the drive slips."""
        return self.available_n - self.needed_n

    @property
    def holds(self) -> bool:
        """True where the flow can be kept up."""
        return self.margin_n >= 0 and self.heated_through


@dataclass(frozen=True, slots=True, eq=False)
class FlowLimit:
    """Greatest flow the feed path sustains by nozzle temperature: arrays of shape (n,), rising temperature."""

    nozzle_c: Floats
    flow_mm3_s: Floats
    low_mm3_s: Floats
    high_mm3_s: Floats
    limited_by: tuple[Limit, ...]

    def at(self, nozzle_c: Floats) -> Floats:
        """Greatest flow at each nozzle temperature (any shape); 0 below the coldest of the table."""
        return np.interp(nozzle_c, self.nozzle_c, self.flow_mm3_s, left=0.0)


@dataclass(frozen=True, slots=True)
class Slack:
    """Motion lost between drive and nozzle when the feed turns round, and what retraction that asks for."""

    clearance_mm: float
    elastic_mm: float
    coupler_mm: float
    retraction_mm: Band
    """Suggested retraction."""
    longest_mm: float
    """A longer one draws melt up into the cold part."""
    because: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def lost_mm(self) -> float:
        """All of it."""
        return self.clearance_mm + self.elastic_mm + self.coupler_mm


@dataclass(frozen=True, slots=True)
class OrificeVerdict:
    """What a flow test says of the orifice."""

    word: Literal["as new", "worn", "narrowed"]
    sure: bool
    bore_mm: Band
    bore_ratio: Band
    """Bore now over bore when new."""
    flow_area_ratio: float
    removed_mm3: float
    """Metal worn off the land; 0 where it narrowed."""
    removed_mg: float
    growth_mm_per_kg: float | None
    """Growth per kilogram printed, where that mass was given."""
    because: tuple[str, ...]
