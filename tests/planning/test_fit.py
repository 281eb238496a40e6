"""Files written for the purpose are held against limits of round numbers; each trouble is found at its line."""

import math
from pathlib import Path

import numpy as np
import pytest

from feedwright.physics.values import FlowLimit
from feedwright.planning.fit import CHEWED_PASSES, FileWalk, FileWalker, FitLimits
from feedwright.toolpath.read import read_file

FLAT = FlowLimit(np.array([0.0, 400.0]), np.array([10.0, 10.0]), np.zeros(2), np.zeros(2), ("drive grip",) * 2)
LIMITS = FitLimits(FLAT, 200.0, 230.0, 240.0, 260.0, 1.5, 6.0)
HEAD = "M83\nM109 S210\nG1 Z0.2 F600\nG1 X0 Y0 F3000\n"
AREA_MM2 = math.pi / 4 * 1.75**2


def walk(text: str, folder: Path, limits: FitLimits = LIMITS) -> FileWalk:
    path = folder / "a.gcode"
    path.write_text(HEAD + text)
    walker = FileWalker(limits)
    assert read_file(path, watch=walker.take).duty is not None
    return walker.done()


def line_of(text: str) -> int:
    return HEAD.count("\n") + 1 + text.count("\n")


def fed(flow_mm3_s: float, mm: float = 100.0, mm_s: float = 50.0) -> str:
    """A straight of that length, printed at that flow when up to speed."""
    return f"E{flow_mm3_s / AREA_MM2 * mm / mm_s:.6f} F{mm_s * 60:.0f}"


def test_a_file_within_the_limits_gives_no_trouble(tmp_path: Path) -> None:
    done = walk(f"G1 X100 {fed(9.9)}\nG1 X0 {fed(5)}\n", tmp_path)
    assert done.troubles == ()
    assert done.stretches == ()
    assert done.over_s == 0
    assert done.printing_s > 4


def test_a_stretch_over_the_flow_limit_is_told_with_its_place(tmp_path: Path) -> None:
    before = f"G1 X100 {fed(5)}\n" + "G1 X0 F3000\n"
    after = f"G1 X100 {fed(15)}\nG1 X0 {fed(5)}\nG4 S30\nG1 X100 {fed(12)}\n"
    done = walk(before + after, tmp_path)
    assert [stretch.line for stretch in done.stretches] == [line_of(before), line_of(before) + 3]
    assert done.stretches[0].flow_mm3_s == pytest.approx(15, rel=1e-3)
    assert done.stretches[0].limit_mm3_s == 10
    assert done.over_s == pytest.approx(4.1, abs=0.2)
    trouble = done.troubles[0]
    assert (trouble.kind, trouble.grave, trouble.line) == ("flow", True, line_of(before))
    assert "15.0 mm³/s" in trouble.words


def test_a_flow_limit_follows_the_temperature(tmp_path: Path) -> None:
    steep = FlowLimit(np.array([200.0, 220.0]), np.array([5.0, 15.0]), np.zeros(2), np.zeros(2), ("drive grip",) * 2)
    limits = FitLimits(steep, 190.0, 230.0, 240.0, 260.0, 1.5, 6.0)
    cold = walk(f"M104 S202\nG1 X100 {fed(9)}\n", tmp_path, limits)
    warm = walk(f"M104 S220\nG1 X100 {fed(9)}\n", tmp_path, limits)
    assert cold.stretches[0].limit_mm3_s == pytest.approx(6)
    assert not warm.stretches


@pytest.mark.parametrize(
    ("text", "kind", "grave"),
    [
        (f"M104 S190\nG1 X100 {fed(5)}\n", "too cold", True),
        (f"M104 S235\nG1 X100 {fed(5)}\n", "too hot", False),
        (f"M104 S250\nG1 X100 {fed(5)}\n", "liner", False),
        (f"M104 S270\nG1 X100 {fed(5)}\n", "liner", True),
        (f"G1 E-1 F1800\nG1 X50 F9000\nG1 E1 F1800\nG1 X100 {fed(5, 50)}\n", "retraction short", False),
        (f"G1 E-9 F1800\nG1 X50 F9000\nG1 E9 F1800\nG1 X100 {fed(5, 50)}\n", "retraction long", False),
    ],
)
def test_each_trouble_is_found_where_it_begins(tmp_path: Path, text: str, kind: str, grave: bool) -> None:
    start = f"G1 X10 {fed(5, 10)}\n"
    done = walk(start + text, tmp_path)
    found = {trouble.kind: trouble for trouble in done.troubles}
    assert kind in found
    assert found[kind].grave is grave
    assert found[kind].line in (line_of(start), line_of(start) + 1)


def test_a_pull_made_in_pieces_is_one_retraction(tmp_path: Path) -> None:
    done = walk(f"G1 E-1 F1800\nG1 X20 E-1\nG1 E2\nG1 X100 {fed(5, 80)}\n", tmp_path)
    assert done.retractions == 1
    assert done.troubles == ()


def test_unloading_is_no_retraction_that_is_too_long(tmp_path: Path) -> None:
    assert walk(f"G1 X100 {fed(5)}\nG1 E-80 F1800\nG1 E80\nG1 X0 {fed(5)}\n", tmp_path).troubles == ()


def test_filament_run_back_and_forth_at_one_place_is_chewed(tmp_path: Path) -> None:
    back_and_forth = "G1 E-3 F1800\nG1 E3\n"
    few = walk(f"G1 X100 {fed(5)}\n" + back_and_forth * ((CHEWED_PASSES - 2) // 2), tmp_path)
    many = walk(f"G1 X100 {fed(5)}\n" + back_and_forth * (CHEWED_PASSES // 2), tmp_path)
    assert few.troubles == ()
    assert many.troubles[0].kind == "chewed"
    assert "3 mm of filament" in many.troubles[0].words


def test_the_picture_covers_a_print_of_any_length(tmp_path: Path) -> None:
    line = f"G1 X100 {fed(5)}\nG1 X0 {fed(8)}\n"
    short, long = walk(line, tmp_path), walk(line * 400, tmp_path)
    for done in (short, long):
        flow = [value for value in done.picture.flow_mm3_s if value is not None]
        assert max(flow) == pytest.approx(8, rel=1e-3)
        assert len(done.picture.flow_mm3_s) * done.picture.slice_s >= done.printing_s - done.picture.slice_s
    assert len(long.picture.flow_mm3_s) > 200
