"""Feed rate: what the readings can tell, and slip; numbers are checked in tests/outside/test_feed_calibration.py."""

import pytest

from feedwright.errors import BadInput
from feedwright.service.feed_rate import feed_health, feed_rate


def test_an_error_below_what_the_ruler_tells_is_left_alone() -> None:
    assert not feed_rate(93, 100, [100.2, 99.9, 100.1]).change
    assert feed_rate(93, 100, [98.0, 98.1, 97.9]).change


def test_more_readings_narrow_the_interval_only_down_to_the_ruler() -> None:
    few = feed_rate(93, 100, [98.5, 99.5, 99.0]).new_steps_per_mm
    many = feed_rate(93, 100, [98.5, 99.5, 99.0] * 8).new_steps_per_mm
    assert many.high - many.low < few.high - few.low
    assert many.standard_ratio > 0.002


@pytest.mark.parametrize(
    ("hot", "word"), [((100.0, 99.8), "healthy"), ((96.9, 97.1), "slips"), ((95.1, 95.3), "slips")]
)
def test_less_feed_against_the_hot_end_is_slip(hot: tuple[float, ...], word: str) -> None:
    free = feed_rate(93, 100, [100.0, 100.2])
    assert feed_health(free, feed_rate(93, 100, hot)).word == word


@pytest.mark.parametrize(("steps", "asked"), [(0, 100), (93, 2), (93, 99999), (float("nan"), 100)])
def test_numbers_that_cannot_be_are_refused(steps: float, asked: float) -> None:
    with pytest.raises(BadInput):
        feed_rate(steps, asked, [100])


def test_no_reading_at_all_is_refused() -> None:
    with pytest.raises(BadInput, match="at least one reading"):
        feed_rate(93, 100, [])
