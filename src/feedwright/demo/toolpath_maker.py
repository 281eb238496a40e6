"""Toolpaths of invented things, made on the spot: plain layered G-code with all that wears a feed path."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

FILAMENT_MM2 = math.pi / 4 * 1.75**2
RETRACT_SPEED_MM_MIN = 2100


@dataclass(frozen=True, slots=True)
class Thing:
    """An invented thing: so many islands of a size, built up in layers."""

    name: str
    material: str
    nozzle_c: int
    bed_c: int
    islands: int
    width_mm: float
    height_mm: float
    layer_mm: float = 0.2
    line_mm: float = 0.45
    infill_step_mm: float = 3.0
    speed_mm_s: int = 50
    retract_mm: float = 4.0
    spiral: bool = False
    fan_frac: float = 1.0
    copies: int = 1
    """How many are usually printed one after the other."""
    round_bed: bool = False
    """Drawn about the middle of the bed instead of from its corner."""

    @property
    def middle_mm(self) -> float:
        """Where its middle lies, along and across."""
        return 0.0 if self.round_bed else 110.0

    @property
    def first_island_mm(self) -> float:
        """Where its first island begins, along and across."""
        across = math.ceil(math.sqrt(self.islands)) * (self.width_mm + 4)
        return -across / 2 if self.round_bed else 15.0


THINGS = (
    Thing("planter_vase", "pla", 210, 60, 1, 120, 180, spiral=True, copies=4),
    Thing("bird_house_wall", "pla", 215, 60, 1, 150, 12, copies=2),
    Thing("cable_clips", "pla", 210, 60, 24, 12, 9, copies=4),
    Thing("drawer_tray", "pla", 215, 60, 1, 160, 35, infill_step_mm=12),
    Thing("lamp_lattice", "pla", 205, 60, 16, 16, 60, infill_step_mm=8),
    Thing("hose_bracket", "petg", 238, 78, 2, 60, 30, fan_frac=0.5, copies=2),
    Thing("rain_gutter_hook", "petg", 242, 80, 4, 45, 25, fan_frac=0.4),
    Thing("bearing_seat", "pla_carbon", 218, 60, 2, 50, 22, speed_mm_s=45, copies=3),
    Thing("drone_arm", "pla_carbon", 222, 60, 4, 40, 14, copies=4),
    Thing("switch_housing", "abs", 245, 100, 2, 55, 28, fan_frac=0.1, copies=2),
    Thing("gear_cover", "pa12", 258, 85, 1, 80, 24, fan_frac=0.2, copies=2),
    Thing("tower_vase", "pla", 210, 60, 1, 120, 180, spiral=True, copies=4, round_bed=True),
    Thing("tower_lattice", "pla", 205, 60, 16, 16, 60, infill_step_mm=8, round_bed=True),
    Thing("door_wedge", "tpu_95a", 225, 45, 2, 50, 30, speed_mm_s=25, retract_mm=2.0),
)


def toolpath_of(thing: Thing) -> str:
    """The G-code of a thing, start and end sequence included."""
    return "\n".join(_lines(thing)) + "\n"


def _lines(thing: Thing) -> Iterator[str]:
    yield from ("G21", "G90", "M83", f"M140 S{thing.bed_c}", f"M104 S{thing.nozzle_c}", "G28")
    yield from (f"M190 S{thing.bed_c}", f"M109 S{thing.nozzle_c}", "G92 E0")
    left, front = (-50, -65) if thing.round_bed else (10, 10)
    yield from ("G1 Z0.3 F600", f"G1 X{left} Y{front} F6000", f"G1 X{left + 100} Y{front} E9 F900")
    yield f"M106 S{round(255 * thing.fan_frac)}"
    yield from _spiral(thing) if thing.spiral else _layers(thing)
    yield from (f"G1 E-{thing.retract_mm:g} F{RETRACT_SPEED_MM_MIN}", "M107", "M104 S0", "M140 S0", "G28 X Y", "M84")


def _fed(thing: Thing, length_mm: float) -> float:
    """Filament for a bead of that length."""
    return length_mm * thing.line_mm * thing.layer_mm / FILAMENT_MM2


def _spiral(thing: Thing) -> Iterator[str]:
    """A single wall that climbs without a seam, swelling and waning."""
    steps = 48
    turns = round(thing.height_mm / thing.layer_mm)
    yield f"G1 F{thing.speed_mm_s * 60}"
    for step in range(turns * steps):
        angle, z_mm = 2 * math.pi * step / steps, thing.layer_mm * (1 + step / steps)
        radius = thing.width_mm / 2 * (0.8 + 0.2 * math.sin(z_mm / 25))
        fed = _fed(thing, 2 * math.pi * radius / steps)
        x_mm, y_mm = (thing.middle_mm + radius * turn(angle) for turn in (math.cos, math.sin))
        yield f"G1 X{x_mm:.3f} Y{y_mm:.3f} Z{z_mm:.3f} E{fed:.5f}"


def _layers(thing: Thing) -> Iterator[str]:
    columns = math.ceil(math.sqrt(thing.islands))
    pitch, begin = thing.width_mm + 4, thing.first_island_mm
    for layer in range(round(thing.height_mm / thing.layer_mm)):
        yield f"G1 Z{thing.layer_mm * (layer + 1):.2f} F600"
        for island in range(thing.islands):
            column, row = island % columns, island // columns
            yield from _island(thing, begin + column * pitch, begin + row * pitch, layer)


def _island(thing: Thing, x_mm: float, y_mm: float, layer: int) -> Iterator[str]:
    """Retract, travel, two walls and an infill that turns from layer to layer."""
    size, pull = thing.width_mm, f"{thing.retract_mm:g}"
    yield f"G1 E-{pull} F{RETRACT_SPEED_MM_MIN}"
    yield f"G0 X{x_mm:.2f} Y{y_mm:.2f} F9000"
    yield f"G1 E{pull} F{RETRACT_SPEED_MM_MIN}"
    yield f"G1 F{thing.speed_mm_s * 60}"
    for inset in (thing.line_mm, 0.0):
        side = size - 2 * inset
        corners = ((side, 0.0), (side, side), (0.0, side), (0.0, 0.0))
        for across, up in corners:
            yield f"G1 X{x_mm + inset + across:.3f} Y{y_mm + inset + up:.3f} E{_fed(thing, side):.5f}"
    at = thing.infill_step_mm
    back = False
    while at < size - 1:
        low, high = (size - 1, 1.0) if back else (1.0, size - 1)
        for along in (low, high):
            x, y = (at, along) if layer % 2 else (along, at)
            fed = _fed(thing, size - 2 if along == high else thing.infill_step_mm)
            yield f"G1 X{x_mm + x:.3f} Y{y_mm + y:.3f} E{fed:.5f}"
        at, back = at + thing.infill_step_mm, not back
