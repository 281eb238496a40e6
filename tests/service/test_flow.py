"""Flow by wall and by weight, and the orifice by a hanging strand."""

import math

import pytest

from feedwright.errors import BadInput
from feedwright.service.flow import flow_by_wall, flow_by_weight, orifice_by_strand


def test_a_wall_too_thick_asks_for_less_flow() -> None:
    sheet = flow_by_wall(0.42, [0.44, 0.45, 0.44, 0.45])
    assert sheet.flow_ratio.value == pytest.approx(0.42 / 0.445)
    assert sheet.change
    assert sheet.flow_ratio.low < sheet.flow_ratio.value < sheet.flow_ratio.high


def test_the_weight_of_a_length_gives_the_same_ratio() -> None:
    """One metre of 1.75 mm filament of 1.24 g/cm³ weighs 1.24 pi/4 1.75² = 2.9825 g."""
    whole = 1.24 * math.pi / 4 * 1.75**2
    assert flow_by_weight(1000, [whole], 1.24).flow_ratio.value == pytest.approx(1.0)
    assert flow_by_weight(1000, [0.95 * whole], 1.24, was_ratio=0.98).flow_ratio.value == pytest.approx(0.98 / 0.95)


def test_a_heavier_strand_means_a_wider_orifice() -> None:
    assert orifice_by_strand(1.0, [1.21], 0.4).value == pytest.approx(0.44)


@pytest.mark.parametrize(("readings", "words"), [([0.0165], "inch"), ([0.55, 0.55], "clog"), ([], "at least one")])
def test_what_is_no_calibration_is_refused(readings: list[float], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        flow_by_wall(0.42, readings)
