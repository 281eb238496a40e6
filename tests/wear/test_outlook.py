"""From exposure, life and pace to what is expected: chances that grow with time and never count survival twice."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedwright.catalogue.load import load_catalogue
from feedwright.wear.life import curve, prior
from feedwright.wear.outlook import outlook, still_alive
from feedwright.wear.outlook_numbers import duty_nodes
from feedwright.wear.values import Interval, Outlook, PaceOfUse, Share

PARTS = load_catalogue().parts
CURVES = {name: curve(prior(kind.life)) for name, kind in PARTS.items()}
TUBE, LIFE = PARTS["tube_end"], CURVES["tube_end"]
PACE = PaceOfUse(5.0, 0.3, 12.0)


def exactly(exposure: float) -> Interval:
    return Interval(exposure, exposure, exposure)


def tube(exposure: Interval, pace: PaceOfUse = PACE) -> Outlook:
    return outlook(TUBE, LIFE, exposure, pace, ())


@st.composite
def intervals(draw: st.DrawFn) -> Interval:
    low, mid, high = sorted(draw(st.tuples(*[st.floats(0.0, 3.0)] * 3)))
    return Interval(low, mid, high)


paces = st.builds(PaceOfUse, st.floats(0.0, 0.5), st.floats(0.15, 2.0), st.floats(0.0, 24.0))


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(PARTS)), intervals(), paces)
def test_every_outlook_hangs_together(part: str, used: Interval, pace: PaceOfUse) -> None:
    """Exposure and pace in median lives, from new to thrice the median, from idle to two days a life."""
    median = CURVES[part].life.mid
    scaled = PaceOfUse(pace.exposure_per_day * median, pace.relative_sd, pace.printing_h_per_day)
    seen = outlook(PARTS[part], CURVES[part], used.times(median), scaled, ())
    assert seen.share_used.low <= seen.share_used.mid <= seen.share_used.high
    assert 0 <= seen.failure_frac_day <= seen.failure_frac_week <= seen.failure_frac_month <= 1
    for band in (seen.remaining, seen.remaining_printing_h, seen.remaining_days):
        assert 0 <= band.low <= band.mid <= band.high
        assert not any(math.isnan(value) for value in (band.low, band.mid, band.high))
    assert len(seen.because) >= 2
    assert all(said.endswith(".") and "e+" not in said for said in seen.because)


def test_a_new_part_has_its_whole_life_before_it() -> None:
    seen = tube(exactly(0.0))
    assert seen.remaining.low == pytest.approx(seen.life.low)
    assert seen.remaining.mid == pytest.approx(seen.life.mid)
    assert seen.remaining.high == pytest.approx(seen.life.high)
    assert seen.share_used.mid == 0


def test_life_left_is_reckoned_once_given_that_the_part_is_alive_now() -> None:
    """P(T > a + d | T > a) = S(a + d) / S(a), trap 6 of the method: not S(a + d) alone, nor divided twice."""
    age, more = 150.0, 60.0
    alive = still_alive(LIFE, exactly(age), np.array([more]))
    assert alive[0] == pytest.approx(float(LIFE.alive(age + more) / LIFE.alive(age)))
    left = tube(exactly(age)).remaining
    assert still_alive(LIFE, exactly(age), np.array([left.mid]))[0] == pytest.approx(0.5, abs=1e-3)


def test_an_old_part_of_a_kind_that_wears_out_is_likelier_to_fail_than_a_new_one() -> None:
    chances = [tube(exactly(age)).failure_frac_week for age in (0.0, 80.0, 160.0, 240.0)]
    assert chances == sorted(chances)
    assert chances[0] < 0.2 * chances[-1]


def test_days_and_hours_left_follow_from_the_pace() -> None:
    seen = tube(exactly(100.0), PaceOfUse(5.0, 0.15, 10.0))
    assert seen.remaining_printing_h.mid == pytest.approx(seen.remaining.mid * 2)
    assert seen.remaining_days.mid == pytest.approx(seen.remaining.mid / 5.0, rel=0.02)


def test_a_machine_at_rest_wears_nothing_and_never_comes_due() -> None:
    """Also where the part is past all hope: nought left over no pace is not a number, and must not be shown."""
    for age in (0.0, 100.0, 1e9):
        seen = tube(exactly(age), PaceOfUse(0.0, 0.6, 0.0))
        assert seen.failure_frac_month == 0
        assert math.isinf(seen.remaining_days.low)
        assert math.isinf(seen.remaining_printing_h.low)
        assert "has not printed lately" in seen.because[-1]


def test_a_part_of_unknown_history_gets_a_wider_outlook_that_says_so() -> None:
    known, unknown = tube(exactly(100.0)), tube(Interval(0.0, 100.0, 220.0))
    assert unknown.share_used.low < known.share_used.low
    assert unknown.share_used.high > known.share_used.high
    assert "history is not fully known" in unknown.because[0]
    assert "history" not in known.because[0]


@given(st.floats(0.001, 100.0), st.floats(0.15, 2.0), st.floats(0.25, 3000.0))
def test_duty_to_come_keeps_the_mean_pace(per_day: float, spread: float, days: float) -> None:
    nodes = duty_nodes(PaceOfUse(per_day, spread, 1.0), np.array([days]))
    _, weights = np.polynomial.hermite_e.hermegauss(10)
    assert float(nodes[0] @ weights / weights.sum()) == pytest.approx(per_day * days, rel=1e-3)
    assert np.all(nodes > 0)


def test_uncertain_duty_makes_an_early_failure_likelier() -> None:
    steady, wild = (tube(exactly(20.0), PaceOfUse(5.0, sd, 12.0)).failure_frac_week for sd in (0.15, 1.5))
    assert wild > steady


def test_the_reasons_name_exposure_life_drivers_and_pace_in_plain_numbers() -> None:
    drivers = (Share("214 h at 215 °C", 90.0, 0.9), Share("6 h at 240 °C", 10.0, 0.1))
    seen = outlook(PARTS["guide_tube"], CURVES["guide_tube"], exactly(12345.6), PACE, drivers)
    said = " ".join(seen.because)
    assert "12,300 abrasive m" in said
    assert "rule of thumb" in said
    assert "214 h at 215 °C (90%)" in said
    assert "12 h 00 min of printing a day" in said
