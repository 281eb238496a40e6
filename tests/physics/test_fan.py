"""A reading at the sink, read backwards."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd, hot_end_of
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import OutOfRange
from feedwright.physics.fan import fan_reading
from feedwright.physics.heat_flow import steady
from feedwright.physics.hot_end import heat_path
from feedwright.physics.touch import finger_band_c
from feedwright.physics.values import Band, FanVerdict


def _read(hot_end: HotEnd, material: Material, at_c: float, tolerance: float = 1.0) -> FanVerdict:
    reading = Band(at_c - tolerance, at_c, at_c + tolerance)
    return fan_reading(hot_end, material, sink_top_c=reading, set_c=210, ambient_c=25)


@given(effectiveness_ratio=st.floats(0.02, 1.45))
@settings(max_examples=25, deadline=None)
def test_the_fan_that_made_a_reading_is_found_from_it(effectiveness_ratio: float) -> None:
    """The model read backwards gives back what was put in."""
    hot_end, pla = hot_end_of("lined"), load_catalogue().materials["pla"]
    top_c = steady(heat_path(hot_end, pla, ambient_c=25), 210, effectiveness_ratio).sink_top_c
    verdict = _read(hot_end, pla, top_c)
    assert verdict.effectiveness_ratio.mid == pytest.approx(effectiveness_ratio, rel=0.03, abs=0.005)
    assert verdict.effectiveness_ratio.low <= effectiveness_ratio <= verdict.effectiveness_ratio.high


@pytest.mark.parametrize(("at_c", "word"), [(36, "healthy"), (53, "weak"), (85, "failed")])
def test_cool_warm_and_hot_sinks_earn_three_words(lined: HotEnd, pla: Material, at_c: float, word: str) -> None:
    """A healthy fan leaves the sink cool to touch (common practice)."""
    assert _read(lined, pla, at_c).word == word


def test_a_band_across_a_line_is_not_sure(lined: HotEnd, pla: Material) -> None:
    """Nobody should renew a fan on such a reading."""
    verdict = _read(lined, pla, 46, tolerance=3)
    assert not verdict.sure
    assert any("measure more closely" in line for line in verdict.because)


def test_a_hotter_sink_means_less_air_and_more_creep(lined: HotEnd, pla: Material) -> None:
    """Everything moves the way it should."""
    cool, warm = _read(lined, pla, 40), _read(lined, pla, 65)
    assert warm.effectiveness_ratio.mid < cool.effectiveness_ratio.mid
    assert warm.creep_mm.mid > cool.creep_mm.mid
    assert warm.neck_top_c.mid > cool.neck_top_c.mid
    assert cool.healthy_sink_top_c.low < cool.healthy_sink_top_c.mid < cool.healthy_sink_top_c.high


def test_readings_beyond_the_model_say_so(lined: HotEnd, pla: Material) -> None:
    """Hotter than still air explains, or colder than any fan."""
    assert "hotter" in _read(lined, pla, 150).because[-1]
    assert "ten minutes" in _read(lined, pla, 26).because[-1]


def test_a_finger_finds_a_stopped_fan_and_is_warned_off(lined: HotEnd, pla: Material) -> None:
    """Second best, with its caution."""
    band = finger_band_c(0.5, let_go=True)
    verdict = fan_reading(lined, pla, sink_top_c=band, set_c=210, ambient_c=25, by_finger=True)
    assert verdict.word in ("weak", "failed")
    assert any("thermometer" in caution for caution in verdict.cautions)
    rested = finger_band_c(60, let_go=False, ambient_c=25)
    assert fan_reading(lined, pla, sink_top_c=rested, set_c=210, ambient_c=25, by_finger=True).word == "healthy"


def test_a_reading_below_ambient_is_refused(lined: HotEnd, pla: Material) -> None:
    """A slip of the pen is named."""
    with pytest.raises(OutOfRange, match="sink_top_c"):
        _read(lined, pla, 5)
