"""A few seconds of what ``benchmarks/fuzz_reader.py`` does by the million: nothing crashes, sums stay sums."""

import math
import random

from hypothesis import given, settings
from hypothesis import strategies as st
from mutations import MAKERS, SHARES, corpus

from feedwright.toolpath.read import read_bytes
from feedwright.toolpath.values import ADDITIVE, MotionLimits, Reading

BOUNDED = MotionLimits(look_ahead_moves=3, corner_rule="velocity_change")


def sound(reading: Reading) -> None:
    """Every number finite and where it must be; refused or counted, never neither."""
    assert (reading.duty is None) == bool(reading.refused_because)
    if reading.duty is None:
        return
    duty = reading.duty
    for name in ADDITIVE:
        value = getattr(duty.whole, name)
        assert math.isfinite(value), name
        assert value >= 0.0, name
    assert math.isfinite(duty.flow_max_mm3_s)
    assert duty.whole.filament_forward_mm * (1 + 1e-9) >= duty.filament_high_water_mm > 0
    assert len(duty.profile.slices) <= 256
    half = duty.share(0.5).duration_s
    assert math.isclose(half, 0.5 * duty.whole.duration_s, rel_tol=1e-6, abs_tol=1e-9)


@given(st.binary(max_size=300))
@settings(max_examples=300, deadline=None)
def test_no_bytes_crash_the_reader(data: bytes) -> None:
    sound(read_bytes("a", data))


@given(st.text("GMTNXYZEFSPIJR0123456789.-+ \n*;()%", max_size=200))
@settings(max_examples=100, deadline=None)
def test_no_text_in_the_letters_of_gcode_crashes_the_reader(text: str) -> None:
    sound(read_bytes("a", text.encode()))
    sound(read_bytes("a", text.encode(), BOUNDED))


def test_mutated_real_files_do_not_crash_the_reader() -> None:
    draw, pieces = random.Random(20), corpus()
    for _ in range(4000):
        data = draw.choices(MAKERS, SHARES)[0](draw, pieces)
        sound(read_bytes("a", data, BOUNDED if draw.random() < 0.3 else None))
