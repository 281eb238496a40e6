"""The generated toolpaths: plain G-code whose filament is the sum of its E words."""

import math
import re
from pathlib import Path

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.demo.toolpath_maker import THINGS, Thing, toolpath_of
from feedwright.toolpath.read import read_file
from feedwright.toolpath.values import MotionLimits

BOTH_WAYS = (next(thing for thing in THINGS if not thing.spiral), next(thing for thing in THINGS if thing.spiral))


def test_things_are_named_once_and_made_of_known_materials() -> None:
    assert len({thing.name for thing in THINGS}) == len(THINGS)
    assert {thing.material for thing in THINGS} <= load_catalogue().materials.keys()


@pytest.mark.parametrize("thing", BOTH_WAYS, ids=lambda thing: thing.name)
def test_the_reader_finds_the_filament_that_the_words_add_up_to(thing: Thing, tmp_path: Path) -> None:
    """Relative E words, added by a plain search for numbers: forward, back, and the highest point of their sum."""
    text = toolpath_of(thing)
    assert text.isascii()
    path = tmp_path / "thing.gcode"
    path.write_text(text)
    words = [float(word) for word in re.findall(r"^G1 .*?E(-?[\d.]+)", text, re.MULTILINE)]
    highest = at = 0.0
    for word in words:
        at += word
        highest = max(highest, at)
    reading = read_file(path, MotionLimits())
    assert reading.duty is not None
    assert reading.duty.filament_high_water_mm == pytest.approx(highest, rel=1e-6)
    assert reading.duty.whole.filament_forward_mm == pytest.approx(sum(word for word in words if word > 0), rel=1e-6)
    assert reading.duty.whole.filament_back_mm == pytest.approx(-sum(word for word in words if word < 0), rel=1e-6)
    assert reading.duty.nozzle_c_max == thing.nozzle_c
    layers = round(thing.height_mm / thing.layer_mm)
    assert reading.duty.layers == pytest.approx(layers, abs=2)


@pytest.mark.parametrize("thing", [thing for thing in THINGS if thing.round_bed], ids=lambda thing: thing.name)
def test_what_is_drawn_about_the_middle_lies_on_a_round_bed(thing: Thing) -> None:
    """A bed of 180 mm across, with its origin in the middle."""
    points = [
        (float(x), float(y)) for x, y in re.findall(r"^G[01] X(-?[\d.]+) Y(-?[\d.]+)", toolpath_of(thing), re.MULTILINE)
    ]
    assert len(points) > 1000
    assert max(math.hypot(*point) for point in points) < 90
    assert min(x for x, _ in points) < 0 < max(x for x, _ in points)
