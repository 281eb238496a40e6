"""A number of a wear law is learned where findings tell of it, and said not to be where they do not."""

import math

import pytest

from feedwright.catalogue.entry import Sourced
from feedwright.wear.numbers import learn_number

ASSUMED = Sourced(0.8, 0.5, 1.1, "ev", "assumed")


def test_findings_that_say_nothing_leave_what_was_assumed() -> None:
    found = learn_number("energy", ASSUMED, lambda value: -3.0, on_log=False)
    assert found.learned.mid == pytest.approx(0.8, abs=0.005)
    assert found.learned.low == pytest.approx(0.5, abs=0.02)
    assert abs(found.narrowed_frac) < 0.01
    assert not found.telling
    assert "do not tell" in found.words


def test_findings_that_tell_are_said_to_and_move_it() -> None:
    """Evidence that is normal about 100 with 5 % on the log, against a wide belief about 50."""
    wide = Sourced(50.0, 12.5, 200.0, "ratio", "assumed")
    found = learn_number("weight", wide, lambda value: -0.5 * (math.log(value / 100.0) / 0.3) ** 2, on_log=True)
    sd = math.log(16) / (2 * 1.6448536)
    assert math.log(found.learned.mid / 50) == pytest.approx(math.log(2) / (1 + (0.3 / sd) ** 2), abs=0.01)
    assert found.narrowed_frac == pytest.approx(1 - 1 / (1 + (sd / 0.3) ** 2), abs=0.02)
    assert found.telling
