"""Names end in a known unit, and values are shown so that a person can read them."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.units import BY_SUFFIX, DIMENSIONLESS, UNITS, Money, show, show_duration, show_rounded, unit_of


def test_no_suffix_stands_twice_nor_for_a_bare_share() -> None:
    assert len(BY_SUFFIX) == len(UNITS)
    assert not set(BY_SUFFIX) & set(DIMENSIONLESS)


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.suffix)
def test_the_longest_suffix_wins(unit) -> None:  # type: ignore[no-untyped-def]
    assert unit_of(f"anything_{unit.suffix}") is unit


@pytest.mark.parametrize("name", ["mm", "reversals", "share_frac", "life_ratio", "mm_", "NOZZLE_C", ""])
def test_a_name_without_a_unit_has_none(name: str) -> None:
    assert unit_of(name) is None


def test_a_value_near_nought_is_not_shown_as_less_than_nought() -> None:
    assert show(-0.4, "c") == "0 °C"
    assert show(1234.56, "mm") == "1,234.6 mm"
    assert show_rounded(-0.0) == "0"


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "0 s"),
        (42.4, "42 s"),
        (59.6, "1 min"),
        (3599, "1 h 00 min"),
        (4980, "1 h 23 min"),
        (47.99 * 3600, "47 h 59 min"),
        (48 * 3600, "2 d 0 h"),
        (400 * 86400 + 5 * 3600, "400 d 5 h"),
    ],
)
def test_a_duration_is_said_in_the_units_that_matter(seconds: float, said: str) -> None:
    assert show_duration(seconds) == said


@given(st.floats(min_value=1e-6, max_value=1e9))
def test_a_rounded_number_keeps_three_digits_and_never_powers_of_ten(value: float) -> None:
    shown = show_rounded(value)
    assert "e" not in shown
    assert float(shown.replace(",", "")) == pytest.approx(value, rel=5.1e-3)


def test_what_cannot_be_reckoned_is_said_so() -> None:
    assert show_rounded(math.inf) == "inf"


@given(st.floats(min_value=-1e9, max_value=1e9))
def test_money_is_rounded_to_the_hundredth_half_away_from_nought(amount: float) -> None:
    money = Money.of(amount, "EUR")
    assert money.amount == money.amount.quantize(Decimal("0.01"))
    assert abs(money.amount - Decimal(repr(amount))) <= Decimal("0.005")
    assert str(Money.of(1234.565, "EUR")) == "1,234.57 EUR"
