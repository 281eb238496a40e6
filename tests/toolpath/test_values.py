"""Shares of a print, and limits that make no sense."""

import pytest
from gcode_strategies import programs
from hypothesis import given, settings
from hypothesis import strategies as st

from feedwright.errors import OutOfRange
from feedwright.toolpath.read import read_bytes
from feedwright.toolpath.values import ADDITIVE, MotionLimits, Stretch

HEATED = "M140 S60\nM109 S205\nM106\nM83\nG1 X100 Y100 E40 F600\nM104 S190\n"


def close(one: Stretch, other: Stretch) -> None:
    for name in ADDITIVE:
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-9, abs=1e-9), name
    assert dict(one.nozzle_s) == pytest.approx(dict(other.nozzle_s), rel=1e-9, abs=1e-9)
    assert dict(one.bed_s) == pytest.approx(dict(other.bed_s), rel=1e-9, abs=1e-9)


@given(programs, st.floats(0, 1))
@settings(max_examples=60, deadline=None)
def test_a_share_and_the_rest_add_up_to_the_whole(text: str, fraction: float) -> None:
    duty = read_bytes("a", (HEATED + text).encode()).duty
    assert duty is not None
    first = duty.share(fraction)
    assert first.duration_s == pytest.approx(fraction * duty.whole.duration_s, rel=1e-9, abs=1e-9)
    everything = Stretch()
    for piece in duty.profile.slices:
        everything += piece
    close(everything, duty.whole)
    close(duty.share(1.0), duty.whole)
    for name in ADDITIVE:
        assert -1e-9 <= getattr(first, name) <= getattr(duty.whole, name) + 1e-6


@given(programs)
@settings(max_examples=40, deadline=None)
def test_slices_are_equal_in_time_but_the_last(text: str) -> None:
    duty = read_bytes("a", (HEATED + text).encode()).duty
    assert duty is not None
    *full, last = duty.profile.slices
    assert len(duty.profile.slices) <= 256
    assert all(piece.duration_s == pytest.approx(duty.profile.slice_s, rel=1e-9) for piece in full)
    assert last.duration_s <= duty.profile.slice_s * (1 + 1e-9)


def test_a_share_of_one_long_even_move_is_in_straight_proportion() -> None:
    duty = read_bytes("a", b"M83\nG1 X100000 E1000 F60\n").duty
    assert duty is not None
    assert duty.share(0.37).filament_forward_mm == pytest.approx(370, rel=1e-4)


def test_a_share_beyond_the_whole_is_refused() -> None:
    duty = read_bytes("a", b"M83\nG1 X10 E1 F60\n").duty
    assert duty is not None
    with pytest.raises(OutOfRange):
        duty.share(1.01)


@pytest.mark.parametrize(
    "wrong",
    [
        {"axis_speed_mm_s": (300.0, 0.0, 12.0, 60.0)},
        {"printing_acceleration_mm_s2": -1.0},
        {"nozzle_heating_c_s": 0.0},
        {"filament_diameter_mm": float("nan")},
        {"look_ahead_moves": -1},
    ],
)
def test_limits_that_no_machine_has_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(OutOfRange):
        MotionLimits(**wrong)  # type: ignore[arg-type]
