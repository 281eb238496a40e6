"""Tramming: a plane through readings of the bed, and what to turn at each screw.

The bed is taken as a stiff plate on its screws: what the plane leaves over is warp, a twist or a scattered reading,
and no screw cures it. Four or more screws hold a plate that three would carry: where they strain it, loosen all first.
"""

import math
from collections.abc import Sequence
from itertools import combinations, pairwise

import numpy as np

from feedwright.errors import BadInput
from feedwright.service.plate import Plate
from feedwright.service.values import (
    BedPlane,
    BedReading,
    BedScrews,
    Rotation,
    ScrewDrift,
    ScrewTurn,
    Tramming,
    TramSheet,
)

ISO_COARSE_PITCH_MM = {"M2.5": 0.45, "M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1.0}
"""Coarse pitches of ISO 261."""
GREATEST_HEIGHT_MM = 3.0
"""A bed further out than this is set by eye first; a greater number is most likely in another unit (assumed)."""
LEAST_SPAN = 0.25
"""Share of the bed over which the readings must spread, in each direction (assumed)."""
PAPER_MM = {"stuck": -0.1, "drags": 0.0, "loose": 0.1}
"""Gap over what a sheet of paper asks: it cannot be pulled, it drags as wanted, it slides free (assumed)."""
SCREWS_APART_MM = 1.0


def tram(
    readings: Sequence[BedReading],
    bed: BedScrews,
    *,
    plate: Plate,
    tolerance_mm: float = 0.05,
    reference: str = "",
) -> TramSheet:
    """Least-squares plane through the readings, and the turn of each screw that brings it level.

    ``z = a x + b y + c``; a screw at (x, y) lowers by ``z(x, y) - z(reference)``, which is that over the pitch in
    turns. ``reference`` names the screw to leave alone; left out, it is the one that leaves the longest turn of the
    others shortest. Raises BadInput for fewer than three readings, readings in a line or off the bed, heights in
    another unit, screws at one place.
    """
    _refuse_readings(readings, plate)
    _refuse_screws(bed)
    if not 0.005 <= tolerance_mm <= 1:
        raise _wrong("tolerance", f"{tolerance_mm:g} mm", "expected 0.005 to 1 mm", "0.05 is usual")
    plane, left = _plane(readings)
    turns, held = _turns(plane, bed, reference)
    heights = np.array([reading.height_mm for reading in readings])
    before, after = float(np.ptp(heights)) / 2, float(np.ptp(left)) / 2
    twist, bow_x, bow_y = _shape(readings, left)
    within = before <= tolerance_mm
    return TramSheet(
        readings=tuple(readings),
        plane=plane,
        reference=held,
        turns=turns,
        worst_before_mm=before,
        worst_after_mm=after,
        rms_after_mm=float(np.sqrt(np.mean(left**2))),
        twist_mm=twist,
        bow_x_mm=bow_x,
        bow_y_mm=bow_y,
        tilt_deg=math.degrees(math.atan(math.hypot(plane.slope_x_ratio, plane.slope_y_ratio))),
        tolerance_mm=tolerance_mm,
        level_mm=next(turn.height_mm for turn in turns if turn.screw.name == held),
        within=within,
        curable=after <= tolerance_mm,
        because=tuple(_because(len(readings), before, after, tolerance_mm, twist, bow_x, bow_y)),
    )


def height_of_gap(gap_mm: float, wanted_mm: float = 0.1) -> float:
    """Height of the bed from a feeler gauge under the nozzle: a wider gap is a lower bed."""
    return wanted_mm - gap_mm


def height_of_paper(word: str) -> float:
    """Height of the bed from how a sheet of paper moves: 'stuck', 'drags' or 'loose'."""
    if word not in PAPER_MM:
        raise _wrong("paper", f"“{word}”", f"expected one of {', '.join(PAPER_MM)}", "say how the sheet moves")
    return -PAPER_MM[word]


def drift(sessions: Sequence[Sequence[Tramming]]) -> list[ScrewDrift]:
    """Which corner wanders: how far the bed moved at each screw from session to session, against all screws.

    ``sessions`` holds the trammings of each session at the bench, oldest first. The first of a session is what was
    found; the last is what was left where it was within tolerance, else the bed was levelled after it. The corner that
    moves most stands first.
    """
    moved: dict[str, list[float]] = {}
    for before, after in pairwise(sessions):
        left = {turn.screw.name: turn.height_mm for turn in before[-1].turns} if before[-1].within else {}
        rise = {turn.screw.name: turn.height_mm - left.get(turn.screw.name, 0.0) for turn in after[0].turns}
        mean = sum(rise.values()) / len(rise)
        for name, height in rise.items():
            moved.setdefault(name, []).append(height - mean)
    drifts = [
        ScrewDrift(name, float(np.mean(held)), float(np.std(held, ddof=1)) if len(held) > 1 else 0.0, len(held))
        for name, held in moved.items()
    ]
    return sorted(drifts, key=lambda one: -abs(one.mean_mm))


def _plane(readings: Sequence[BedReading]) -> tuple[BedPlane, "np.ndarray[tuple[int], np.dtype[np.float64]]"]:
    at = np.array([(reading.x_mm, reading.y_mm, 1.0) for reading in readings])
    heights = np.array([reading.height_mm for reading in readings])
    slopes, _, _, _ = np.linalg.lstsq(at, heights, rcond=None)
    return BedPlane(*(float(value) for value in slopes)), heights - at @ slopes


def _turns(plane: BedPlane, bed: BedScrews, reference: str) -> tuple[tuple[ScrewTurn, ...], str]:
    heights = {screw.name: plane.at_mm(screw.x_mm, screw.y_mm) for screw in bed.screws}
    if reference and reference not in heights:
        expected = f"expected one of {', '.join(heights)}"
        raise _wrong("reference screw", f"“{reference}”", expected, "name one of these")
    held = reference or min(heights, key=lambda name: _work(heights, name))
    turns = []
    for screw in bed.screws:
        lower_mm = heights[screw.name] - heights[held]
        turns_ratio = lower_mm / bed.pitch_mm
        turns.append(
            ScrewTurn(
                screw,
                heights[screw.name],
                lower_mm,
                turns_ratio,
                turns_ratio * 360,
                turns_ratio * 60,
                _rotation(turns_ratio, clockwise_lowers=bed.clockwise_lowers),
            )
        )
    return tuple(turns), held


def _work(heights: dict[str, float], left_alone: str) -> tuple[float, float]:
    """The longest move of a screw, then all of them together; rounded, so that a tie falls to the first."""
    moves = [abs(height - heights[left_alone]) for height in heights.values()]
    return round(max(moves), 6), round(sum(moves), 6)


def _rotation(turns_ratio: float, *, clockwise_lowers: bool) -> Rotation:
    if abs(turns_ratio) * 60 < 0.25:  # a quarter of a clock minute: nobody turns less
        return "leave"
    return "clockwise" if (turns_ratio > 0) == clockwise_lowers else "counter-clockwise"


def _shape(
    readings: Sequence[BedReading], left: "np.ndarray[tuple[int], np.dtype[np.float64]]"
) -> tuple[float | None, float | None, float | None]:
    """Twist and bow of what the plane leaves over, each at the edge of the readings; None where they cannot tell."""
    x, y = (_centred([getattr(reading, name) for reading in readings]) for name in ("x_mm", "y_mm"))
    flat = [np.ones_like(x), x, y]
    with_bow = np.column_stack([*flat, x * y, x**2, y**2])
    if len(readings) >= 6 and np.linalg.matrix_rank(with_bow) == 6:
        held = np.linalg.lstsq(with_bow, left, rcond=None)[0]
        return float(held[3]), float(-held[4]), float(-held[5])
    with_twist = np.column_stack([*flat, x * y])
    if len(readings) >= 4 and np.linalg.matrix_rank(with_twist) == 4:
        return float(np.linalg.lstsq(with_twist, left, rcond=None)[0][3]), None, None
    return None, None, None


def _centred(values: Sequence[float]) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    """From -1 to 1 over the readings."""
    low, high = min(values), max(values)
    return (2 * np.array(values) - (low + high)) / (high - low)


def _because(
    count: int, before: float, after: float, tolerance: float, twist: float | None, bow_x: float | None,
    bow_y: float | None,
) -> list[str]:  # fmt: skip
    said = [f"The bed is out by ±{before:.3f} mm; turning the screws should leave ±{after:.3f} mm."]
    if count == 3:
        said.append("Three readings always lie on a plane: they cannot show warp. Take more to see it.")
    if after > tolerance:
        said.append(
            "What is left is beyond tolerance and no screw cures it: look for a warped plate, dirt under it, or a "
            "strained screw; loosen all and begin anew. Take the readings again where one looks scattered."
        )
    if twist is not None and abs(twist) > tolerance / 2:
        said.append(f"Two opposite corners stand {twist:+.3f} mm out against the other two: a twist.")
    for axis, bow in (("x", bow_x), ("y", bow_y)):
        if bow is not None and abs(bow) > tolerance / 2:
            shape = "rises" if bow > 0 else "sinks"
            said.append(f"Along {axis} the middle {shape} {abs(bow):.3f} mm against the ends: a warp.")
    return said


def _refuse_readings(readings: Sequence[BedReading], plate: Plate) -> None:
    if len(readings) < 3:
        expected = f"expected three readings or more, was given {len(readings)}"
        raise _wrong("readings of the bed", "", expected, "take one near each screw, better nine over the bed")
    for number, reading in enumerate(readings, 1):
        where = f"reading {number}, at {reading.x_mm:g}, {reading.y_mm:g}"
        if not plate.holds(reading.x_mm, reading.y_mm):
            raise _wrong("readings of the bed", where, plate.reach, "give the point in mm from the bed's origin")
        if not abs(reading.height_mm) <= GREATEST_HEIGHT_MM:
            expected = f"expected a height of at most ±{GREATEST_HEIGHT_MM:g} mm, was given {reading.height_mm:g}"
            raise _wrong("readings of the bed", where, expected, "give it in mm; 1 µm is 0.001, 1 thou is 0.0254")
    _refuse_narrow(readings, plate)


def _refuse_narrow(readings: Sequence[BedReading], plate: Plate) -> None:
    """Readings of one corner say nothing of the rest; a bed measured in inches looks the same."""
    at = np.array([(reading.x_mm, reading.y_mm) for reading in readings])
    spans = np.ptp(at, axis=0)
    for axis, span, most in zip("xy", spans, plate.span_mm, strict=True):
        if span < LEAST_SPAN * most:
            expected = f"they spread over {span:g} mm along {axis}; expected {LEAST_SPAN * most:.0f} mm at least"
            raise _wrong(
                "readings of the bed", "", expected, "spread them over the bed, and give places in mm, not inches"
            )
    if np.linalg.matrix_rank(np.column_stack([at / spans, np.ones(len(at))]), tol=0.05) < 3:
        raise _wrong("readings of the bed", "", "they lie in one line, which has no plane", "take one beside the line")


def _refuse_screws(bed: BedScrews) -> None:
    if len(bed.screws) < 3:
        raise _wrong("screws", f"{len(bed.screws)}", "expected three or more", "give the place of every screw")
    if not 0.2 <= bed.pitch_mm <= 3:
        known = ", ".join(f"{name} {pitch:g}" for name, pitch in ISO_COARSE_PITCH_MM.items())
        raise _wrong("pitch", f"{bed.pitch_mm:g} mm", "expected 0.2 to 3 mm", f"coarse by ISO 261: {known}")
    for one, other in combinations(bed.screws, 2):
        if one.name == other.name:
            raise _wrong("screws", f"“{one.name}”", "two bear that name", "name each differently")
        if math.hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm) < SCREWS_APART_MM:
            expected = "they are at one place"
            raise _wrong("screws", f"{one.name} and {other.name}", expected, "correct the place of one of them")
    at = np.array([(screw.x_mm, screw.y_mm, 1.0) for screw in bed.screws])
    if np.linalg.svd(at - at.mean(axis=0), compute_uv=False)[1] < SCREWS_APART_MM:
        raise _wrong("screws", "", "they lie in one line: such a bed cannot be levelled", "correct their places")


def _wrong(what: str, place: str, expected: str, remedy: str) -> BadInput:
    return BadInput(what, place=place, expected=expected, remedy=remedy)
