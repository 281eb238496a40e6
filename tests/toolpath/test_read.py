"""What each command is taken to mean, what is damage, and what is refused."""

import gzip
import os
import subprocess
import sys
from functools import reduce
from hashlib import sha256
from pathlib import Path

import pytest

from feedwright.errors import BadInput
from feedwright.toolpath import source
from feedwright.toolpath.read import READER_VERSION, TWO_THREADS_FROM_BYTES, read_bytes, read_file, read_many
from feedwright.toolpath.timed import TimedMoves
from feedwright.toolpath.values import Duty, MotionLimits, Reading

PRINT = "G21\nG90\nM83\nM104 S210\nG1 X10 Y10 Z0.2 F3000\n"


def reading(text: str | bytes, limits: MotionLimits | None = None) -> Reading:
    return read_bytes("case.gcode", text.encode() if isinstance(text, str) else text, limits)


def duty(text: str | bytes, limits: MotionLimits | None = None) -> Duty:
    found = reading(text, limits).duty
    assert found is not None, reading(text, limits)
    return found


def numbered(line: str) -> str:
    return f"{line}*{reduce(lambda total, char: total ^ ord(char), line, 0)}"


def high(text: str, limits: MotionLimits | None = None) -> float:
    return duty(text, limits).filament_high_water_mm


@pytest.mark.parametrize(
    "text",
    [
        "G1 X10 Y20 E5 F1200\n",
        "g1 x10 y20 e5 f1200\n",
        "G1X10Y20E5F1200\n",
        "G01 X+10. Y20.0 E05.000 F1200\n",
        "G1\tX10\tY20\tE5\tF1200\n",
        "  G1  X 10 Y 20 E 5 F 1200 \n",
        "G1 X10 (to the right) Y20 E5 F1200 ; done\n",
        "G1 X10 Y20 E5 F1200\r\n",
        "G1 X10 Y20 E5 F1200\r",
        "G1 X10 Y20 E5 F1200",
        "\ufeffG1 X10 Y20 E5 F1200\n",
        "%\nG1 X10 Y20 E5 F1200\n%\n",
        "N10 G1 X10 Y20 E5 F1200\n",
        numbered("N10 G1 X10 Y20 E5 F1200") + "\n",
        "G90 G21 G1 X10 Y20 E5 F1200\n",
        "G1 F1200\nX10 Y20 E5\n",
        "G91 G1 X10 Y20 E5 F1200\n",
    ],
)
def test_every_way_of_writing_the_same_move(text: str) -> None:
    written = duty(text)
    assert (written.moves, written.filament_high_water_mm) == (1, 5.0)
    assert written.box_high_mm == (10.0, 20.0, 0.0)
    assert reading(text).complete


@pytest.mark.parametrize(
    "line", ["M117 G1 X50 E9", "M118 G1 X100 E50", "; G1 X9 E9", "(G1 X9 E9)", "M23 E5.G", "M486 AE9", "N5 M117 E9"]
)
def test_the_first_command_decides_so_text_never_moves(line: str) -> None:
    assert high(f"{PRINT}G1 X20 E1\n{line}\n") == 1.0


def test_inches_scale_every_length_and_feed() -> None:
    assert duty("G20\nM83\nG1 X1 E1 F60\n").box_high_mm[0] == pytest.approx(25.4)
    assert high("G20\nM83\nG1 X1 E1 F60\n") == pytest.approx(25.4)


@pytest.mark.parametrize(("rule", "expected"), [("either", 3.0), ("own", 2.0), ("last", 3.0)])
def test_who_makes_filament_relative_is_the_machines_property(rule: str, expected: float) -> None:
    text = "M82\nG1 X1 E1 F600\nG91\nG1 X1 E2\n"
    assert high(text, MotionLimits(filament_mode_rule=rule)) == expected  # type: ignore[arg-type]


def test_g92_sets_the_filament_word_but_moves_nothing() -> None:
    assert high("M82\nG1 X1 E5 F600\nG92 E0\nG1 X2 E5\nG92.1\nG1 X3 E5\n") == 10.0


def test_g10_and_g11_pull_back_and_push_again_by_the_machines_length_once() -> None:
    whole = duty(PRINT + "G1 X20 E9\nG10\nG10\nG0 X30\nG11\nG11\nG1 X40 E1\n").whole
    assert (whole.filament_back_mm, whole.reversals) == (4.0, 1)


def test_g10_with_l_or_p_sets_coordinates_and_pulls_nothing() -> None:
    assert duty(PRINT + "G1 X20 E9\nG10 L2 P1 X5\nG1 X30 E1\n").whole.filament_back_mm == 0.0


def test_volumetric_filament_is_turned_into_length_and_back() -> None:
    area = 0.25 * 3.141592653589793 * 1.75**2
    assert high("M200 D1.75\nM83\nG1 X1 E10 F600\nM200 D0\nG1 X2 E1\n") == pytest.approx(10 / area + 1)


def test_a_flow_ratio_scales_what_the_drive_pushes() -> None:
    assert high("M83\nM221 S95\nG1 X1 E10 F600\n") == pytest.approx(9.5)


def test_a_dwell_of_p_is_in_milliseconds_and_of_s_in_seconds() -> None:
    assert duty(PRINT + "G1 X20 E1\nG4 P1500\nG4 S2\n").whole.idle_s == pytest.approx(3.5)


def test_homing_and_tool_changes_cost_the_machines_own_time() -> None:
    whole = duty("T0\nG28\nT1\nG1 X9 E1 F600\nT1\n", MotionLimits(homing_s=11.0, tool_change_s=7.0)).whole
    assert whole.idle_s == pytest.approx(18.0)


def test_time_at_each_temperature_leaves_out_the_waits_and_counts_heat_ups() -> None:
    text = "M140 S60\nM190 S60\nM109 S200\nG4 S10\nM104 S220\nG4 S5\nM104 S0\nG4 S3\nM109 S200\nG1 X9 E1 F600\n"
    found = duty(text).whole
    assert dict(found.nozzle_s)[220.0] == pytest.approx(5.0)
    assert dict(found.nozzle_s)[200.0] == pytest.approx(10.0 + found.printing_s)
    assert (found.nozzle_heat_ups, found.bed_heat_ups) == (2, 1)
    assert duty(text).nozzle_c_max == 220.0


def test_the_fan_is_counted_as_at_full_speed() -> None:
    assert duty(PRINT + "G1 X20 E1\nM106 S127.5\nG4 S10\nM107\nG4 S9\n").whole.part_fan_s == pytest.approx(5.0)


@pytest.mark.parametrize("word", ["G2", "G3"])
def test_an_arc_that_ends_at_its_own_angle_but_another_radius_is_a_full_circle(word: str) -> None:
    """Met by fuzzing: its sweep came out as nothing."""
    assert duty(f"M83\nG1 X10 F3000\n{word} X10.1 Y0 I-10 J0 E5\n").whole.travel_x_mm == pytest.approx(50, abs=0.2)


def test_the_box_holds_the_bulge_of_an_arc() -> None:
    found = duty("M83\nG1 X10 Y0 F3000\nG3 X-10 Y0 I-10 J0 E5\n")
    assert found.box_high_mm[:2] == pytest.approx((10.0, 10.0))


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ("N3 G1 X50 E5*1", "checksum"),
        ("G1 X50 Y E5", "cannot be read"),
        ("\x01\x02G1", "cannot be read"),
        ("START_PRINT BED=60", "not a G-code command"),
        ("G2 X50 Y50 R1 E1", "no such arc"),
        ("G18\nG2 X50 Z5 I20 K3 E1", "another plane"),
        ("G1 X1.5e-5", "exponent"),
        ("G1 X1.5E-5", "exponent"),
        ("T1 M6", "second command"),
        ("G38.2 Z-5", "not read here"),
    ],
)
def test_what_is_odd_is_remarked_with_its_line(line: str, word: str) -> None:
    text = PRINT + "G1 X20 E1\n" + line + "\nG1 X30 E1\nM104 S0\n"
    at = 7 + line.count("\n")
    assert any(remark.line == at and word in remark.text for remark in reading(text).warnings), reading(text).warnings


@pytest.mark.parametrize("line", ["N3 G1 X50 E5*1", "G1 X50 Y E5", "\x01\x02G1", "G1 X9999999 E1", "x" * 3_000_000])
def test_damage_marks_the_reading_incomplete_but_keeps_the_rest(line: str) -> None:
    found = reading(PRINT + "G1 X20 E1\n" + line + "\nG1 X30 E1\nM104 S0\n")
    assert not found.complete
    assert found.duty is not None
    assert found.duty.whole.filament_forward_mm >= 2.0
    assert found.lines == 9


def test_a_line_whose_checksum_fails_is_left_out() -> None:
    assert high(PRINT + "G1 X20 E1\nN3 G1 X50 E5*1\n" + numbered("N4 G1 X30 E2") + "\n") == 3.0


@pytest.mark.parametrize("end", ["G1 X30 Y", "G1 X30 E-", "G"])
def test_a_last_line_cut_within_a_word_marks_the_file_cut_off(end: str) -> None:
    found = reading(PRINT + "G1 X20 E1\nM104 S0\nG0 X5\n" + end)
    assert not found.complete
    assert "within a word" in found.warnings[0].text


def test_a_file_that_ends_while_printing_hot_is_incomplete_and_one_left_hot_is_not() -> None:
    assert not reading(PRINT + "G1 X20 E1\n").complete
    left_hot = reading(PRINT + "G1 X20 E1\nG1 E-4\n")
    assert left_hot.complete
    assert "leaves the nozzle at 210" in left_hot.warnings[0].text


def test_many_like_remarks_are_capped_and_counted() -> None:
    warnings = reading(PRINT + "G1 X20 E1\n" + "MACRO\n" * 3000 + "G1 X21 E1\n" * 3500).warnings
    assert len(warnings) < 12
    assert any("more lines" in remark.text for remark in warnings)


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"", "empty"),
        (b"; nothing\n\n", "empty"),
        (b"Dear Sir,\nplease find enclosed the parts.\nYours\n", "text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "image"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "image"),
        (b"PK\x03\x04\x14\x00", "binary"),
        (b"G1 X1\x00\x00\x00\x00", "binary"),
        (b"G21\nM3 S12000\nG0 Z5\nG1 Z-2 F100\nG1 X50\nM5\n", "milling"),
        (b"G21\nM4\nG1 X5 S200 F900\nG1 X9 S0\nG1 X5 S200\nM5\n", "laser"),
        (b"G21\nM300 S30\nG1 X5 F900\nG1 X9\n", "drawing"),
    ],
)
def test_what_is_no_filament_toolpath_is_refused_with_its_kind_and_the_reason(data: bytes, kind: str) -> None:
    for packed in (data, gzip.compress(data)):
        found = read_bytes("a", packed)
        assert (found.kind, found.duty) == (kind, None)
        assert found.refused_because.startswith("not a filament toolpath: ")


def test_gzip_is_read_by_its_magic_and_a_cut_one_gives_what_was_there() -> None:
    text = (PRINT + "".join(f"G1 X{i % 90} Y{i % 77} E1\n" for i in range(20000)) + "M104 S0\n").encode()
    packed = gzip.compress(text)
    assert reading(packed).duty == reading(text).duty
    cut = reading(packed[: len(packed) // 2])
    assert not cut.complete
    assert cut.duty is not None
    assert 0 < cut.duty.moves < 20000
    assert "cut off or broken" in cut.warnings[0].text
    broken = reading(packed[:300] + b"\x00\xff" * 50 + packed[400:])
    assert not broken.complete or broken.duty is None


def test_a_gzip_is_unpacked_up_to_a_bound_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """A small packed file may unpack to terabytes."""
    text = (PRINT + "G1 X20 E1\nG1 X10 E1\n" * 200_000).encode()
    packed = gzip.compress(text)
    whole = duty(packed)
    monkeypatch.setattr(source, "MOST_UNPACKED_BYTES", len(text) // 2)
    found = reading(packed)
    assert found.duty is not None
    assert not found.complete
    assert "unpacks to more than" in found.warnings[0].text
    assert 0 < found.duty.filament_high_water_mm <= 0.5 * whole.filament_high_water_mm
    assert (found.sha256, found.bytes_count) == (sha256(packed).hexdigest(), len(packed)), "of the whole file"
    monkeypatch.setattr(source, "MOST_UNPACKED_BYTES", len(text))
    assert reading(packed).duty == whole


def test_comments_in_any_script_do_not_make_a_print_binary() -> None:
    """Wherever the reader's first look cuts a letter of two, three or four bytes in two."""
    for letters in ("\u041f\u0435\u0447\u0430\u0442\u044c", "\u6253\u5370", "\U0001f5a8"):
        for pad in range(4):
            comment = "x" * pad + "".join(f"; {letters * 9}\n" for _ in range(80))
            found = reading("; " + comment + PRINT + "G1 X20 E1\nM104 S0\n")
            assert (found.kind, found.complete) == ("filament", True), (letters, pad)
    latin = ";\xe4\xf6\xfc\xdf\xc4\n".encode("latin-1") * 900
    assert reading(latin + PRINT.encode()).kind == "binary", "bytes of no known text"


def test_two_gzip_members_are_one_file() -> None:
    assert reading(gzip.compress(PRINT.encode()) + gzip.compress(b"G1 X20 E1\nM104 S0\n")).complete


def test_a_file_that_cannot_be_opened_is_a_bad_input(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="check the path"):
        read_file(tmp_path / "none.gcode")
    with pytest.raises(BadInput):
        read_file(tmp_path)


def test_many_files_are_read_side_by_side(tmp_path: Path) -> None:
    paths = [tmp_path / f"{n}.gcode" for n in range(6)]
    for n, path in enumerate(paths):
        path.write_text(PRINT + "G1 X20 E1\n" * (n + 1))
    told: list[Path] = []
    found = dict(read_many(paths, workers=2, on_done=told.append))
    assert sorted(told) == sorted(found) == paths
    assert [found[path].sha256 for path in paths] == [read_file(path).sha256 for path in paths]


def test_progress_tells_every_byte(tmp_path: Path) -> None:
    path = tmp_path / "a.gcode"
    path.write_text(PRINT * 90_000)
    told: list[int] = []
    assert read_file(path, progress=told.append).bytes_count == sum(told) == path.stat().st_size


@pytest.mark.parametrize("threads", [1, 2])
def test_watched_moves_add_up_to_the_duty(tmp_path: Path, threads: int) -> None:
    path = tmp_path / "a.gcode"
    body = "".join(f"G1 X{i % 97} Y{i % 89} E0.{i % 7}\n" + ("G4 P5\n" if i % 40 == 0 else "") for i in range(40000))
    path.write_text("M109 S200\n" + PRINT + body * 8)
    assert path.stat().st_size > TWO_THREADS_FROM_BYTES
    chunks: list[TimedMoves] = []
    found = read_file(path, threads=threads, watch=chunks.append).duty
    assert found is not None
    assert sum(len(moves.line) for moves in chunks) == found.moves
    assert sum(float(moves.filament_mm.sum()) for moves in chunks) == pytest.approx(found.filament_high_water_mm)
    last = chunks[-1]
    assert last.begin_s[-1] + last.duration_s[-1] == pytest.approx(found.whole.duration_s, rel=1e-9)
    assert max(float(moves.flow_mm3_s[moves.printing].max()) for moves in chunks) == pytest.approx(found.flow_max_mm3_s)
    assert {float(at_c) for moves in chunks for at_c in moves.nozzle_c} == {210.0}


def test_the_reader_starts_without_its_compiler() -> None:
    code = (
        "import sys, feedwright.toolpath.values, feedwright.toolpath.read; print({'numba', 'numpy'} & set(sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=dict(os.environ)
    )
    assert done.stdout.strip() == "set()"


def test_every_reading_names_the_reader_that_made_it() -> None:
    assert reading(PRINT).reader == reading(b"\x89PNG\x00").reader == READER_VERSION
