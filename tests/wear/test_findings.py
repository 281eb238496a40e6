"""What is seen of a part bounds its life from both sides, by edges that are themselves uncertain."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.catalogue.load import load_catalogue
from feedwright.wear.findings import EDGE_WEIGHTS, EDGES, End, Look, Story, bounds, edges_of, wear_grades
from feedwright.wear.values import Interval

PARTS = load_catalogue().parts
TUBE, NEW = PARTS["tube_end"], Interval(0.0, 0.0, 0.0)
MIDDLE = EDGES.size // 2


def story(*looks: tuple[float, str], gathered: float = 100.0, end: End = "open", before: Interval = NEW) -> Story:
    return Story(1, "plain", before, gathered, end, tuple(Look(at, grade) for at, grade in looks))


def test_the_edges_weights_are_a_belief() -> None:
    assert EDGE_WEIGHTS.sum() == pytest.approx(1.0)
    assert abs(EDGE_WEIGHTS @ EDGES) < 1e-12


@pytest.mark.parametrize("part", sorted(PARTS))
def test_the_edges_of_every_part_kind_are_in_order(part: str) -> None:
    grades = [grade for grade in wear_grades(PARTS[part]) if not grade.failed]
    lowers = [edges_of(PARTS[part], grade)[0] for grade in grades]
    assert (lowers[0] == 0).all()
    for grade in grades:
        lower, upper = edges_of(PARTS[part], grade)
        assert (lower < upper).all()
        assert (np.diff(lower) >= 0).all()


def test_an_edge_lies_within_the_overlap_of_the_two_grades() -> None:
    """Clean may reach to 0.6 of the life, trace begin at 0.35: nine in ten of the belief lie between."""
    clean, trace = (TUBE.grade(name) for name in ("clean", "trace"))
    assert clean
    assert trace
    edge = edges_of(TUBE, clean)[1]
    assert edge == pytest.approx(edges_of(TUBE, trace)[0])
    assert edge[MIDDLE] == pytest.approx(math.sqrt(0.35 * 0.6))
    assert np.interp(-1.6449, EDGES, edge) == pytest.approx(0.35, rel=0.02)
    assert np.interp(1.6449, EDGES, edge) == pytest.approx(0.6, rel=0.02)


def test_a_clean_look_puts_the_life_beyond_what_it_has() -> None:
    held = bounds(TUBE, story((80.0, "clean")))
    assert held.low[MIDDLE, 0] == pytest.approx(80.0 / math.sqrt(0.35 * 0.6))
    assert np.isinf(held.high).all()


def test_a_worn_look_bounds_the_life_from_both_sides() -> None:
    held = bounds(TUBE, story((40.0, "clean"), (100.0, "ring")))
    assert (held.low < held.high).all()
    assert held.high[MIDDLE, 0] == pytest.approx(100.0 / math.sqrt(0.7 * 0.9))


def test_what_failed_failed_since_it_was_last_sound() -> None:
    held = bounds(TUBE, Story(1, "plain", NEW, 100.0, "failed", (), 60.0))
    assert (held.low == 60.0).all()
    assert (held.high == 100.0).all()


def test_what_was_renewed_while_it_worked_is_censored_and_never_counts_as_failed() -> None:
    held = bounds(TUBE, story(end="renewed"))
    assert (held.low == 100.0).all()
    assert np.isinf(held.high).all()


def test_unknown_history_is_a_band_of_ages_and_not_nought() -> None:
    held = bounds(TUBE, story(before=Interval(0.0, 96.0, 216.0)))
    assert held.entry[0] == 0
    assert held.entry[-1] == 216
    assert held.low[0] == pytest.approx(held.entry + 100.0)


def test_a_contradiction_is_taken_for_a_misreading_and_said() -> None:
    """Clean at 90, failed at 100: by the grade it should have lasted far beyond."""
    held = bounds(TUBE, Story(1, "plain", NEW, 100.0, "failed", (Look(90.0, "clean"),), 95.0))
    assert held.misread
    assert (held.low == 95.0).all()
    assert not bounds(TUBE, story((90.0, "clean"))).misread


def test_a_kink_tells_nothing_of_wear() -> None:
    kinked = Story(1, "bore_2_0", NEW, 500.0, "renewed", (Look(500.0, "kinked"),))
    held = bounds(PARTS["guide_tube"], kinked)
    assert (held.low == 500.0).all()
    assert np.isinf(held.high).all()


@given(st.floats(1.0, 500.0), st.floats(1.0, 500.0))
def test_two_clean_looks_say_what_the_later_one_says(one: float, other: float) -> None:
    first, last = sorted((one, other))
    both = bounds(TUBE, story((first, "clean"), (last, "clean"), gathered=last))
    alone = bounds(TUBE, story((last, "clean"), gathered=last))
    assert both.low == pytest.approx(alone.low)
