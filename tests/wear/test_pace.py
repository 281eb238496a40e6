"""How fast a part gathers exposure, from weeks worked by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.wear.pace import LEAST_RELATIVE_SD, MOST_RELATIVE_SD, UNKNOWN_RELATIVE_SD, pace_of_use
from feedwright.wear.values import PaceOfUse

USUAL = PaceOfUse(3.0, 0.6, 5.0)


def test_steady_use_is_told_as_such() -> None:
    pace = pace_of_use([14.0] * 16, [35.0] * 16, 112.0, USUAL)
    assert pace.exposure_per_day == pytest.approx(2.0)
    assert pace.printing_h_per_day == pytest.approx(5.0)
    assert pace.relative_sd == LEAST_RELATIVE_SD


def test_a_machine_on_record_for_less_than_three_days_takes_the_usual() -> None:
    assert pace_of_use([99.0], [99.0], 2.9, USUAL) is USUAL
    assert pace_of_use([12.0], [6.0], 3.0, USUAL) == PaceOfUse(4.0, UNKNOWN_RELATIVE_SD, 2.0)


def test_recent_weeks_weigh_more_by_half_every_eight_weeks() -> None:
    """One busy week of 7 a day: now it weighs 1 among the nine weights 2^(-k/8), eight weeks ago half of that."""
    weights = [0.5 ** (week / 8) for week in range(9)]
    now = pace_of_use([49.0] + [0.0] * 8, [0.0] * 9, 63.0, USUAL)
    before = pace_of_use([0.0] * 8 + [49.0], [0.0] * 9, 63.0, USUAL)
    assert now.exposure_per_day == pytest.approx(7 / sum(weights))
    assert before.exposure_per_day == pytest.approx(now.exposure_per_day / 2)


def test_a_machine_at_rest_has_no_pace() -> None:
    assert pace_of_use([0.0] * 16, [0.0] * 16, 112.0, USUAL) == PaceOfUse(0.0, UNKNOWN_RELATIVE_SD, 0.0)


def test_a_sliver_of_a_first_week_does_not_look_like_wild_use() -> None:
    """The first run lies at the very start of the record, so the oldest week may be minutes long."""
    steady = pace_of_use([14.0] * 8, [35.0] * 8, 56.0, USUAL)
    with_sliver = pace_of_use([14.0] * 8 + [2.0], [35.0] * 8 + [5.0], 56.01, USUAL)
    assert with_sliver.relative_sd == steady.relative_sd
    assert with_sliver.exposure_per_day == pytest.approx(steady.exposure_per_day, rel=0.05)


def test_changing_use_is_told_by_its_spread_from_week_to_week() -> None:
    pace = pace_of_use([7.0, 21.0] * 8, [7.0] * 16, 112.0, USUAL)
    assert pace.exposure_per_day == pytest.approx(2.0, rel=0.05)
    assert pace.relative_sd == pytest.approx(0.5, rel=0.05)


def test_two_weeks_are_too_few_to_know_the_spread() -> None:
    assert pace_of_use([7.0, 7.0], [7.0, 7.0], 14.0, USUAL).relative_sd == UNKNOWN_RELATIVE_SD


@given(st.lists(st.floats(0.0, 1e6), min_size=16, max_size=16), st.floats(3.0, 5000.0))
def test_pace_lies_within_what_was_seen_and_its_spread_is_bounded(weekly: list[float], days: float) -> None:
    pace = pace_of_use(weekly, weekly, days, USUAL)
    spans = [min(7.0, days - 7 * week) for week in range(16) if days > 7 * week]
    rates = [amount / span for amount, span in zip(weekly, spans, strict=False)]
    assert min(rates) * (1 - 1e-9) <= pace.exposure_per_day <= max(rates) * (1 + 1e-9)
    assert LEAST_RELATIVE_SD <= pace.relative_sd <= MOST_RELATIVE_SD
