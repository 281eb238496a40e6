"""What is measured and worked out at the bench, as values."""

from dataclasses import dataclass
from typing import Literal

Rotation = Literal["clockwise", "counter-clockwise", "leave"]


@dataclass(frozen=True, slots=True)
class Screw:
    """One adjusting screw under the bed."""

    name: str
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class BedScrews:
    """The screws of one machine's bed, their pitch and hand."""

    screws: tuple[Screw, ...]
    pitch_mm: float
    clockwise_lowers: bool = True
    """Seen from where the hand turns them: True where a clockwise turn lowers the bed there."""


@dataclass(frozen=True, slots=True)
class BedReading:
    """How high the bed stands at one point, above where it should be; below is negative."""

    x_mm: float
    y_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class BedPlane:
    """The plane ``height = slope_x x + slope_y y + height`` through the readings."""

    slope_x_ratio: float
    slope_y_ratio: float
    height_mm: float
    """At the origin."""

    def at_mm(self, x_mm: float, y_mm: float) -> float:
        """Height of the plane at a point."""
        return self.slope_x_ratio * x_mm + self.slope_y_ratio * y_mm + self.height_mm


@dataclass(frozen=True, slots=True)
class ScrewTurn:
    """What to do at one screw."""

    screw: Screw
    height_mm: float
    """Height of the plane there before the move."""
    lower_mm: float
    """How far the bed must come down there; up is negative."""
    turns_ratio: float
    """Turns of the screw; positive lowers."""
    turn_deg: float
    clock_minutes: float
    """The same on a clock face: a whole turn is 60."""
    rotation: Rotation


@dataclass(frozen=True, slots=True)
class TramSheet:
    """What the readings of a bed ask for, and what no screw can cure."""

    readings: tuple[BedReading, ...]
    plane: BedPlane
    reference: str
    """The screw that is left alone."""
    turns: tuple[ScrewTurn, ...]
    worst_before_mm: float
    """Half the span of the bed's height over the readings before the move."""
    worst_after_mm: float
    """The same as it should be after the move: what the plane leaves over."""
    rms_after_mm: float
    twist_mm: float | None
    """Rise of two opposite corners over the other two; None with fewer than four readings, or no spread to tell."""
    bow_x_mm: float | None
    """Middle above the ends, along x; None with readings too few to tell."""
    bow_y_mm: float | None
    tilt_deg: float
    tolerance_mm: float
    level_mm: float
    """How high the bed stands all over after the move, by which the nozzle's offset must be set again."""
    within: bool
    """True where nothing need be turned."""
    curable: bool
    """True where turning the screws brings the bed within tolerance."""
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tramming:
    """What one tramming found at the screws, and whether that was within tolerance: else they were turned after it."""

    turns: tuple[ScrewTurn, ...]
    within: bool


@dataclass(frozen=True, slots=True)
class ScrewDrift:
    """How one corner wanders from session to session, against the mean of all."""

    screw: str
    mean_mm: float
    """Mean move until the next session; above nought it rises."""
    spread_mm: float
    count: int


@dataclass(frozen=True, slots=True)
class Measured:
    """A result with its uncertainty by the GUM: standard, expanded, and the factor between them."""

    value: float
    standard_ratio: float
    """Standard uncertainty over the value."""
    coverage_ratio: float
    """The factor k for 95 in 100."""

    @property
    def low(self) -> float:
        """Lower end of the 95 % interval."""
        return self.value * (1 - self.coverage_ratio * self.standard_ratio)

    @property
    def high(self) -> float:
        """Upper end of the 95 % interval."""
        return self.value * (1 + self.coverage_ratio * self.standard_ratio)


@dataclass(frozen=True, slots=True)
class FeedRateSheet:
    """What a feed test says of the steps per millimetre."""

    steps_per_mm: float
    commanded_mm: float
    measured_mm: float
    """Mean of the readings."""
    readings_count: int
    error_frac: float
    """Measured over commanded, less one."""
    new_steps_per_mm: Measured
    change: bool
    """False where the error is less than the readings can tell."""
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FeedHealth:
    """How much less the drive feeds against the hot end than freely: slip, that grows with the force."""

    lost_frac: float
    uncertainty_frac: float
    """Expanded, 95 in 100."""
    word: Literal["healthy", "slips", "slips badly", "cannot tell"]
    because: str


@dataclass(frozen=True, slots=True)
class HeatingLog:
    """Time and temperature while the heater was held at one share of its power."""

    time_s: tuple[float, ...]
    at_c: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class HeaterModel:
    """First order plus dead time: ``G = K exp(-L s) / (T s + 1)``."""

    gain_dk_per_percent_ratio: float
    """K: rise at the end, in K per percent of power."""
    lag_s: float
    """T."""
    dead_s: float
    """L."""
    begin_c: float
    power_percent_ratio: float
    rms_dk: float
    """What the fit leaves over."""
    seen_frac: float
    """Share of the whole rise that the log shows; below about 0.6 the gain and lag are known by their ratio alone."""

    @property
    def slope_c_s(self) -> float:
        """Rise per second at full power from cold: what the heater gives and the block takes."""
        return 100.0 * self.gain_dk_per_percent_ratio / self.lag_s


@dataclass(frozen=True, slots=True)
class HeaterSettings:
    """Settings of a controller in ideal form: percent of power per K, seconds, seconds."""

    rule: str
    gain_ratio: float
    """Percent of power per K of error."""
    integral_s: float
    derivative_s: float

    @property
    def integral_gain_ratio(self) -> float:
        """Percent per K and second, for machines that want the three gains."""
        return self.gain_ratio / self.integral_s

    @property
    def derivative_gain_ratio(self) -> float:
        """Percent per K/s."""
        return self.gain_ratio * self.derivative_s


@dataclass(frozen=True, slots=True)
class HeaterSheet:
    """What a heating log says of the heater, and the settings it asks for."""

    model: HeaterModel
    settings: HeaterSettings
    target_c: float
    peak_c: float
    """Highest temperature of the simulated heat-up."""
    settled_s: float
    """Until it stays within 1 K of the target."""
    limit_c: float
    """What the parts bear; infinite where nothing there limits it."""
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FlowSheet:
    """What a single wall or a weighed length says of the flow."""

    flow_ratio: Measured
    """What to set."""
    was_ratio: float
    change: bool
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SensorCheck:
    """What resistances at known temperatures say of a thermistor."""

    good: bool
    """True where it is of the type that the machine is set for."""
    beta_kelvin: float | None
    """Its B; None where the readings are too near each other to tell."""
    true_at_210_c: float | None
    """What the nozzle is where the machine shows 210 °C."""
    because: tuple[str, ...]
