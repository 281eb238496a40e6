"""Writes G-code (NIST RS274/NGC, with the trade's M-codes for heat) move by move, and lets nothing leave the bounds.

Filament numbers are relative (M83), set last, so that every rule of who decides about them reads the file alike.
"""

import math
from dataclasses import dataclass

from feedwright.catalogue.entry import BedShape
from feedwright.errors import BadInput
from feedwright.service.plate import Plate

EDGE_MM = 8.0
"""Nothing is printed nearer to the edge of the bed (assumed: clips)."""
LIFT_MM = 0.4
RAISE_MM = 10.0
PRIME_MM = 80.0
"""Length of the first line, which fills the nozzle."""
PRIME_AT = 0.76
"""On a round bed it runs so far out, as a share of the way to the edge: beyond every piece."""


@dataclass(frozen=True, slots=True)
class PieceBounds:
    """What a test piece must stay within on one machine with one material."""

    box_mm: tuple[float, float, float]
    nozzle_c: float
    """Usual temperature of the material, where the parts bear it."""
    nozzle_low_c: float
    """The material's range."""
    nozzle_high_c: float
    nozzle_limit_c: float
    """What the fitted liner bears; infinite where none reaches the nozzle."""
    bed_c: float
    flow_mm3_s: float
    """Flow that the feed path sustains at ``nozzle_c``."""
    flow_cold_mm3_s: float
    """The same at the cold end of the material's range."""
    retract_mm: float
    """Retraction as it is set."""
    retract_low_mm: float
    retract_high_mm: float
    speed_mm_s: float
    """Least of the greatest speeds of the two level axes."""
    filament_mm: float = 1.75
    orifice_mm: float = 0.4
    flow_ratio: float = 1.0
    retract_mm_s: float = 30.0
    bed: BedShape = "rectangular"

    @property
    def plate(self) -> Plate:
        """The bed from above."""
        return Plate(self.box_mm[0], self.box_mm[1], self.bed)

    @property
    def room(self) -> str:
        """What it is made for, in words."""
        if self.plate.is_round:
            return f"a round bed of {2 * self.plate.radius_mm:g} mm, {self.box_mm[2]:g} mm high"
        return f"a box of {' x '.join(f'{side:g}' for side in self.box_mm)} mm"

    @property
    def width_mm(self) -> float:
        """Width of a line."""
        return round(1.2 * self.orifice_mm, 2)

    @property
    def height_mm(self) -> float:
        """Height of a layer."""
        return round(0.5 * self.orifice_mm, 2)

    @property
    def area_mm2(self) -> float:
        """Plastic laid per mm of line, flow ratio included; its section is taken as width times height."""
        return self.width_mm * self.height_mm * self.flow_ratio


class PieceWriter:
    """One file in the making: position, heat and filament are known after each line; see :meth:`text`."""

    def __init__(self, title: str, bounds: PieceBounds) -> None:
        self.bounds = bounds
        self.filament_mm = 0.0
        self.retractions = 0
        self.nozzle_c_max = 0.0
        self.low_mm = [math.inf] * 3
        self.high_mm = [-math.inf] * 3
        self._lines = [f"; {title}"]
        self._x = self._y = self._z = 0.0
        self._back_mm = 0.0
        self._speed_mm_s = 0.0

    def text(self) -> str:
        """The file."""
        return "\n".join(self._lines) + "\n"

    def note(self, words: str) -> None:
        """A remark for whoever reads the file."""
        self._lines.append(f"; {words}")

    def begin(self) -> None:
        """Units, heat, home, and a line of filament along the front edge."""
        b = self.bounds
        self._lines += ["G21", "G90", f"M140 S{b.bed_c:.0f}", "G28", "M83", "G92 E0"]
        self.lift_to(min(RAISE_MM, b.box_mm[2] / 2))
        self._lines += ["M107", f"M190 S{b.bed_c:.0f}"]
        self.nozzle(b.nozzle_c, wait=True)
        x_mm, y_mm, end_mm = self._prime()
        self.travel(x_mm, y_mm)
        self.lift_to(b.height_mm)
        self.line_to(end_mm, y_mm, 0.6 * self.greatest_speed())

    def _prime(self) -> tuple[float, float, float]:
        """Where the first line begins, x and y, and the x where it ends: along the front, clear of the piece."""
        plate = self.bounds.plate
        if not plate.is_round:
            return EDGE_MM, EDGE_MM / 2, min(EDGE_MM + PRIME_MM, plate.x_mm - EDGE_MM)
        y_mm = -PRIME_AT * (plate.radius_mm - EDGE_MM)
        half = min(PRIME_MM, plate.width_mm(EDGE_MM, -2 * y_mm)) / 2
        return -half, y_mm, half

    def end(self) -> None:
        """Filament back, heaters and fan off, nozzle away from the piece, motors free."""
        self.retract(self.bounds.retract_mm)
        self._lines += ["M104 S0", "M140 S0", "M107"]
        self.lift_to(min(self._z + RAISE_MM, self.bounds.box_mm[2]))
        plate = self.bounds.plate
        self.travel(0.0 if plate.is_round else EDGE_MM, plate.high_mm[1] - EDGE_MM)
        self._lines += ["M84"]

    def nozzle(self, at_c: float, *, wait: bool = False) -> None:
        """Set the nozzle; never beyond the liner's limit nor the material's range."""
        b = self.bounds
        if not b.nozzle_low_c <= at_c <= min(b.nozzle_high_c, b.nozzle_limit_c):
            raise BadInput(
                "nozzle temperature",
                place=f"{at_c:g} °C",
                expected=f"expected {b.nozzle_low_c:g} to {min(b.nozzle_high_c, b.nozzle_limit_c):g} °C",
                remedy="choose another material, or fit parts that bear it",
            )
        at_c = math.floor(at_c)
        self.nozzle_c_max = max(self.nozzle_c_max, at_c)
        self._lines.append(f"{'M109' if wait else 'M104'} S{at_c}")

    def fan(self, share_frac: float) -> None:
        """The part-cooling fan."""
        self._lines.append(f"M106 S{round(255 * share_frac)}" if share_frac else "M107")

    def greatest_speed(self) -> float:
        """Fastest that keeps a line within six tenths of the flow that the path sustains, and within 60 mm/s."""
        return min(60.0, self.bounds.speed_mm_s, 0.6 * self.bounds.flow_mm3_s / self.bounds.area_mm2)

    def travel(self, x_mm: float, y_mm: float) -> None:
        """Move without printing."""
        self._place(x_mm, y_mm)
        self._go(f"G0 X{x_mm:.3f} Y{y_mm:.3f}", min(120.0, self.bounds.speed_mm_s))

    def lift_to(self, z_mm: float) -> None:
        """Set the height."""
        if not 0 <= z_mm <= self.bounds.box_mm[2]:
            raise _beyond(f"Z {z_mm:.1f} mm", f"this machine reaches 0 to {self.bounds.box_mm[2]:g} mm")
        self._z = round(z_mm, 3)
        self._go(f"G0 Z{self._z:.3f}", 8.0)

    def line_to(self, x_mm: float, y_mm: float, speed_mm_s: float) -> None:
        """Print a straight line from where the nozzle is."""
        b = self.bounds
        self.forward()
        self._reach()
        length = math.hypot(x_mm - self._x, y_mm - self._y)
        fed = round(length * b.area_mm2 / (math.pi / 4 * b.filament_mm**2), 5)
        self._place(x_mm, y_mm)
        self._reach()
        self.filament_mm += fed
        self._go(f"G1 X{x_mm:.3f} Y{y_mm:.3f} E{fed:.5f}", speed_mm_s)

    def retract(self, length_mm: float) -> None:
        """Pull filament back; the next line pushes it forward again."""
        length_mm = round(length_mm, 3)
        if length_mm > 0 and not self._back_mm:
            self._back_mm = length_mm
            self.retractions += 1
            self.filament_mm -= length_mm
            self._go(f"G1 E-{length_mm:.3f}", self.bounds.retract_mm_s)

    def forward(self) -> None:
        """Undo the last retraction, if any."""
        if self._back_mm:
            self._go(f"G1 E{self._back_mm:.3f}", self.bounds.retract_mm_s)
            self.filament_mm += self._back_mm
            self._back_mm = 0.0

    def _go(self, words: str, speed_mm_s: float) -> None:
        if speed_mm_s != self._speed_mm_s:
            words, self._speed_mm_s = f"{words} F{60 * speed_mm_s:.0f}", speed_mm_s
        self._lines.append(words)

    def _place(self, x_mm: float, y_mm: float) -> None:
        if not self.bounds.plate.holds(x_mm, y_mm):
            raise _beyond(f"X {x_mm:.1f}, Y {y_mm:.1f} mm", self.bounds.plate.reach)
        self._x, self._y = round(x_mm, 3), round(y_mm, 3)

    def _reach(self) -> None:
        for number, at in enumerate((self._x, self._y, self._z)):
            self.low_mm[number] = min(self.low_mm[number], at)
            self.high_mm[number] = max(self.high_mm[number], at)


def _beyond(place: str, expected: str) -> BadInput:
    remedy = "correct the machine's box (`feedwright machine change`), or print another piece"
    return BadInput("test piece", place=place, expected=expected, remedy=remedy)
