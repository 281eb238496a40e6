"""Test pieces that prove a machine: first layer, retraction, flow, temperature, single wall; made for its limits."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from feedwright.errors import BadInput
from feedwright.service.piece_writer import EDGE_MM, PieceBounds, PieceWriter

PieceName = Literal["first_layer", "retraction", "flow", "temperature", "single_wall"]

LEAST_BOX_MM = 60.0
LEAST_FLOW_MM3_S = 0.2
BANDS = 5
BAND_MM = 4.0
LIMIT_MARGIN_C = 2.0
CAUTIONS = (
    "Stay beside it: the piece is there to be watched.",
    "Hot nozzle and bed burn; moving axes pinch.",
    "Ventilate: overheated plastic and fluoropolymer give off harmful fumes.",
)


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of a piece's height, and what is set there."""

    from_mm: float
    to_mm: float
    value: float
    unit: str
    """A unit suffix: 'mm', 'c', 'mm3_s'."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece as a file, what it asks of the machine, and how to judge it."""

    name: PieceName
    title: str
    text: str
    """The G-code."""
    filament_mm: float
    """Net of retractions."""
    retractions: int
    low_mm: tuple[float, float, float]
    """Corners of the box that holds every printed line."""
    high_mm: tuple[float, float, float]
    nozzle_c_max: float
    bands: tuple[Band, ...]
    judge: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def make_piece(name: str, bounds: PieceBounds) -> Piece:
    """The piece of that name for a machine and material; raises BadInput where it cannot be printed within bounds."""
    if name not in PIECES:
        raise BadInput(
            "test piece", place=f"“{name}”", expected=f"expected one of {', '.join(PIECES)}", remedy="choose one"
        )
    _refuse_bounds(bounds)
    title, make, judge = PIECES[name]
    writer = PieceWriter(f"{title}, for {bounds.room}", bounds)
    for words in CAUTIONS:
        writer.note(words)
    writer.begin()
    bands = make(writer)
    writer.end()
    return Piece(
        name=name,  # type: ignore[arg-type]
        title=title,
        text=writer.text(),
        filament_mm=writer.filament_mm,
        retractions=writer.retractions,
        low_mm=(writer.low_mm[0], writer.low_mm[1], writer.low_mm[2]),
        high_mm=(writer.high_mm[0], writer.high_mm[1], writer.high_mm[2]),
        nozzle_c_max=writer.nozzle_c_max,
        bands=bands,
        judge=judge,
    )


def _refuse_bounds(bounds: PieceBounds) -> None:
    if min(bounds.box_mm) < LEAST_BOX_MM:
        raise BadInput(
            "test piece",
            place=bounds.room,
            expected=f"expected {LEAST_BOX_MM:g} mm each way at least",
            remedy="correct the machine's box, or judge by a small print of your own",
        )
    if min(bounds.flow_mm3_s, bounds.flow_cold_mm3_s) < LEAST_FLOW_MM3_S:
        raise BadInput(
            "test piece",
            place=f"{min(bounds.flow_mm3_s, bounds.flow_cold_mm3_s):.2f} mm³/s",
            expected=f"the feed path sustains too little: expected {LEAST_FLOW_MM3_S:g} mm³/s at least",
            remedy="see `feedwright push`: service drive, tube or nozzle first, or choose another material",
        )


def _first_layer(writer: PieceWriter) -> tuple[Band, ...]:
    """Nine patches over the bed, one layer."""
    b = writer.bounds
    (middle_x, middle_y), (wide, deep) = b.plate.middle_mm, b.plate.field_mm(EDGE_MM)
    side = min(20.0, min(wide, deep) / 4)
    speed = 0.5 * writer.greatest_speed()
    for row in range(3):
        for column in range(3):
            x = middle_x - side / 2 + (column - 1) * (wide - side) / 2
            y = middle_y - side / 2 + (row - 1) * (deep - side) / 2
            _hop(writer, x, y, b.retract_mm, b.height_mm)
            _patch(writer, x, y, side, speed)
    return ()


def _patch(writer: PieceWriter, x_mm: float, y_mm: float, side_mm: float, speed_mm_s: float) -> None:
    """A square filled line beside line."""
    count = int(side_mm / writer.bounds.width_mm)
    for number in range(count):
        y = y_mm + number * writer.bounds.width_mm
        near, far = (x_mm, x_mm + side_mm) if number % 2 == 0 else (x_mm + side_mm, x_mm)
        writer.line_to(near, y, speed_mm_s)
        writer.line_to(far, y, speed_mm_s)


def _retraction(writer: PieceWriter) -> tuple[Band, ...]:
    """Two pillars with a gap to string over; each band retracts more than the one below."""
    b = writer.bounds
    lengths = _steps(b.retract_low_mm, b.retract_high_mm, 2)
    pillar = 10.0
    gap = min(40.0, b.plate.width_mm(EDGE_MM, pillar) - 2 * pillar - 2)
    x = b.plate.middle_mm[0] - gap / 2 - pillar
    y = b.plate.middle_mm[1] - pillar / 2

    def layer(band: int, z_mm: float) -> None:
        for left in (x, x + pillar + gap):
            _hop(writer, left, y, lengths[band], z_mm)
            _loops(writer, left, y, pillar, 0.6 * writer.greatest_speed(), 2)

    return _tower(writer, lengths, "mm", layer)


def _temperature(writer: PieceWriter) -> tuple[Band, ...]:
    """A hollow tower, hottest at its foot."""
    b = writer.bounds
    hottest = min(b.nozzle_high_c, b.nozzle_limit_c - LIMIT_MARGIN_C)
    temperatures = [float(math.floor(value)) for value in _steps(hottest, math.ceil(b.nozzle_low_c), 3)]
    side = 24.0
    x, y = _corner(b, side)
    last = [-1]

    def layer(band: int, z_mm: float) -> None:
        if band != last[0]:
            writer.nozzle(temperatures[band], wait=band == 0)
            last[0] = band
        _hop(writer, x, y, b.retract_mm, z_mm)
        _loops(writer, x, y, side, _cool_speed(writer), 2)

    return _tower(writer, temperatures, "c", layer)


def _cool_speed(writer: PieceWriter) -> float:
    """At the cold end the path sustains less."""
    b = writer.bounds
    return min(writer.greatest_speed(), 0.6 * b.flow_cold_mm3_s / b.area_mm2)


def _flow(writer: PieceWriter) -> tuple[Band, ...]:
    """A wide ring of two lines, faster from band to band, up to just under what the path should sustain."""
    b = writer.bounds
    most = min(0.95 * b.flow_mm3_s, 0.9 * b.speed_mm_s * b.area_mm2)
    flows = _steps(0.4 * most, most, 2)
    side = min(120.0, min(b.plate.field_mm(EDGE_MM)) - 4)
    x, y = _corner(b, side)

    def layer(band: int, z_mm: float) -> None:
        _hop(writer, x, y, b.retract_mm, z_mm)
        _loops(writer, x, y, side, flows[band] / b.area_mm2, 2)

    return _tower(writer, flows, "mm3_s", layer)


def _single_wall(writer: PieceWriter) -> tuple[Band, ...]:
    """A square box of one line."""
    b = writer.bounds
    side = min(36.0, *b.plate.field_mm(EDGE_MM))
    x, y = _corner(b, side)
    _hop(writer, x, y, b.retract_mm, b.height_mm)
    for number in range(1, int(12.0 / b.height_mm) + 1):
        writer.lift_to(number * b.height_mm)
        if number == 2:
            writer.fan(0.5)
        _loops(writer, x, y, side, 0.5 * writer.greatest_speed(), 1)
    return (Band(0.0, writer.high_mm[2], b.width_mm, "mm"),)


def _corner(bounds: PieceBounds, side_mm: float) -> tuple[float, float]:
    """Front left corner of a square about the middle of the bed."""
    middle_x, middle_y = bounds.plate.middle_mm
    return middle_x - side_mm / 2, middle_y - side_mm / 2


def _steps(first: float, last: float, digits: int) -> list[float]:
    return [round(first + (last - first) * number / (BANDS - 1), digits) for number in range(BANDS)]


def _tower(
    writer: PieceWriter, values: list[float], unit: str, layer: Callable[[int, float], None]
) -> tuple[Band, ...]:
    """The bands one above the other, ``layer`` printing each layer."""
    height = writer.bounds.height_mm
    layers = max(4, round(BAND_MM / height))
    for number in range(BANDS * layers):
        if number == 2:
            writer.fan(0.5)
        if number % layers == 0:
            writer.note(f"from here {values[number // layers]:g} {unit}")
        layer(number // layers, round((number + 1) * height, 3))
    return tuple(
        Band(round(number * layers * height, 3), round((number + 1) * layers * height, 3), value, unit)
        for number, value in enumerate(values)
    )


def _hop(writer: PieceWriter, x_mm: float, y_mm: float, retract_mm: float, z_mm: float) -> None:
    """Filament back, over to a place, down to a height."""
    writer.retract(retract_mm)
    writer.travel(x_mm, y_mm)
    writer.lift_to(z_mm)


def _loops(writer: PieceWriter, x_mm: float, y_mm: float, side_mm: float, speed_mm_s: float, count: int) -> None:
    """Squares, one within the other, outermost first; begins where the nozzle is."""
    for number in range(count):
        inset = number * writer.bounds.width_mm
        low_x, low_y, high_x, high_y = x_mm + inset, y_mm + inset, x_mm + side_mm - inset, y_mm + side_mm - inset
        if number:
            writer.line_to(low_x, low_y, speed_mm_s)
        for x, y in ((high_x, low_y), (high_x, high_y), (low_x, high_y), (low_x, low_y)):
            writer.line_to(x, y, speed_mm_s)


PIECES: dict[str, tuple[str, Callable[[PieceWriter], tuple[Band, ...]], tuple[str, ...]]] = {
    "first_layer": (
        "First-layer piece, nine patches", _first_layer,
        (
            "Look at each patch against the light, then rub it with a fingernail once it is cold.",
            "Good: closed, even, faint lines, stuck. Gaps between the lines: nozzle too high there. Ridges, bare or "
            "see-through spots: too low there.",
            "A trend over the bed is tram; all alike is the nozzle's offset.",
            "Enter the share of good patches: nine of nine is 1.",
        ),
    ),
    "retraction": (
        "Retraction piece, two pillars", _retraction,
        (
            "Look at the gap from the foot up: each band of 4 mm retracts more than the one below.",
            "Take the shortest retraction from which on no strings are left; longer ones draw melt into the cold part.",
            "Strings in every band: dry the filament, or look for slack in tube and couplers.",
        ),
    ),
    "flow": (
        "Flow piece, a ring that gets faster", _flow,
        (
            "Listen to the drive and look at the wall from the foot up.",
            "The wall should stay closed to the top. Thin, gapped or rough from a band on, or a clicking drive: that "
            "band's flow is more than the path sustains, and less than it should: look at gear, tube and nozzle.",
        ),
    ),
    "temperature": (
        "Temperature piece, a tower", _temperature,
        (
            "The foot is hottest, each band of 4 mm cooler.",
            "Dull, weak to the thumb, splitting: too cold. Glossy, stringy, sagging corners: too hot. Take the band "
            "that is strong and clean.",
        ),
    ),
    "single_wall": (
        "Single wall, a box of one line", _single_wall,
        (
            "Once cold, measure the wall's thickness in the middle of each side with a caliper, away from corners and "
            "the top edge: four readings.",
            "Give them to `feedwright flow` with the width asked.",
        ),
    ),
}  # fmt: skip
