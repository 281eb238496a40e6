"""An interval may be told in another unit."""

from feedwright.wear.values import Interval


def test_an_interval_in_another_unit_keeps_its_order() -> None:
    assert Interval(1.0, 2.0, 4.0).times(0.5) == Interval(0.5, 1.0, 2.0)
