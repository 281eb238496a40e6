"""What a toolpath is, as values: the machine it is timed for, what it asks, and what was wrong with it."""

from dataclasses import dataclass, field, fields
from typing import Literal

from feedwright.errors import OutOfRange

FilamentModeRule = Literal["own", "either", "last"]
"""Who decides whether filament numbers are relative.

``own``: M82 and M83 alone. ``either``: relative while M83 or G91 holds. ``last``: whichever of
G90, G91, M82, M83 was read last. Machines differ; the machine's record says which.
"""

CornerRule = Literal["deviation", "velocity_change"]

MAY_BE_ZERO = (
    "corner_deviation_mm",
    "velocity_change_mm_s",
    "look_ahead_moves",
    "retract_mm",
    "homing_s",
    "tool_change_s",
)


@dataclass(frozen=True, slots=True)
class MotionLimits:
    """All that the reader must know of a machine to execute and time a file as that machine would.

    Every four-number tuple is of the X, Y, Z and filament axes, in this order.
    """

    axis_speed_mm_s: tuple[float, float, float, float] = (300.0, 300.0, 12.0, 60.0)
    axis_acceleration_mm_s2: tuple[float, float, float, float] = (1500.0, 1500.0, 200.0, 3000.0)
    printing_acceleration_mm_s2: float = 1000.0
    travel_acceleration_mm_s2: float = 1000.0
    retraction_acceleration_mm_s2: float = 1500.0
    corner_rule: CornerRule = "deviation"
    corner_deviation_mm: float = 0.03
    velocity_change_mm_s: tuple[float, float, float, float] = (8.0, 8.0, 0.4, 5.0)
    look_ahead_moves: int = 0
    """How many moves the machine plans ahead; 0 = as many as there are."""
    filament_mode_rule: FilamentModeRule = "either"
    filament_diameter_mm: float = 1.75
    retract_mm: float = 4.0
    """What G10 pulls back and G11 pushes forward again, where the file leaves it to the machine."""
    retract_mm_s: float = 35.0
    nozzle_heating_c_s: float = 2.0
    nozzle_cooling_c_s: float = 1.0
    bed_heating_c_s: float = 0.35
    bed_cooling_c_s: float = 0.05
    ambient_c: float = 22.0
    homing_s: float = 20.0
    tool_change_s: float = 5.0

    def __post_init__(self) -> None:
        for name in (f.name for f in fields(self) if f.name not in ("corner_rule", "filament_mode_rule")):
            held = getattr(self, name)
            low, high = (-50.0, 100.0) if name == "ambient_c" else (0.0, 1e6) if name in MAY_BE_ZERO else (1e-3, 1e6)
            for value in held if isinstance(held, tuple) else (held,):
                if not low <= value <= high:
                    raise OutOfRange(name, value, low, high)


@dataclass(frozen=True, slots=True)
class Stretch:
    """What any stretch of printing asks of a machine, in quantities that add up.

    Two stretches may be added, one may be multiplied by a number of copies; a run is charged
    with a stretch, and every exposure is computed from one. ``nozzle_s`` and ``bed_s`` pair a
    set temperature in °C with the seconds spent at it (heating-up waits excluded; off = absent).
    """

    printing_s: float = 0.0
    travel_s: float = 0.0
    heating_s: float = 0.0
    idle_s: float = 0.0
    filament_forward_mm: float = 0.0
    filament_back_mm: float = 0.0
    reversals: float = 0.0
    """Turns of the feed from forward to back; one retraction is one."""
    travel_x_mm: float = 0.0
    travel_y_mm: float = 0.0
    travel_z_mm: float = 0.0
    part_fan_s: float = 0.0
    """Seconds of the part-cooling fan, counted as at full speed."""
    nozzle_heat_ups: float = 0.0
    bed_heat_ups: float = 0.0
    nozzle_s: tuple[tuple[float, float], ...] = ()
    bed_s: tuple[tuple[float, float], ...] = ()

    @property
    def duration_s(self) -> float:
        """All the time the machine was busy, in seconds."""
        return self.printing_s + self.travel_s + self.heating_s + self.idle_s

    @property
    def filament_net_mm(self) -> float:
        """Filament gone for good: forward less back, in mm."""
        return self.filament_forward_mm - self.filament_back_mm

    @property
    def hot_s(self) -> float:
        """Seconds with the nozzle held at some temperature."""
        return sum(seconds for _, seconds in self.nozzle_s)

    def __add__(self, other: "Stretch") -> "Stretch":
        sums = {name: getattr(self, name) + getattr(other, name) for name in ADDITIVE}
        return Stretch(
            **sums,
            nozzle_s=_merge(self.nozzle_s, other.nozzle_s),
            bed_s=_merge(self.bed_s, other.bed_s),
        )

    def times(self, factor: float) -> "Stretch":
        """This stretch done ``factor`` times over."""
        return Stretch(
            **{name: getattr(self, name) * factor for name in ADDITIVE},
            nozzle_s=tuple((at_c, s * factor) for at_c, s in self.nozzle_s),
            bed_s=tuple((at_c, s * factor) for at_c, s in self.bed_s),
        )


ADDITIVE = tuple(f.name for f in fields(Stretch) if f.name not in ("nozzle_s", "bed_s"))
"""The plain additive quantities of a stretch, in order."""


def _merge(
    one: tuple[tuple[float, float], ...], other: tuple[tuple[float, float], ...]
) -> tuple[tuple[float, float], ...]:
    held = dict(one)
    for at_c, seconds in other:
        held[at_c] = held.get(at_c, 0.0) + seconds
    return tuple(sorted(held.items()))


@dataclass(frozen=True, slots=True)
class Profile:
    """A print over its own time, in equal slices, so that any part of it can be charged exactly.

    ``slices[i]`` is what slice ``i`` asked, each ``slice_s`` long (the last may be shorter).
    ``flow_mm3_s`` and ``flow_max_mm3_s`` are the mean and greatest flow of each slice,
    ``nozzle_c`` its set temperature (0 = off), ``layer`` the layer at its end, ``line`` its last line.
    """

    slice_s: float
    slices: tuple[Stretch, ...]
    flow_mm3_s: tuple[float, ...]
    flow_max_mm3_s: tuple[float, ...]
    nozzle_c: tuple[float, ...]
    layer: tuple[int, ...]
    line: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Duty:
    """All that one toolpath asks of a machine, from start to end."""

    whole: Stretch
    moves: int
    layers: int
    filament_high_water_mm: float
    """Highest cumulative filament position: what must be on the spool."""
    passes_mm: tuple[float, ...]
    """Length of filament, in mm, that passed the drive ``i`` times, either way, at index ``i``."""
    flow_s: tuple[float, ...]
    """Seconds of printing by flow; bin ``i`` covers ``i`` to ``i + 1`` times ``flow_bin_mm3_s``."""
    flow_bin_mm3_s: float
    flow_max_mm3_s: float
    nozzle_c_max: float
    bed_c_max: float
    box_low_mm: tuple[float, float, float]
    box_high_mm: tuple[float, float, float]
    """Corners of the box that holds every extruding move."""
    profile: Profile

    @property
    def max_passes(self) -> int:
        """How often the most worked millimetre of filament passed the drive."""
        return max((passes for passes, mm in enumerate(self.passes_mm) if mm > 0), default=0)

    def share(self, fraction: float) -> Stretch:
        """What the first part of the print asks, ``fraction`` (0 to 1) of its whole time.

        Exact to the slice of the profile, in straight proportion within one. ``share(1)`` is the whole.
        """
        if not 0.0 <= fraction <= 1.0:
            raise OutOfRange("fraction", fraction, 0.0, 1.0)
        if fraction == 1.0:
            return self.whole
        left_s = fraction * self.whole.duration_s
        part = Stretch()
        for piece in self.profile.slices:
            if piece.duration_s >= left_s:
                return part + piece.times(left_s / piece.duration_s) if left_s > 0 else part
            part += piece
            left_s -= piece.duration_s
        return self.whole


ToolpathKind = Literal["filament", "milling", "laser", "drawing", "text", "image", "binary", "empty"]


@dataclass(frozen=True, slots=True)
class Remark:
    """Something in a file that a person should know; ``line`` is 1-based, 0 = the whole file."""

    line: int
    text: str


@dataclass(frozen=True, slots=True)
class Reading:
    """What came of reading one file: its duty, or the reason it was refused."""

    name: str
    kind: ToolpathKind
    complete: bool
    """False where the file was cut off or partly damaged and only what could be read is counted."""
    sha256: str
    bytes_count: int
    lines: int
    duty: Duty | None
    reader: str = ""
    """Version of the reader that made it."""
    refused_because: str = ""
    warnings: tuple[Remark, ...] = field(default=())
