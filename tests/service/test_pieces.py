"""Test pieces on random machines: never outside the box or the limits, and our own reader finds what was asked."""

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedwright.errors import BadInput
from feedwright.service.piece_writer import PieceBounds
from feedwright.service.pieces import PIECES, make_piece
from feedwright.toolpath.read import read_bytes
from feedwright.toolpath.values import MotionLimits

USUAL = PieceBounds(
    box_mm=(230.0, 230.0, 240.0), nozzle_c=205.0, nozzle_low_c=180.0, nozzle_high_c=220.0, nozzle_limit_c=260.0,
    bed_c=60.0, flow_mm3_s=9.0, flow_cold_mm3_s=5.0, retract_mm=3.0, retract_low_mm=1.5, retract_high_mm=5.0,
    speed_mm_s=200.0,
)  # fmt: skip


@st.composite
def some_bounds(draw: st.DrawFn) -> PieceBounds:
    low = draw(st.floats(150, 260))
    high = low + draw(st.floats(10, 60))
    limit = draw(st.sampled_from([240.0, 260.0, math.inf]))
    usual = draw(st.floats(low, high))
    retract = sorted(draw(st.lists(st.floats(0.2, 8.0), min_size=3, max_size=3)))
    return PieceBounds(
        box_mm=(draw(st.floats(60, 600)), draw(st.floats(60, 600)), draw(st.floats(60, 600))),
        nozzle_c=usual, nozzle_low_c=low, nozzle_high_c=high, nozzle_limit_c=limit,
        bed_c=draw(st.floats(0, 120)), flow_mm3_s=draw(st.floats(0.3, 60)), flow_cold_mm3_s=draw(st.floats(0.3, 30)),
        retract_low_mm=retract[0], retract_mm=retract[1], retract_high_mm=retract[2],
        speed_mm_s=draw(st.floats(20, 600)), filament_mm=draw(st.sampled_from([1.75, 2.85])),
        orifice_mm=draw(st.sampled_from([0.25, 0.4, 0.6, 0.8])), flow_ratio=draw(st.floats(0.8, 1.2)),
        bed=draw(st.sampled_from(["rectangular", "round"])),
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(some_bounds(), st.sampled_from(sorted(PIECES)))
def test_no_piece_leaves_the_box_or_the_limits_of_its_machine(bounds: PieceBounds, name: str) -> None:
    try:
        piece = make_piece(name, bounds)
    except BadInput:  # the liner bears less than the material wants
        assert bounds.nozzle_limit_c < bounds.nozzle_high_c + 2
        return
    heights = [float(value) for value in re.findall(r"\bZ(-?[\d.]+)", piece.text)]
    assert 0 <= min(heights) <= max(heights) <= bounds.box_mm[2]
    places = [(float(x), float(y)) for x, y in re.findall(r"\bX(-?[\d.]+) Y(-?[\d.]+)", piece.text)]
    assert len(places) == piece.text.count(" X"), "each move names both, so that each place is known"
    if bounds.bed == "round":
        assert max(math.hypot(x, y) for x, y in places) <= min(bounds.box_mm[:2]) / 2
    else:
        assert all(0 <= x <= bounds.box_mm[0] and 0 <= y <= bounds.box_mm[1] for x, y in places)
    heats = [float(value) for value in re.findall(r"M10[49] S(\d+)", piece.text)]
    assert max(heats) <= min(bounds.nozzle_high_c, bounds.nozzle_limit_c)
    assert heats[-1] == 0
    lines = piece.text.splitlines()
    assert lines[-1] == "M84"
    assert "M140 S0" in lines


@settings(max_examples=25, deadline=None)
@given(some_bounds(), st.sampled_from(sorted(PIECES)), st.sampled_from(["own", "either", "last"]))
def test_our_own_reader_finds_the_duty_that_was_asked(bounds: PieceBounds, name: str, rule: str) -> None:
    try:
        piece = make_piece(name, bounds)
    except BadInput:
        return
    limits = MotionLimits(filament_mode_rule=rule, filament_diameter_mm=bounds.filament_mm)  # type: ignore[arg-type]
    duty = read_bytes("piece.gcode", piece.text.encode(), limits).duty
    assert duty is not None
    assert duty.whole.filament_net_mm == pytest.approx(piece.filament_mm, abs=1e-6)
    assert duty.whole.reversals == pytest.approx(piece.retractions)
    assert duty.box_low_mm == pytest.approx(piece.low_mm, abs=1e-6)
    assert duty.box_high_mm == pytest.approx(piece.high_mm, abs=1e-6)
    assert duty.nozzle_c_max == piece.nozzle_c_max


def test_the_first_line_of_a_round_bed_lies_clear_of_the_piece() -> None:
    for name in PIECES:
        piece = make_piece(name, replace(USUAL, box_mm=(180.0, 180.0, 320.0), bed="round"))
        front = [float(y) for y in re.findall(r"G1 X-?[\d.]+ Y(-?[\d.]+)", piece.text)]
        assert front[0] < min(front[1:]) - 1, name


@pytest.mark.parametrize("flow_ratio", [0.9, 1.0, 1.15])
def test_the_flow_piece_asks_for_the_flows_it_names(flow_ratio: float) -> None:
    piece = make_piece("flow", replace(USUAL, flow_ratio=flow_ratio))
    duty = read_bytes("piece.gcode", piece.text.encode(), MotionLimits()).duty
    assert duty is not None
    assert duty.flow_max_mm3_s == pytest.approx(piece.bands[-1].value, rel=0.01)
    assert piece.bands[-1].value < USUAL.flow_mm3_s


@pytest.mark.parametrize("name", sorted(PIECES))
def test_every_piece_says_how_to_judge_it_and_to_stay_beside_it(name: str) -> None:
    piece = make_piece(name, USUAL)
    assert piece.judge
    assert any("Stay beside" in words for words in piece.cautions)
    assert piece.text.isascii()


@pytest.mark.parametrize(
    ("change", "words"),
    [({"box_mm": (40.0, 230.0, 240.0)}, "60 mm each way"), ({"flow_mm3_s": 0.05}, "sustains too little")],
)
def test_what_cannot_be_printed_is_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        make_piece("flow", replace(USUAL, **change))  # type: ignore[arg-type]
    with pytest.raises(BadInput, match="first_layer"):
        make_piece("vase", USUAL)
