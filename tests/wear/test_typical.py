"""Runs without a file are charged what printing usually asks."""

import math

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import filament_kg
from feedwright.wear.typical import typical_stretch
from feedwright.wear.values import Surroundings

KNOWN = load_catalogue()
PLA = KNOWN.materials["pla"]
ROOM = Surroundings("pla")


def test_filament_that_was_weighed_takes_the_place_of_the_usual_flow() -> None:
    stretch = typical_stretch(3.0, 210.0, PLA, 120.0, KNOWN.figures)
    assert filament_kg(stretch, ROOM, PLA) == pytest.approx(0.120)
    assert stretch.nozzle_s == ((210.0, 3 * 3600.0),)


def test_filament_not_weighed_follows_from_the_usual_flow() -> None:
    stretch = typical_stretch(2.0, 210.0, PLA, None, KNOWN.figures)
    flow_mm3_s = KNOWN.figures.numbers["usual_flow_mm3_s"].value
    assert stretch.filament_net_mm * math.pi / 4 * 1.75**2 == pytest.approx(flow_mm3_s * 7200)


def test_thick_filament_holds_the_same_mass_in_less_length() -> None:
    thin, thick = (
        typical_stretch(1.0, 210.0, PLA, 50.0, KNOWN.figures, filament_diameter_mm=mm).filament_net_mm
        for mm in (1.75, 2.85)
    )
    assert thin / thick == pytest.approx((2.85 / 1.75) ** 2)


def test_twice_the_hours_ask_twice_of_all_but_the_start() -> None:
    one, two = (typical_stretch(hours, 210.0, PLA, None, KNOWN.figures) for hours in (1.0, 2.0))
    assert two.reversals == pytest.approx(2 * one.reversals)
    assert two.travel_x_mm == pytest.approx(2 * one.travel_x_mm)
    assert two.nozzle_heat_ups == one.nozzle_heat_ups == 1


def test_no_hours_ask_nothing() -> None:
    assert typical_stretch(0.0, 210.0, PLA, None, KNOWN.figures) == Stretch()
