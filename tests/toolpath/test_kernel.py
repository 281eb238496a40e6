"""The compiled loop against the plain reader of ``oracle.py``."""

import gzip
from dataclasses import replace
from pathlib import Path

import oracle
import pytest
from gcode_strategies import programs
from hypothesis import example, given, settings
from hypothesis import strategies as st

from feedwright.toolpath.outcome import outcome
from feedwright.toolpath.read import read_bytes
from feedwright.toolpath.single_pass import SinglePass, whole_lines
from feedwright.toolpath.source import Source
from feedwright.toolpath.values import Duty, MotionLimits

DATA = Path(__file__).parents[1] / "data" / "toolpaths"
FILAMENT = [path for path in sorted(DATA.glob("d*")) if path.name[:3] not in ("d02", "d03", "d10", "d19")]
WIDE = MotionLimits(axis_acceleration_mm_s2=(1500.0, 1500.0, 200.0, 3000.0))
JUMPY = MotionLimits(corner_rule="velocity_change")


def duty_of(text: str, limits: MotionLimits, *, straight: bool = True) -> Duty:
    """The duty whatever the kind: also of programs that lay no filament."""
    whole = SinglePass(limits, straight=straight)
    whole.run(whole_lines([text.encode()], whole.reading))
    return whole.duty()


@given(programs, st.sampled_from([WIDE, JUMPY]))
@settings(max_examples=150, deadline=None)
@example("G1 X1 F600\nG1 X0", WIDE)
def test_made_up_programs_read_as_the_plain_reader_reads_them(text: str, limits: MotionLimits) -> None:
    duty = duty_of(text, limits)
    judge = oracle.run(text, limits)
    fed = oracle.feed(judge)
    times = oracle.seconds(judge)
    assert duty.moves == len(judge.legs)
    assert duty.filament_high_water_mm == pytest.approx(fed["high"], abs=1e-9)
    assert duty.whole.filament_forward_mm == pytest.approx(fed["forward"], abs=1e-9)
    assert duty.whole.filament_back_mm == pytest.approx(fed["back"], abs=1e-9)
    assert duty.whole.reversals == fed["turns"]
    assert duty.layers == oracle.layers(judge)
    assert duty.whole.printing_s + duty.whole.travel_s == pytest.approx(sum(times), rel=1e-7, abs=1e-9)
    printing = sum(t for t, leg in zip(times, judge.legs, strict=True) if leg.printing)
    assert duty.whole.printing_s == pytest.approx(printing, rel=1e-7, abs=1e-9)
    for axis, name in enumerate(("travel_x_mm", "travel_y_mm", "travel_z_mm")):
        assert getattr(duty.whole, name) == pytest.approx(sum(leg.axes[axis] for leg in judge.legs), rel=1e-5, abs=1e-6)


@given(programs)
@settings(max_examples=100, deadline=None)
def test_passes_over_the_drive_are_those_of_walking_every_cell(text: str) -> None:
    judge = oracle.run(text, WIDE)
    counted = oracle.passes(judge)
    duty = duty_of(text, WIDE)
    found = {passes: round(mm / oracle.CELL_MM) for passes, mm in enumerate(duty.passes_mm) if mm > 0}
    assert found == counted


@given(programs)
@settings(max_examples=100, deadline=None)
def test_the_straight_road_and_the_general_one_read_alike(text: str) -> None:
    assert duty_of(text, WIDE) == duty_of(text, WIDE, straight=False)


@given(programs, st.integers(1, 40))
@settings(max_examples=50, deadline=None)
def test_where_the_bytes_are_cut_into_chunks_changes_nothing(text: str, size: int) -> None:
    data = text.encode()
    whole = SinglePass(WIDE)
    whole.run(whole_lines([data[at : at + size] for at in range(0, len(data), size)], whole.reading))
    one, other = whole.duty(), duty_of(text, WIDE)
    assert one.whole.duration_s == pytest.approx(other.whole.duration_s, rel=1e-12)
    assert (one.moves, one.layers, one.passes_mm) == (other.moves, other.layers, other.passes_mm)


@pytest.mark.parametrize("path", FILAMENT, ids=lambda path: path.name[:3])
def test_real_files_read_as_the_plain_reader_reads_them(path: Path) -> None:
    """Durations within 4 %: the plain reader takes turns that are only rounding for corners."""
    data = path.read_bytes()
    text = (gzip.decompress(data) if path.suffix == ".gz" else data).decode("latin-1")
    reading = read_bytes(path.name, data)
    duty = reading.duty
    assert duty is not None
    judge = oracle.run(text, MotionLimits())
    fed = oracle.feed(judge)
    assert duty.moves == len(judge.legs)
    assert duty.filament_high_water_mm == pytest.approx(fed["high"], rel=1e-9)
    assert duty.whole.filament_net_mm == pytest.approx(fed["forward"] - fed["back"], rel=1e-7)
    assert duty.whole.reversals == fed["turns"]
    assert duty.layers == oracle.layers(judge)
    if "M203" not in text and "M205" not in text:
        moving = duty.whole.printing_s + duty.whole.travel_s
        assert moving == pytest.approx(sum(oracle.seconds(judge)), rel=0.04)


def test_two_threads_give_what_one_gives() -> None:
    text = "".join(f"G1 X{i % 97} Y{i % 89} E0.{i % 7}\n" + ("M106 S99\n" if i % 50 == 0 else "") for i in range(80000))
    one, two = SinglePass(WIDE), SinglePass(WIDE)
    blocks = [text.encode()[at : at + 300_000] for at in range(0, len(text), 300_000)]
    one.run(whole_lines(blocks, one.reading))
    two.run_in_two_threads(whole_lines(blocks, two.reading))
    assert one.duty().whole.duration_s == pytest.approx(two.duty().whole.duration_s, rel=1e-9)
    assert one.duty().passes_mm == two.duty().passes_mm
    assert outcome("a", Source([]), "", one).warnings == outcome("a", Source([]), "", two).warnings


def _plain(count: int) -> str:
    return "".join(f"G1 X{i % 97} Y{i % 89} E0.{i % 7}\n" for i in range(count))


HANDED = {
    "more commands between two moves than a block holds": _plain(500) + ("M106 S9\nM107\n" * 3000 + _plain(3)) * 4,
    "nothing but commands": "M106 S9\n" * 30_000,
    "arcs throughout": "".join(f"G{2 + i % 2} X{i % 50} Y{i % 40} R60 E0.1\nG1 X{i % 9}\n" for i in range(30_000)),
    "arcs here and there": (_plain(900) + "G2 X10 Y10 R30 E1\nM106 S3\n") * 60,
    "one long straight run": "".join(f"G1 X{i * 0.002:.3f} E0.001\n" for i in range(60_000)),
}


@pytest.mark.parametrize("text", HANDED.values(), ids=HANDED)
@pytest.mark.parametrize("window", [0, 16, 4000])
def test_what_is_left_of_a_block_goes_before_the_next(text: str, window: int) -> None:
    limits = replace(WIDE, look_ahead_moves=window)
    one, two = SinglePass(limits), SinglePass(limits)
    blocks = [text.encode()[at : at + 200_000] for at in range(0, len(text), 200_000)]
    one.run(whole_lines(blocks, one.reading))
    two.run_in_two_threads(whole_lines(blocks, two.reading))
    first, second = one.duty(), two.duty()
    assert first.moves == second.moves
    for name in ("printing_s", "travel_s", "idle_s", "part_fan_s", "filament_forward_mm", "travel_x_mm", "travel_y_mm"):
        assert getattr(first.whole, name) == pytest.approx(getattr(second.whole, name), rel=1e-9), name
