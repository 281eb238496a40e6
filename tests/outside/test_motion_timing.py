"""Timing against closed forms, each through real G-code text and the whole reader.

Sources: trapezoid and triangle profiles after Biagiotti and Melchiorri, Trajectory Planning for Automatic
Machines and Robots (2008), chapter 3 (algebra derived here); corner speed by a tangent circle and by
instant velocity change: plane geometry, derived. Tabulated speeds and times were computed by hand from these.
"""

import math
from pathlib import Path

import pytest

from feedwright.toolpath.read import read_bytes, read_file
from feedwright.toolpath.values import MotionLimits

PLAIN = MotionLimits(
    axis_speed_mm_s=(1e4, 1e4, 1e4, 1e4),
    axis_acceleration_mm_s2=(1e5, 1e5, 1e5, 1e5),
    corner_deviation_mm=0.05,
)
START = "M83\nG1 F6000\n"


def limits(**changed: object) -> MotionLimits:
    held = {name: getattr(PLAIN, name) for name in PLAIN.__dataclass_fields__}
    return MotionLimits(**{**held, **changed})  # type: ignore[arg-type]


def seconds(gcode: str, at: MotionLimits = PLAIN) -> float:
    duty = read_bytes("case.gcode", (START + gcode).encode(), at).duty
    assert duty is not None
    return duty.whole.printing_s + duty.whole.travel_s


def durations(gcode: str, folder: Path, at: MotionLimits = PLAIN) -> list[float]:
    path = folder / "case.gcode"
    path.write_text(START + gcode)
    seen: list[float] = []
    read_file(path, at, watch=lambda moves: seen.extend(moves.duration_s.tolist()))
    return seen


def trapezoid(length: float, v: float, a: float, v0: float = 0.0, v1: float = 0.0) -> float:
    peak = math.sqrt((2 * a * length + v0 * v0 + v1 * v1) / 2)
    if peak <= v:
        return (2 * peak - v0 - v1) / a
    return (2 * v - v0 - v1) / a + (length - (2 * v * v - v0 * v0 - v1 * v1) / (2 * a)) / v


def accelerating(a: float) -> MotionLimits:
    return limits(printing_acceleration_mm_s2=a, travel_acceleration_mm_s2=a)


@pytest.mark.parametrize(
    ("length", "v", "a", "expected"),
    [
        (100, 100, 1000, 1.1),
        (20, 100, 1000, 0.3),
        (10, 100, 1000, 0.2),
        (5, 100, 1000, 0.1414214),
        (1, 150, 500, 0.0894427),
    ],
)
def test_one_move_from_rest_to_rest(length: float, v: float, a: float, expected: float) -> None:
    """Trapezoid L/v + v/a, triangle 2 sqrt(L/a)."""
    assert seconds(f"G1 X{length} E1 F{v * 60}\n", accelerating(a)) == pytest.approx(expected, abs=5e-8)


def test_a_move_entered_at_20_and_left_at_40_mm_s_takes_0_15_s(tmp_path: Path) -> None:
    moves = "G1 X50 E1 F1200\nG1 X60 E1 F6000\nG1 X160 E1 F2400\n"
    assert durations(moves, tmp_path)[1] == pytest.approx(0.15, abs=1e-9)


def test_twenty_collinear_pieces_take_the_time_of_the_whole() -> None:
    pieces = "".join(f"G1 X{i} E0.05\n" for i in range(1, 21))
    assert seconds(pieces) == pytest.approx(0.3, abs=1e-9)


CORNERS = [
    (60, 0.05, 1000, 7.071068),
    (90, 0.05, 1000, 10.986841),
    (120, 0.05, 1000, 17.977905),
    (170, 0.05, 1000, 114.409623),
    (60, 0.013, 500, 2.549510),
    (90, 0.013, 500, 3.961362),
    (120, 0.013, 500, 6.482026),
    (170, 0.013, 500, 41.250976),
]


def two_legs(inner_deg: float, length: float, feed: float) -> str:
    turn = math.radians(180 - inner_deg)
    x, y = length + length * math.cos(turn), length * math.sin(turn)
    return f"G1 X{length} E1 F{feed * 60}\nG1 X{x:.9f} Y{y:.9f} E1\n"


@pytest.mark.parametrize(("inner_deg", "deviation", "a", "corner"), CORNERS)
def test_corner_speed_is_that_of_the_tangent_circle(
    inner_deg: float, deviation: float, a: float, corner: float
) -> None:
    """R = delta s / (1 - s), s = sin(psi / 2); v = sqrt(a R)."""
    at = limits(corner_deviation_mm=deviation, printing_acceleration_mm_s2=a, travel_acceleration_mm_s2=a)
    expected = trapezoid(200, 150, a, 0, corner) + trapezoid(200, 150, a, corner, 0)
    assert seconds(two_legs(inner_deg, 200, 150), at) == pytest.approx(expected, abs=2e-7)


@pytest.mark.parametrize(("turn_deg", "corner"), [(45, 11.313708), (90, 8.0), (180, 4.0)])
def test_corner_speed_by_instant_velocity_change(turn_deg: float, corner: float) -> None:
    """Per axis v |u2 - u1| <= J, J = 8 mm/s."""
    at = limits(corner_rule="velocity_change", velocity_change_mm_s=(8.0, 8.0, 8.0, 1e4))
    expected = trapezoid(50, 100, 1000, 0, corner) + trapezoid(50, 100, 1000, corner, 0)
    assert seconds(two_legs(180 - turn_deg, 50, 100), at) == pytest.approx(expected, abs=2e-7)


def test_both_corner_rules_agree_at_the_deviation_that_geometry_gives() -> None:
    """At 90 degrees delta = J^2 (sqrt 2 - 1) / a: 0.02650967 mm for J 8, a 1000."""
    by_deviation = limits(corner_deviation_mm=0.02650967)
    by_change = limits(corner_rule="velocity_change", velocity_change_mm_s=(8.0, 8.0, 8.0, 1e4))
    legs = two_legs(90, 30, 100)
    assert seconds(legs, by_deviation) == pytest.approx(seconds(legs, by_change), abs=1e-7)


def test_two_legs_with_a_corner_a_stop_and_none() -> None:
    legs = two_legs(90, 5, 100)
    assert seconds(legs) == pytest.approx(0.2625710, abs=1e-7)
    assert seconds(legs, limits(corner_deviation_mm=0.0)) == pytest.approx(0.2828427, abs=1e-7)
    assert seconds(two_legs(180, 5, 100)) == pytest.approx(0.2, abs=1e-9)


def test_a_square_with_full_stops_takes_1_2_s() -> None:
    square = "G1 X20 E1\nG1 Y20 E1\nG1 X0 E1\nG1 Y0 E1\n"
    assert seconds(square, limits(corner_deviation_mm=0.0)) == pytest.approx(1.2, abs=1e-9)


def circle_of_chords(radius: float, count: int, decimals: int, turns: int = 1) -> str:
    points = (2 * math.pi * i / count for i in range(1, turns * count + 1))
    return f"G1 X{radius} E0.1\n" + "".join(
        f"G1 X{radius * math.cos(p):.{decimals}f} Y{radius * math.sin(p):.{decimals}f} E0.01 F18000\n" for p in points
    )


def test_a_finely_cut_arc_keeps_the_centripetal_limit_of_the_arc(tmp_path: Path) -> None:
    """Trap 1: radius 10 mm in 1 degree chords must run at sqrt(a r) = 100 mm/s, not at 1146.

    (Within a chord the head may gain a little and lose it again: half a per cent.)
    """
    middle = durations(circle_of_chords(10, 360, 6, turns=2), tmp_path)[200:520]
    assert sum(middle) == pytest.approx(320 * 0.1745307 / 99.998, rel=5e-3)


@pytest.mark.parametrize("chord_mm", [0.016, 0.05, 0.1])
def test_rounding_to_three_decimals_makes_no_corners_on_a_straight_line(chord_mm: float) -> None:
    """Trap 2: 16 micrometre pieces of a slanting line turn by some degrees in the file, not in the world."""
    count = round(40 / chord_mm)
    step_x, step_y = chord_mm * math.cos(0.5), chord_mm * math.sin(0.5)
    line = "".join(f"G1 X{i * step_x:.3f} Y{i * step_y:.3f} E0.01\n" for i in range(1, count + 1))
    assert seconds(line) == pytest.approx(trapezoid(40, 100, 1000), rel=0.05)


@pytest.mark.parametrize("chord_mm", [0.02, 0.05, 0.1])
def test_a_rounded_and_very_finely_cut_arc_runs_at_the_speed_of_the_arc(chord_mm: float, tmp_path: Path) -> None:
    """Both traps at once: sqrt(1000 x 10) = 100 mm/s round a radius of 10 mm."""
    count = round(2 * math.pi * 10 / chord_mm)
    times = durations(circle_of_chords(10, count, 3, turns=2), tmp_path)[count // 2 : count // 2 + count]
    assert sum(times) == pytest.approx(2 * math.pi * 10 / 100, rel=0.06)


@pytest.mark.parametrize(("word", "sign"), [("G2", -1), ("G3", 1)])
def test_an_arc_is_one_move_held_to_its_centripetal_limit(word: str, sign: int) -> None:
    """Half a circle of radius 40 mm from rest at sqrt(1000 x 40) = 200 mm/s: L/v + v/a."""
    expected = trapezoid(math.pi * 40, 200, 1000)
    assert seconds(f"{word} X80 Y0 I40 J0 E5 F18000\n") == pytest.approx(expected, abs=1e-8)
    assert seconds(f"{word} X0 Y{sign * 80} R40 E5 F18000\n") == pytest.approx(expected, abs=1e-8)


def test_a_tangent_line_into_an_arc_needs_no_slowing(tmp_path: Path) -> None:
    at = durations("G1 X50 E1\nG3 X70 Y20 I0 J20 E1\nG1 Y70 E1\n", tmp_path)
    whole = trapezoid(50 + 10 * math.pi + 50, 100, 1000)
    assert sum(at) == pytest.approx(whole, rel=1e-6)


def test_a_helix_is_as_long_as_its_unrolled_slope() -> None:
    length = math.hypot(2 * math.pi * 10, 5)
    v = 50.0
    assert seconds("G2 X0 Y0 Z5 I10 J0 E1 F3000\n") == pytest.approx(trapezoid(length, v, 1000), abs=1e-8)


def test_the_slowest_axis_holds_the_whole_move() -> None:
    """3-4-5: along z at most 12 mm/s and 200 mm/s2 means 15 mm/s and 250 mm/s2 along the path."""
    at = limits(axis_speed_mm_s=(1e4, 1e4, 12.0, 1e4), axis_acceleration_mm_s2=(1e5, 1e5, 200.0, 1e5))
    assert seconds("G1 X3 Z4 E1\n", at) == pytest.approx(trapezoid(5, 15, 250), abs=1e-9)


@pytest.mark.parametrize("window", [16, 256])
def test_a_machine_that_plans_few_moves_ahead_must_be_able_to_stop_within_them(window: int) -> None:
    """Over n pieces of length d it never runs faster than sqrt(2 a n d)."""
    piece, count = 0.016, 12000
    line = "".join(f"G1 X{piece * i:.3f} E0.001\n" for i in range(1, count + 1))
    top = min(100.0, math.sqrt(2 * 1000 * window * piece))
    measured = seconds(line, limits(look_ahead_moves=window))
    assert measured == pytest.approx(trapezoid(piece * count, top, 1000), rel=0.01)


def test_a_retraction_between_moves_stops_the_head() -> None:
    at = limits(retraction_acceleration_mm_s2=1500.0)
    moves = "G1 X10 E1\nG1 E-4 F2400\nG1 X20 F6000\nG1 E4 F2400\nG1 X30 E1 F6000\n"
    assert seconds(moves, at) == pytest.approx(3 * 0.2 + 2 * trapezoid(4, 40, 1500), abs=1e-9)


def test_limits_set_in_the_file_hold_from_there_on() -> None:
    moves = "G1 X10 E1\nG4 S0\nM204 S500\nG1 X0 E1\nG4 S0\nM203 X20\nG1 X10 E1\n"
    expected = 0.2 + trapezoid(10, 100, 500) + trapezoid(10, 20, 500)
    assert seconds(moves) == pytest.approx(expected, abs=1e-9)


def test_heating_takes_the_rise_over_the_rate_and_dwell_its_own_time() -> None:
    at = limits(nozzle_heating_c_s=2.0, bed_heating_c_s=0.5, nozzle_cooling_c_s=1.0, ambient_c=20.0)
    duty = read_bytes("heat", b"M190 S60\nM109 S200\nG4 P1500\nM109 R180\nG1 X1 E1 F600\n", at).duty
    assert duty is not None
    assert duty.whole.heating_s == pytest.approx(40 / 0.5 + 180 / 2 + 20)
    assert duty.whole.idle_s == pytest.approx(1.5)
