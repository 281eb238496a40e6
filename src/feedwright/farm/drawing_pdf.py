"""Our drawings on paper: strokes of SVG path data drawn on a PDF canvas.

Path commands as in W3C SVG 2, chapter 9; a quadratic curve is drawn as the cubic one that it equals.
"""

import re
from collections.abc import Iterator
from typing import Any

from feedwright.catalogue.drawings import Drawing

TOKEN = re.compile(r"[A-Za-z]|-?\d*\.?\d+")
TAKES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Q": 4, "Z": 0}
"""How many numbers each command asks for."""
INK, PALE, ACCENT, BAND = "#25221c", "#ffffff", "#17595f", "#b9cfcf"
STYLES: dict[str, tuple[str, str, float]] = {
    "thing": (PALE, INK, 1.6), "line": ("", INK, 1.3), "tube": ("", BAND, 9.0), "filament": ("", ACCENT, 2.6),
    "bead": ("", ACCENT, 5.0), "behind": ("", "#5c5546", 1.0),
}  # fmt: skip
"""Fill, stroke and width of each style; the same colours as on the pages, in light."""
CHOSEN_FILL, CHOSEN_WIDTH = "#9cc8c9", 3.0

Point = tuple[float, float]


def segments(d: str) -> Iterator[tuple[str, tuple[float, ...]]]:
    """The absolute commands M, L, C and Z that path data amount to."""
    tokens = TOKEN.findall(d)
    at, start, index, command = (0.0, 0.0), (0.0, 0.0), 0, "M"
    while index < len(tokens):
        if tokens[index].isalpha():
            command, index = tokens[index], index + 1
        count = TAKES[command.upper()]
        numbers = [float(token) for token in tokens[index : index + count]]
        index += count
        kind, points = _absolute(command, numbers, at)
        if kind == "Z":
            at = start
        elif points:
            at = points[-1]
        if kind == "M":
            start = at
        yield kind, tuple(number for point in points for number in point)
        if command in "Mm":
            command = "L" if command == "M" else "l"  # further points after a move are lines


def _absolute(command: str, numbers: list[float], at: Point) -> tuple[str, list[Point]]:
    x, y = at if command.islower() else (0.0, 0.0)
    kind = command.upper()
    if kind == "H":
        return "L", [(numbers[0] + x, at[1])]
    if kind == "V":
        return "L", [(at[0], numbers[0] + y)]
    points = [(numbers[i] + x, numbers[i + 1] + y) for i in range(0, len(numbers), 2)]
    if kind == "Q":
        (qx, qy), end = points
        first = (at[0] + 2 / 3 * (qx - at[0]), at[1] + 2 / 3 * (qy - at[1]))
        second = (end[0] + 2 / 3 * (qx - end[0]), end[1] + 2 / 3 * (qy - end[1]))
        return "C", [first, second, end]
    return kind, points


def draw(canvas: Any, drawing: Drawing, x: float, y: float, scale: float, *, chosen: str = "") -> None:
    """Draw with the upper left corner at (x, y) of the canvas, whose y goes up; ``scale`` is points per unit."""
    from reportlab.lib.colors import HexColor

    canvas.saveState()
    canvas.translate(x, y)
    canvas.scale(scale, -scale)
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for stroke in drawing.strokes:
        fill, ink, width = STYLES[stroke.style]
        if chosen and stroke.part == chosen:
            fill, ink, width = (
                (CHOSEN_FILL if fill else ""),
                (ACCENT if stroke.style != "filament" else ink),
                width + 1.4,
            )
        canvas.setStrokeColor(HexColor(ink))
        canvas.setLineWidth(width)
        canvas.setDash([4, 3] if stroke.style == "behind" else [])
        if fill:
            canvas.setFillColor(HexColor(fill))
        canvas.drawPath(_path(canvas, stroke.d), stroke=1, fill=1 if fill else 0)
    canvas.restoreState()


def _path(canvas: Any, d: str) -> Any:
    path = canvas.beginPath()
    act = {"M": path.moveTo, "L": path.lineTo, "C": path.curveTo, "Z": path.close}
    for kind, numbers in segments(d):
        act[kind](*numbers)
    return path
