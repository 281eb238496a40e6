"""Every grade of every part has a drawing of its own, and no two grades of a part look alike."""

import pytest

from feedwright.catalogue.grade_drawings import HIGH, WIDE, _mark, grade_drawing, load_drawings
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadEntry

PARTS = load_catalogue().parts


@pytest.mark.parametrize("part", sorted(PARTS))
def test_every_grade_is_drawn_and_differs_from_the_others_in_its_lines(part: str) -> None:
    shapes = [tuple(mark.d for mark in grade_drawing(part, grade.id)) for grade in PARTS[part].grades]
    assert all(shapes)
    assert len(set(shapes)) == len(shapes)


def test_no_drawing_is_of_a_grade_that_is_not() -> None:
    assert {
        (part, grade) for part, grade in load_drawings() if grade not in {one.id for one in PARTS[part].grades}
    } == set()


def test_a_grade_that_nobody_drew_has_no_drawing() -> None:
    assert grade_drawing("tube_end", "mouldy") == ()
    assert (WIDE, HIGH) == (96, 60)


@pytest.mark.parametrize("line", ["red M0 0", "wear", "wear url(x)", 'wear M0 0"><script>', ""])
def test_a_line_that_is_no_stroke_is_refused(line: str) -> None:
    with pytest.raises(BadEntry, match=r"tube_end\.ring"):
        _mark(line, "tube_end.ring")
