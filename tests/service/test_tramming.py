"""Refusals, drift and pictures of tramming; its geometry is checked in tests/outside/test_tramming_geometry.py."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.errors import BadInput
from feedwright.service.plate import Plate
from feedwright.service.tramming import drift, height_of_gap, height_of_paper, tram
from feedwright.service.values import BedReading, BedScrews, Screw, Tramming

PLATE = Plate(230.0, 230.0)
CORNERS = ((30.0, 30.0), (200.0, 30.0), (200.0, 200.0), (30.0, 200.0))
BED = BedScrews(tuple(Screw(name, x, y) for name, (x, y) in zip("abcd", CORNERS, strict=True)), 0.7)


def tramming(*heights: float) -> Tramming:
    sheet = tram(readings(*heights), BED, plate=PLATE)
    return Tramming(sheet.turns, sheet.within)


def readings(*heights: float) -> list[BedReading]:
    return [BedReading(x, y, height) for (x, y), height in zip(CORNERS, heights, strict=False)]


@pytest.mark.parametrize(
    ("given_readings", "words"),
    [
        (readings(0.1, 0.2), "three readings or more"),
        ([*readings(0, 0, 0), BedReading(260, 30, 0)], "the bed reaches"),
        ([*readings(0, 0, 0), BedReading(30, 200, 25.4)], "1 thou is 0.0254"),
        ([BedReading(x / 25.4, y / 25.4, 0.0) for x, y in CORNERS], "not inches"),
        ([BedReading(at, at, 0.0) for at in (30, 100, 200)], "one line"),
    ],
)
def test_readings_that_cannot_be_are_refused(given_readings: list[BedReading], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        tram(given_readings, BED, plate=PLATE)


@pytest.mark.parametrize(
    ("bed", "words"),
    [
        (BedScrews(BED.screws[:2], 0.7), "three or more"),
        (BedScrews((*BED.screws, Screw("e", 30.2, 30.2)), 0.7), "one place"),
        (BedScrews((*BED.screws, Screw("a", 100, 100)), 0.7), "two bear that name"),
        (BedScrews(BED.screws, 20.0), "ISO 261"),
        (BedScrews(tuple(Screw(str(at), at, at) for at in (10, 90, 170)), 0.7), "in one line"),
    ],
)
def test_screws_that_cannot_be_are_refused(bed: BedScrews, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        tram(readings(0, 0, 0, 0), bed, plate=PLATE)


def test_an_unknown_reference_screw_names_the_known() -> None:
    with pytest.raises(BadInput, match="a, b, c, d"):
        tram(readings(0, 0, 0, 0), BED, plate=PLATE, reference="z")


def test_the_hand_of_the_screw_decides_which_way_to_turn() -> None:
    tilted = readings(0, 0.2, 0.2, 0)
    right = {turn.screw.name: turn.rotation for turn in tram(tilted, BED, plate=PLATE, reference="a").turns}
    other = BedScrews(BED.screws, 0.7, clockwise_lowers=False)
    left = {turn.screw.name: turn.rotation for turn in tram(tilted, other, plate=PLATE, reference="a").turns}
    assert right == {"a": "leave", "b": "clockwise", "c": "clockwise", "d": "leave"}
    assert left == {"a": "leave", "b": "counter-clockwise", "c": "counter-clockwise", "d": "leave"}


def test_a_gauge_and_a_sheet_of_paper_say_the_same_as_a_probe() -> None:
    assert height_of_gap(0.25, 0.1) == pytest.approx(-0.15)
    assert height_of_paper("stuck") > height_of_paper("drags") == 0 > height_of_paper("loose")
    with pytest.raises(BadInput, match="stuck, drags, loose"):
        height_of_paper("soggy")


def test_the_corner_that_wanders_stands_first() -> None:
    found = ((0, 0, 0, 0), (0, 0.1, 0, -0.1), (0, 0.12, 0, -0.12))
    sessions = [[tramming(*heights)] for heights in found]
    first, *_ = drift(sessions)
    assert first.screw in ("b", "d")
    assert abs(first.mean_mm) > 0.05
    assert first.count == 2
    assert drift(sessions[:1]) == []


def test_what_moved_is_told_from_what_was_left_and_from_what_was_turned_in_between() -> None:
    """By hand: a is left 0.02 up and found 0.12 up, so it rose by 0.1; a twist, which no screw makes, is no drift."""
    left, found = tramming(0.04, 0, 0.04, 0), tramming(0.14, 0, 0.14, 0)
    assert left.within
    quiet = drift([[tramming(0.3, 0, 0.1, 0), left], [found, tramming(0, 0, 0, 0)]])
    assert {one.screw: round(one.mean_mm, 3) for one in quiet} == {"a": 0.0, "b": 0.0, "c": 0.0, "d": 0.0}
    tilted = drift([[tramming(0.3, 0, 0.1, 0), tramming(0.02, 0, -0.02, 0)], [tramming(0.12, 0, -0.12, 0)]])
    assert {one.screw: round(one.mean_mm, 3) for one in tilted} == {"a": 0.1, "c": -0.1, "b": 0.0, "d": 0.0}
    assert {one.count for one in tilted} == {1}
    turned = drift([[tramming(0.3, 0, -0.3, 0)], [tramming(0.12, 0, -0.12, 0)]])  # level after its screws were turned
    assert {one.screw: round(one.mean_mm, 3) for one in turned} == {"a": 0.12, "c": -0.12, "b": 0.0, "d": 0.0}


@given(st.lists(st.floats(-1, 1), min_size=4, max_size=4), st.floats(-0.5, 0.5))
def test_lifting_the_whole_bed_changes_no_turn(heights: list[float], lift: float) -> None:
    flat = tram(readings(*heights), BED, plate=PLATE, reference="a")
    lifted = tram(readings(*(height + lift for height in heights)), BED, plate=PLATE, reference="a")
    for one, other in zip(flat.turns, lifted.turns, strict=True):
        assert one.lower_mm == pytest.approx(other.lower_mm, abs=1e-9)
    assert lifted.level_mm == pytest.approx(flat.level_mm + lift, abs=1e-9)
