"""Our drawings: the feed path of a machine, and its frame, as strokes that a page and a printed book draw alike.

A stroke is SVG path data (W3C SVG 2, chapter 9: M L H V C Q Z, small letters relative) with the part kind it belongs
to. Whoever draws gives each style its own line and colour.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from feedwright.catalogue.entry import Build, Drive, HotEnd

Style = Literal["thing", "line", "tube", "filament", "bead", "behind"]
"""A body; a line on or beside it; the guide tube; the filament; what is printed; what lies behind."""
KAPPA = 0.5523
"""A quarter of a circle as one cubic curve: its handles are so many radii long."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One line or body of a drawing."""

    part: str
    """Part kind; empty for what is no wear part."""
    style: Style
    d: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture in its own units, y downwards."""

    width: float
    height: float
    strokes: tuple[Stroke, ...]
    anchors: dict[str, tuple[float, float]]
    """Where a leader to each part kind begins, from the spool down."""
    tags: dict[str, float]
    """Height of the middle of each part kind's tag, as near its anchor as the others let it be."""


def _circle(x: float, y: float, r: float) -> str:
    k = KAPPA * r
    return (
        f"M{x - r:g} {y:g}C{x - r:g} {y - k:g} {x - k:g} {y - r:g} {x:g} {y - r:g}"
        f"C{x + k:g} {y - r:g} {x + r:g} {y - k:g} {x + r:g} {y:g}"
        f"C{x + r:g} {y + k:g} {x + k:g} {y + r:g} {x:g} {y + r:g}"
        f"C{x - k:g} {y + r:g} {x - r:g} {y + k:g} {x - r:g} {y:g}Z"
    )


def _box(x: float, y: float, width: float, height: float) -> str:
    return f"M{x:g} {y:g}h{width:g}v{height:g}h{-width:g}Z"


def _rotor(x: float, y: float, r: float) -> str:
    """The blades of a fan."""
    bent = r * 0.55
    return (
        f"M{x:g} {y:g}q{bent:g} {-bent:g} {r:g} 0M{x:g} {y:g}q{bent:g} {bent:g} 0 {r:g}"
        f"M{x:g} {y:g}q{-bent:g} {bent:g} {-r:g} 0M{x:g} {y:g}q{-bent:g} {-bent:g} 0 {-r:g}"
    )


AXIS, HEIGHT, TAG_PITCH = 82.0, 820.0, 51.0
"""Where the filament goes down; how tall the drawing of a feed path is, and how far apart its tags stand at least."""


def feed_path(drive: Drive, hot_end: HotEnd, parts: Iterable[str]) -> Drawing:
    """The feed path from the spool to the bead, and what moves it; only of the part kinds that are there."""
    there = set(parts)
    strokes = [*_spool(), *(_remote() if drive == "remote" else _direct()), *_hot_end(hot_end), *_below()]
    held = tuple(stroke for stroke in strokes if not stroke.part or stroke.part in there)
    gear = 96.0 if drive == "remote" else 208.0
    anchors = {
        "drive_gear": (AXIS - 8, gear - 8), "idler": (AXIS + 17, gear + 4), "tube_coupler": (AXIS + 12, 136.0),
        "guide_tube": (36.0, 184.0), "sink_fan": (146.0, 284.0), "heat_break": (AXIS + 8, 344.0),
        "tube_end": (AXIS, 382.0), "heater": (AXIS - 6, 402.0), "temperature_sensor": (AXIS + 29, 438.0),
        "nozzle": (AXIS + 9, 470.0), "part_fan": (146.0, 506.0), "bed_surface": (134.0, 577.0), "belt": (134.0, 634.0),
        "guide_wheel": (120.0, 690.0), "linear_bearing": (110.0, 688.0), "lead_screw": (130.0, 750.0),
        "supply_fan": (72.0, 784.0),
    }  # fmt: skip
    shown = {kind: at for kind, at in anchors.items() if kind in there}
    heights = spread([y for _, y in shown.values()], TAG_PITCH, TAG_PITCH / 2, HEIGHT - TAG_PITCH / 2)
    return Drawing(156.0, HEIGHT, held, shown, dict(zip(shown, heights, strict=True)))


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Places in the same order, at least so far apart and within bounds, that lie nearest to the wanted ones.

    Least squares under an order: pool adjacent violators (Barlow, Bartholomew, Bremner & Brunk 1972, chapter 1), on
    what is left when each place is moved up by those before it.

    >>> spread([10.0, 12.0, 100.0], 10.0, 0.0, 200.0)
    [6.0, 16.0, 100.0]
    """
    pools: list[tuple[float, int]] = []
    for at, place in enumerate(wanted):
        pool = (place - at * apart, 1)
        while pools and pools[-1][0] > pool[0]:
            mean, many = pools.pop()
            pool = ((mean * many + pool[0] * pool[1]) / (many + pool[1]), many + pool[1])
        pools.append(pool)
    flat = [mean for mean, many in pools for _ in range(many)]
    top = high - (len(wanted) - 1) * apart
    return [min(max(mean, low), top) + at * apart for at, mean in enumerate(flat)]


def _spool() -> list[Stroke]:
    return [
        Stroke("", "thing", _circle(48, 36, 34)),
        Stroke("", "line", _circle(48, 36, 28)),
        Stroke("", "filament", _circle(48, 36, 23)),
        Stroke("", "filament", _circle(48, 36, 17)),
        Stroke("", "thing", _circle(48, 36, 10)),
    ]


def _gear(y: float) -> list[Stroke]:
    """The drive: motor, gear with its teeth, idler on its arm."""
    around = ((0, -1), (0, 1), (-1, 0), (0.71, -0.71), (0.71, 0.71), (-0.71, -0.71), (-0.71, 0.71))
    teeth = "".join(f"M{AXIS - 16 + 11 * dx:g} {y + 11 * dy:g}l{4 * dx:g} {4 * dy:g}" for dx, dy in around)
    return [
        Stroke("", "thing", _box(22, y - 23, 62, 46)),
        Stroke("", "line", f"M30 {y - 23:g}v46"),
        Stroke("idler", "thing", f"M{AXIS + 10:g} {y + 6:g}l30 20 6-8-28-22Z"),
        Stroke("idler", "thing", _circle(AXIS + 15, y, 13)),
        Stroke("idler", "thing", _circle(AXIS + 15, y, 4)),
        Stroke("drive_gear", "thing", _circle(AXIS - 16, y, 14)),
        Stroke("drive_gear", "line", teeth),
        Stroke("drive_gear", "thing", _circle(AXIS - 16, y, 3.5)),
    ]


def _coupler(y: float) -> list[Stroke]:
    return [
        Stroke("tube_coupler", "thing", _box(AXIS - 12, y, 24, 9)),
        Stroke("tube_coupler", "thing", _box(AXIS - 8, y + 9, 16, 9)),
        Stroke("tube_coupler", "line", f"M{AXIS - 8:g} {y + 13:g}h16"),
    ]


def _remote() -> list[Stroke]:
    tube = f"M{AXIS:g} 148C{AXIS:g} 168 32 164 32 188C32 212 {AXIS:g} 208 {AXIS:g} 230"
    return [
        Stroke("", "filament", f"M{AXIS:g} 36V148"),
        *_gear(96),
        Stroke("guide_tube", "tube", tube),
        Stroke("", "filament", tube),
        *_coupler(130),
        *_coupler(228),
    ]


def _direct() -> list[Stroke]:
    return [
        Stroke("", "filament", f"M{AXIS:g} 36C{AXIS:g} 84 50 104 58 138C66 166 {AXIS:g} 168 {AXIS:g} 194"),
        *_gear(208),
        Stroke("", "filament", f"M{AXIS:g} 190V250"),
    ]


def _hot_end(hot_end: HotEnd) -> list[Stroke]:
    fins = "".join(f"M{AXIS - 30:g} {y:g}h60" for y in range(256, 322, 10))
    block = [
        Stroke("", "thing", _box(AXIS - 10, 246, 20, 82)),
        Stroke("", "line", fins),
        Stroke("sink_fan", "thing", _box(AXIS + 34, 256, 34, 58)),
        Stroke("sink_fan", "line", _rotor(AXIS + 51, 285, 13)),
        Stroke("sink_fan", "thing", _circle(AXIS + 51, 285, 3)),
        Stroke("heat_break", "thing", f"M{AXIS - 10:g} 328h20v9h-5v18h5v13h-20v-13h5v-18h-5Z"),
        Stroke("", "thing", _box(AXIS - 34, 368, 70, 82)),
        Stroke("heater", "thing", _circle(AXIS - 19, 402, 11)),
        Stroke("heater", "line", f"M{AXIS - 19:g} 395v14M{AXIS - 26:g} 402h14"),
        Stroke("temperature_sensor", "thing", _circle(AXIS + 25, 436, 6)),
        Stroke("temperature_sensor", "line", f"M{AXIS + 31:g} 436q12 0 14-12"),
        Stroke("nozzle", "thing", f"M{AXIS - 16:g} 450h32v12h-6l-7 22h-6l-7-22h-6Z"),
        Stroke("part_fan", "thing", _box(AXIS + 34, 484, 34, 40)),
        Stroke("part_fan", "line", _rotor(AXIS + 51, 504, 12)),
        Stroke("part_fan", "line", f"M{AXIS + 34:g} 490l-18 4M{AXIS + 34:g} 512l-20-8"),
    ]
    if hot_end == "lined":
        block += [Stroke("tube_end", "tube", f"M{AXIS:g} 248V444"), Stroke("tube_end", "line", f"M{AXIS - 6:g} 448h12")]
    bead = Stroke("", "bead", f"M26 560H{AXIS + 12:g}M26 550H{AXIS:g}v-68")
    return [*block, Stroke("", "filament", f"M{AXIS:g} 240V482"), bead]


def _below() -> list[Stroke]:
    """The bed, and what moves it and the carriage."""
    threads = "".join(f"M112 {y:g}l12-5" for y in range(734, 806, 8))
    wheels = [Stroke("guide_wheel", "thing", _circle(x, y, 9)) for x in (36, 112) for y in (679, 701)]
    return [
        Stroke("bed_surface", "thing", _box(12, 565, 126, 9)),
        Stroke("", "thing", _box(20, 574, 110, 10)),
        Stroke("", "line", "M34 584l-4 8 8 0M116 584l-4 8 8 0"),
        Stroke("belt", "thing", _circle(26, 634, 11)),
        Stroke("belt", "thing", _circle(124, 634, 11)),
        Stroke("belt", "line", "M26 621H124M26 647H124"),
        Stroke("belt", "line", "M40 623v3M54 623v3M68 623v3M82 623v3M96 623v3M110 623v3"),
        Stroke("", "behind", _box(10, 685, 132, 10)),
        *wheels,
        Stroke("linear_bearing", "thing", _box(40, 679, 70, 22)),
        Stroke("linear_bearing", "line", "M46 690h58M46 684h58M46 696h58"),
        Stroke("lead_screw", "thing", _box(113, 728, 10, 82)),
        Stroke("lead_screw", "line", threads),
        Stroke("lead_screw", "thing", _box(104, 750, 28, 14)),
        Stroke("", "thing", _box(12, 744, 74, 66)),
        Stroke("supply_fan", "thing", _circle(49, 777, 25)),
        Stroke("supply_fan", "line", _rotor(49, 777, 18)),
        Stroke("supply_fan", "thing", _circle(49, 777, 5)),
    ]


def frame_picture(build: Build) -> Drawing:
    """A build as one sees it from the front: frame, bed, carriage, and where the drive sits."""
    frames = {"moving bed": _moving_bed, "crossed gantry": _crossed_gantry, "three towers": _three_towers}
    strokes, carriage, perch = frames[build.frame]()
    if build.enclosure_c > 40:
        strokes.append(Stroke("", "behind", _box(8, 10, 124, 108)))
    return Drawing(140.0, 124.0, (*strokes, *_driven(build.drive, carriage, perch)), {}, {})


Picture = tuple[list[Stroke], tuple[float, float], tuple[float, float]]
"""Strokes, top of the carriage, and where a drive on the frame sits."""


def _moving_bed() -> Picture:
    strokes = [
        Stroke("", "line", "M30 112V18h80v94"),
        Stroke("", "thing", _box(14, 110, 112, 8)),
        Stroke("", "thing", _box(36, 96, 68, 5)),
        Stroke("", "line", "M46 101v9M94 101v9M30 62h80"),
    ]
    return strokes, (70, 54), (22, 40)


def _crossed_gantry() -> Picture:
    strokes = [
        Stroke("", "line", _box(16, 16, 108, 102)),
        Stroke("", "line", "M16 36h108M16 44h108"),
        Stroke("", "thing", _box(34, 94, 72, 5)),
        Stroke("", "line", "M26 50v64M114 50v64"),
    ]
    return strokes, (76, 33), (30, 24)


def _three_towers() -> Picture:
    strokes = [
        Stroke("", "line", "M26 116V10M114 116V10M70 104V10M20 10h100"),
        Stroke("", "thing", _box(18, 112, 104, 6)),
        Stroke("", "thing", _box(40, 103, 60, 5)),
        Stroke("", "line", "M26 34L62 68M114 34L78 68M70 24V68"),
    ]
    return strokes, (70, 66), (34, 28)


def _driven(drive: Drive, carriage: tuple[float, float], perch: tuple[float, float]) -> list[Stroke]:
    x, y = carriage
    head = [
        Stroke("", "thing", _box(x - 9, y, 18, 14)),
        Stroke("", "thing", f"M{x - 4:g} {y + 14:g}h8l-3 7h-2Z"),
    ]
    if drive == "direct":
        drive_at = Stroke("", "thing", _box(x - 11, y - 13, 22, 13))
        return [
            *head,
            drive_at,
            Stroke("", "filament", f"M{x:g} {y - 13:g}C{x:g} {y - 30:g} {x + 18:g} 2 {x + 28:g} 4"),
        ]
    px, py = perch
    tube = f"M{px + 8:g} {py:g}C{px + 20:g} {py - 26:g} {x:g} {y - 44:g} {x:g} {y:g}"
    drive_at = Stroke("", "thing", _box(px - 9, py - 7, 18, 14))
    return [Stroke("", "tube", tube), Stroke("", "filament", tube), *head, drive_at]
