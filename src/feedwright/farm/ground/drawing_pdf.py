"""Our drawings on paper: strokes of SVG path data drawn on a PDF canvas.

Path commands as in W3C SVG 2, chapter 9. A quadratic curve is drawn as the cubic one that it equals; an arc as cubic
ones of a quarter turn at most, by the formulas of appendix B.2.
"""

import math
import re
from collections.abc import Iterable, Iterator
from typing import Any

from feedwright.catalogue.drawings import Drawing
from feedwright.catalogue.grade_drawings import HIGH, Mark

TOKEN = re.compile(r"[A-Za-z]|-?\d*\.?\d+")
TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Q": 4, "T": 2, "A": 7, "Z": 0}
"""How many numbers each command asks for."""
INK, PALE, FADED, ACCENT, BAND, NOW = "#25221c", "#ffffff", "#5c5546", "#17595f", "#b9cfcf", "#a1240f"
Look = tuple[str, str, float]
"""Fill, stroke and width of a line; the same colours as on the pages, in light."""
STYLES: dict[str, Look] = {
    "thing": (PALE, INK, 1.6), "line": ("", INK, 1.3), "tube": ("", BAND, 9.0), "filament": ("", ACCENT, 2.6),
    "bead": ("", ACCENT, 5.0), "behind": ("", FADED, 1.0),
}  # fmt: skip
MARK_STYLES: dict[str, Look] = {
    "body": (PALE, INK, 1.8), "line": ("", INK, 1.8), "faint": ("", FADED, 1.2), "wear": ("", NOW, 2.6),
    "tint": ("#d3a95f", "", 0.0), "soot": ("#4a3a2e", NOW, 2.0),
}  # fmt: skip
CHOSEN_FILL, WIDER = "#9cc8c9", 1.4

Point = tuple[float, float]


def segments(d: str) -> Iterator[tuple[str, tuple[float, ...]]]:
    """The absolute commands M, L, C and Z that path data amount to."""
    tokens = TOKEN.findall(d)
    at, start, bend, index, command = (0.0, 0.0), (0.0, 0.0), None, 0, "M"
    while index < len(tokens):
        if tokens[index].isalpha():
            command, index = tokens[index], index + 1
        count = TAKES[command.upper()]
        numbers = [float(token) for token in tokens[index : index + count]]
        index += count
        pieces, bend = _pieces(command, numbers, at, bend)
        for kind, points in pieces:
            at = points[-1] if points else start
            start = at if kind == "M" else start
            yield kind, tuple(number for point in points for number in point)
        if command in "Mm":
            command = "L" if command == "M" else "l"  # further points after a move are lines


Pieces = list[tuple[str, list[Point]]]


def _pieces(command: str, numbers: list[float], at: Point, bend: Point | None) -> tuple[Pieces, Point | None]:
    """What one command draws from a point on; ``bend`` is the handle of the quadratic curve before, if one was."""
    x, y = at if command.islower() else (0.0, 0.0)
    kind = command.upper()
    if kind == "H":
        return [("L", [(numbers[0] + x, at[1])])], None
    if kind == "V":
        return [("L", [(at[0], numbers[0] + y)])], None
    if kind == "A":
        radii, turned_deg, large, sweep = (numbers[0], numbers[1]), numbers[2], numbers[3] != 0, numbers[4] != 0
        return list(_arc(at, (numbers[5] + x, numbers[6] + y), radii, turned_deg, large, sweep)), None
    points = [(numbers[i] + x, numbers[i + 1] + y) for i in range(0, len(numbers), 2)]
    if kind in "QT":
        handle = points[0] if kind == "Q" else at if bend is None else (2 * at[0] - bend[0], 2 * at[1] - bend[1])
        return [("C", [_toward(at, handle), _toward(points[-1], handle), points[-1]])], handle
    return [(kind, points)], None


def _toward(end: Point, handle: Point) -> Point:
    """The cubic curve's handle that a quadratic one's stands for."""
    return end[0] + 2 / 3 * (handle[0] - end[0]), end[1] + 2 / 3 * (handle[1] - end[1])


def _arc(
    start: Point, end: Point, radii: Point, turned_deg: float, large: bool, sweep: bool
) -> Iterator[tuple[str, list[Point]]]:
    """An elliptical arc as cubic curves: its middle and angles first, then a quarter turn at a time."""
    rx, ry, turn = abs(radii[0]), abs(radii[1]), math.radians(turned_deg)
    if rx == 0 or ry == 0 or start == end:
        yield "L", [end]
        return
    cos, sin = math.cos(turn), math.sin(turn)
    dx, dy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    px, py = cos * dx + sin * dy, cos * dy - sin * dx
    short = (px / rx) ** 2 + (py / ry) ** 2
    if short > 1:  # the ellipse does not reach: it grows until it does
        rx, ry = rx * math.sqrt(short), ry * math.sqrt(short)
    flat = (rx * py) ** 2 + (ry * px) ** 2
    root = math.sqrt(max(0.0, (rx * ry) ** 2 / flat - 1)) * (-1 if large == sweep else 1)
    qx, qy = root * rx * py / ry, -root * ry * px / rx
    middle = (cos * qx - sin * qy + (start[0] + end[0]) / 2, sin * qx + cos * qy + (start[1] + end[1]) / 2)
    first = math.atan2((py - qy) / ry, (px - qx) / rx)
    span = math.atan2((-py - qy) / ry, (-px - qx) / rx) - first
    span += 2 * math.pi * ((sweep and span < 0) - (not sweep and span > 0))

    def on(unit_x: float, unit_y: float) -> Point:
        x, y = rx * unit_x, ry * unit_y
        return cos * x - sin * y + middle[0], sin * x + cos * y + middle[1]

    parts = max(1, math.ceil(abs(span) / (math.pi / 2) - 1e-9))
    step = span / parts
    k = 4 / 3 * math.tan(step / 4)
    for part in range(parts):
        a, b = first + part * step, first + (part + 1) * step
        last = end if part == parts - 1 else on(math.cos(b), math.sin(b))
        yield "C", [
            on(math.cos(a) - k * math.sin(a), math.sin(a) + k * math.cos(a)),
            on(math.cos(b) + k * math.sin(b), math.sin(b) - k * math.cos(b)), last,
        ]  # fmt: skip


def draw(canvas: Any, drawing: Drawing, x: float, y: float, scale: float, *, chosen: str = "") -> None:
    """Draw with the upper left corner at (x, y) of the canvas, whose y goes up; ``scale`` is points per unit."""

    def look(style: str, part: str) -> Look:
        fill, ink, width = STYLES[style]
        if not chosen or part != chosen:
            return fill, ink, width
        return CHOSEN_FILL if fill else "", ink if style == "filament" else ACCENT, width + WIDER

    lines = ((look(stroke.style, stroke.part), stroke.d, stroke.style == "behind") for stroke in drawing.strokes)
    _draw(canvas, lines, x, y, scale)


def draw_marks(canvas: Any, marks: Iterable[Mark], scale: float) -> None:
    """Draw what a look shows, with the lower left corner at the canvas's origin."""
    _draw(canvas, ((MARK_STYLES[mark.style], mark.d, False) for mark in marks), 0, HIGH * scale, scale)


def _draw(canvas: Any, lines: Iterable[tuple[Look, str, bool]], x: float, y: float, scale: float) -> None:
    from reportlab.lib.colors import HexColor

    canvas.saveState()
    canvas.translate(x, y)
    canvas.scale(scale, -scale)
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for (fill, ink, width), d, dashed in lines:
        if ink:
            canvas.setStrokeColor(HexColor(ink))
            canvas.setLineWidth(width)
            canvas.setDash([4, 3] if dashed else [])
        if fill:
            canvas.setFillColor(HexColor(fill))
        canvas.drawPath(_path(canvas, d), stroke=1 if ink else 0, fill=1 if fill else 0)
    canvas.restoreState()


def _path(canvas: Any, d: str) -> Any:
    path = canvas.beginPath()
    act = {"M": path.moveTo, "L": path.lineTo, "C": path.curveTo, "Z": path.close}
    for kind, numbers in segments(d):
        act[kind](*numbers)
    return path
