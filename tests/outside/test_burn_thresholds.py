"""Checks of the touch rule against burn data that was seen, not recalled."""

import pytest

from feedwright.physics.touch import burn_threshold_c

# Times to a serious burn on metal: a burn institute's table as circulated on the IEEE product-safety list
# (read in docs/models/heat.md). Upper ends where a span is given.
SERIOUS_BURN = (
    (49.0, 300.0),
    (52.0, 120.0),
    (55.0, 30.0),
    (57.0, 10.0),
    (60.0, 5.0),
    (63.0, 3.0),
    (66.0, 1.5),
    (68.0, 1.0),
)


@pytest.mark.parametrize(("surface_c", "burn_s"), SERIOUS_BURN)
def test_the_rule_stays_below_the_temperatures_that_burn_seriously(surface_c: float, burn_s: float) -> None:
    """For every row the rule forbids that temperature for that time."""
    assert burn_threshold_c(burn_s) < surface_c


@pytest.mark.parametrize(
    ("contact_s", "expected_c"),
    [
        (2, 61.9897),
        (4, 58.9794),
        (30, 52.5474),
        (120, 50.0969),
        (3600, 45.6858),
        (1, 65),
        (10, 55),
        (60, 51),
        (600, 48),
        (28_800, 43),
    ],
)
def test_the_rule_is_a_straight_line_in_the_logarithm_of_time(contact_s: float, expected_c: float) -> None:
    """Algebra of the interpolation over the lower edge of ISO 13732-1 (the edge itself is from memory)."""
    assert burn_threshold_c(contact_s) == pytest.approx(expected_c, abs=1e-3)


def test_no_burn_is_expected_below_65_degrees_within_half_a_second() -> None:
    """A secondary reading of the standard; the rule keeps to the same edge for anything shorter than a second."""
    assert burn_threshold_c(0.5) == 65.0
