"""The burn rule and the finger as a probe."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.errors import OutOfRange
from feedwright.physics.touch import burn_threshold_c, finger_band_c, safe_contact_s


@given(contact_s=st.floats(1.01, 28700.0))
def test_the_rule_reads_backwards(contact_s: float) -> None:
    """Time to temperature and back."""
    assert safe_contact_s(burn_threshold_c(contact_s)) == pytest.approx(contact_s, rel=1e-6)


def test_beyond_its_ends_the_rule_is_cautious() -> None:
    """Nothing above 65 °C may be touched; 43 °C may be touched for hours."""
    assert safe_contact_s(65.0) == 0.0
    assert safe_contact_s(43.0) == math.inf
    assert burn_threshold_c(0.1) == 65.0
    assert burn_threshold_c(1e6) == 43.0


@given(held_s=st.floats(0, 600), let_go=st.booleans())
def test_a_finger_gives_a_band_in_order(held_s: float, let_go: bool) -> None:
    """low <= mid <= high, whatever was felt."""
    band = finger_band_c(held_s, let_go=let_go)
    assert band.low <= band.mid <= band.high


def test_a_negative_time_is_refused() -> None:
    """By name."""
    with pytest.raises(OutOfRange, match="held_s"):
        finger_band_c(-1, let_go=True)
    with pytest.raises(OutOfRange, match="contact_s"):
        burn_threshold_c(-1)
