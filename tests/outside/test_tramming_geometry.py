"""Tramming against plane geometry worked by hand, ISO 261 pitches, and a general least-squares library (scipy).

The numbers of the first tests are worked examples: a plane is given, its turns follow by division.
"""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from feedwright.service.plate import Plate
from feedwright.service.tramming import ISO_COARSE_PITCH_MM, tram
from feedwright.service.values import BedReading, BedScrews, Screw

CORNERS = ((30.0, 30.0), (205.0, 30.0), (205.0, 205.0), (30.0, 205.0))
PLATE = Plate(235.0, 235.0)


def screws(pitch_mm: float) -> BedScrews:
    return BedScrews(tuple(Screw(f"s{i}", x, y) for i, (x, y) in enumerate(CORNERS, 1)), pitch_mm)


def test_four_readings_by_hand() -> None:
    heights = (0.10, 0.22, 0.05, -0.03)
    readings = [BedReading(x, y, z) for (x, y), z in zip(CORNERS, heights, strict=True)]
    sheet = tram(readings, screws(ISO_COARSE_PITCH_MM["M4"]), plate=PLATE, reference="s1")
    assert (sheet.plane.slope_x_ratio, sheet.plane.slope_y_ratio, sheet.plane.height_mm) == pytest.approx(
        (5.7142857e-4, -8.5714286e-4, 0.11857143), rel=1e-6
    )
    assert [turn.height_mm for turn in sheet.turns] == pytest.approx([0.11, 0.21, 0.06, -0.04])
    assert [turn.turns_ratio for turn in sheet.turns] == pytest.approx([0, 1 / 7, -1 / 14, -3 / 14])
    assert [turn.turn_deg for turn in sheet.turns] == pytest.approx([0, 51.4286, -25.7143, -77.1429], rel=1e-5)
    assert sheet.rms_after_mm == pytest.approx(0.01)
    assert sheet.worst_after_mm == pytest.approx(0.01)
    assert sheet.twist_mm == pytest.approx((0.10 + 0.05 - 0.22 + 0.03) / 4)
    assert sheet.tilt_deg == pytest.approx(0.0590237, rel=1e-5)
    third = tram(readings, screws(ISO_COARSE_PITCH_MM["M3"]), plate=PLATE, reference="s1")
    assert [turn.turns_ratio for turn in third.turns] == pytest.approx([0, 0.2, -0.1, -0.3])


def test_nine_readings_of_a_plane_give_it_back() -> None:
    grid = (20.0, 117.5, 215.0)
    readings = [BedReading(x, y, 0.0012 * x - 0.0008 * y + 0.03) for x in grid for y in grid]
    sheet = tram(readings, screws(0.7), plate=PLATE, reference="s1")
    assert (sheet.plane.slope_x_ratio, sheet.plane.slope_y_ratio, sheet.plane.height_mm) == pytest.approx(
        (0.0012, -0.0008, 0.03), abs=1e-12
    )
    # Worked by hand: 0.0012 * 175 / 0.7 = 0.3 turns over 175 mm of x, -0.0008 * 175 / 0.7 = -0.2 over as much of y.
    assert [turn.turns_ratio for turn in sheet.turns] == pytest.approx([0, 0.3, 0.1, -0.2])
    assert [turn.clock_minutes for turn in sheet.turns] == pytest.approx([0, 18, 6, -12])
    places = ((30.0, 30.0), (200.0, 30.0), (200.0, 200.0), (30.0, 200.0))
    nearer = BedScrews(tuple(Screw(f"s{i}", x, y) for i, (x, y) in enumerate(places, 1)), 0.7)
    turns = tram(readings, nearer, plate=PLATE, reference="s1").turns
    assert [turn.turn_deg for turn in turns] == pytest.approx([0, 104.914, 34.971, -69.943], rel=1e-4)
    assert [turn.clock_minutes for turn in turns] == pytest.approx([0, 17.49, 5.83, -11.66], rel=1e-3)
    assert sheet.worst_after_mm < 1e-12


def test_an_eighth_of_a_millimetre_in_degrees() -> None:
    """0.12 mm on an M4 (pitch 0.7, ISO 261) is 61.71 degrees, on an M3 (0.5) 86.4 degrees."""
    for thread, degrees in (("M4", 61.7143), ("M3", 86.4)):
        assert 0.12 / ISO_COARSE_PITCH_MM[thread] * 360 == pytest.approx(degrees, rel=1e-5)


def test_the_plane_agrees_with_a_general_solver_and_turning_levels_the_bed() -> None:
    rng = np.random.default_rng(6)
    for _ in range(20):
        at = rng.uniform(10, 225, (12, 2))
        z = rng.normal(0, 0.1, 12)
        readings = [BedReading(float(x), float(y), float(h)) for (x, y), h in zip(at, z, strict=True)]
        bed = screws(0.5)
        sheet = tram(readings, bed, plate=PLATE)
        fit = least_squares(lambda p, at=at, z=z: p[0] * at[:, 0] + p[1] * at[:, 1] + p[2] - z, [0, 0, 0])
        plane = sheet.plane
        assert (plane.slope_x_ratio, plane.slope_y_ratio, plane.height_mm) == pytest.approx(tuple(fit.x), abs=1e-6)
        # the turns, taken as moves of a stiff plate, leave a level plane at the reference's height
        lowered = np.array([(turn.screw.x_mm, turn.screw.y_mm, turn.height_mm - turn.lower_mm) for turn in sheet.turns])
        assert lowered[:, 2] == pytest.approx(sheet.level_mm)
        after = [
            BedReading(r.x_mm, r.y_mm, r.height_mm - plane.at_mm(r.x_mm, r.y_mm) + sheet.level_mm) for r in readings
        ]
        again = tram(after, bed, plate=PLATE)
        assert again.worst_before_mm == pytest.approx(sheet.worst_after_mm)
        assert max(abs(turn.turns_ratio) for turn in again.turns) == pytest.approx(0, abs=1e-9)


def test_the_screw_left_alone_makes_the_longest_turn_shortest() -> None:
    """Brute force over every choice."""
    rng = np.random.default_rng(7)
    for _ in range(20):
        readings = [BedReading(x, y, float(rng.normal(0, 0.2))) for x, y in CORNERS]
        chosen = tram(readings, screws(0.7), plate=PLATE)
        longest = {
            name: max(abs(turn.turns_ratio) for turn in tram(readings, screws(0.7), plate=PLATE, reference=name).turns)
            for name in ("s1", "s2", "s3", "s4")
        }
        assert longest[chosen.reference] == pytest.approx(min(longest.values()))


def test_a_dome_is_told_from_a_tilt() -> None:
    grid = (20.0, 117.5, 215.0)
    readings = [BedReading(x, y, 0.001 * x + 0.1 * (1 - ((x - 117.5) / 97.5) ** 2)) for x in grid for y in grid]
    sheet = tram(readings, screws(0.7), plate=PLATE)
    assert sheet.bow_x_mm == pytest.approx(0.1)
    assert sheet.bow_y_mm == pytest.approx(0, abs=1e-12)
    assert not sheet.within
    assert sheet.curable == (sheet.worst_after_mm <= 0.05)
    assert math.isclose(sheet.plane.slope_x_ratio, 0.001, rel_tol=1e-9)
