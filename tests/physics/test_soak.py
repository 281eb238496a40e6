"""What a mishap does to the hot end, and what is said of it."""

import math

import pytest

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd
from feedwright.errors import OutOfRange
from feedwright.physics.soak import soak


def test_a_stalled_fan_makes_the_sink_too_hot_for_a_finger_within_minutes(lined: HotEnd, pla: Material) -> None:
    """Common practice; above 55 °C a finger must come off within ten seconds."""
    outcome = soak(lined, pla, set_c=210, what="stalled fan", minutes=8)
    at_s = next(s for s, c in zip(outcome.curve.after_s, outcome.curve.sink_top_c, strict=True) if c > 55)
    assert 30 < at_s < 300
    assert outcome.sink_finger_s < 1.0
    assert outcome.sink_softens_after_s is not None
    assert outcome.sink_softens_after_s < 200
    assert "fan" in outcome.checks[0]
    assert any("draw the filament out" in check for check in outcome.checks)


def test_with_a_healthy_fan_the_sink_stays_cool_to_touch(lined: HotEnd, all_metal: HotEnd, pla: Material) -> None:
    """Common practice: through a hot stop hands may rest on it."""
    for hot_end in (lined, all_metal):
        outcome = soak(hot_end, pla, set_c=210, what="hot stop", minutes=30)
        assert outcome.sink_peak_c < 43
        assert outcome.sink_touch_after_s == 0.0
        assert outcome.sink_finger_s == math.inf
        assert outcome.sink_softens_after_s is None
        assert any("Purge" in check for check in outcome.checks)


def test_a_power_cut_peaks_and_then_cools(lined: HotEnd, pla: Material) -> None:
    """The block's heat creeps up once; the sink peaks within minutes, well below what a stalled fan does."""
    cut = soak(lined, pla, set_c=210, what="power cut", minutes=60)
    stall = soak(lined, pla, set_c=210, what="stalled fan", minutes=60)
    assert 30 < cut.sink_peak_after_s < 600
    assert cut.sink_before_c < cut.sink_peak_c < stall.sink_peak_c
    assert cut.nozzle_touch_after_s < math.inf
    assert any("Home the axes" in check for check in cut.checks)


def test_power_that_returns_soon_brings_the_fan_back(lined: HotEnd, pla: Material) -> None:
    """A cut of half a minute leaves the sink cooler than one that lasts."""
    short = soak(lined, pla, set_c=240, what="power cut", minutes=0.5)
    long = soak(lined, pla, set_c=240, what="power cut", minutes=60)
    assert short.sink_peak_c < long.sink_peak_c


def test_time_at_the_liner_end_is_all_the_hot_time(lined: HotEnd, pla: Material) -> None:
    """Twenty minutes at the set temperature and the way down from it, in steps of five kelvin."""
    outcome = soak(lined, pla, set_c=230, what="hot stop", minutes=20)
    held = dict(outcome.liner_s)
    assert held[230.0] == pytest.approx(1200, abs=5)
    assert 60 < sum(held.values()) - held[230.0] < 600
    assert min(held) >= 100


def test_an_all_metal_hot_end_keeps_its_liner_cool(all_metal: HotEnd, pla: Material) -> None:
    """Its liner ends in the sink: nothing of a soak at 260 °C ages it."""
    outcome = soak(all_metal, pla, set_c=260, what="hot stop", minutes=20)
    assert outcome.liner_peak_c < 60
    assert outcome.liner_s == ()


@pytest.mark.parametrize(("set_c", "words"), [(250, "trim or renew"), (270, "Renew the liner")])
def test_an_overheated_liner_is_looked_at_or_renewed(
    lined: HotEnd, materials: dict[str, Material], set_c: float, words: str
) -> None:
    """Above 240 °C look, above 260 °C renew; fumes are warned of from 250 °C."""
    outcome = soak(lined, materials["abs"], set_c=set_c, what="hot stop", minutes=10)
    assert any(words in check for check in outcome.checks)
    assert any("fume" in caution for caution in outcome.cautions)


def test_fumes_of_a_liner_far_too_hot_send_people_out(lined: HotEnd, pla: Material) -> None:
    """From 300 °C: leave, ventilate, see a doctor; pet birds die of it."""
    outcome = soak(lined, pla, set_c=310, what="hot stop", minutes=5)
    assert any("leave the room" in caution and "birds" in caution for caution in outcome.cautions)


def test_in_a_warm_enclosure_hands_never_rest(lined: HotEnd, pla: Material) -> None:
    """At 60 °C of air nothing gets cool to touch."""
    outcome = soak(lined, pla, set_c=210, what="power cut", minutes=60, ambient_c=60)
    assert outcome.sink_touch_after_s == math.inf


def test_a_mishap_of_no_time_is_a_plain_switching_off(lined: HotEnd, pla: Material) -> None:
    """Fan and all as usual, the heater off: the sink only cools."""
    outcome = soak(lined, pla, set_c=210, what="hot stop", minutes=0)
    assert outcome.sink_peak_c == pytest.approx(outcome.sink_before_c, abs=0.01)
    assert 300 < outcome.nozzle_touch_after_s < 1800


def test_a_week_of_hot_standing_is_reckoned_at_once(lined: HotEnd, pla: Material) -> None:
    """Nothing moves after an hour, but every second of it ages the liner."""
    outcome = soak(lined, pla, set_c=210, what="hot stop", minutes=7 * 1440)
    assert dict(outcome.liner_s)[210.0] == pytest.approx(7 * 86400, rel=1e-4)


def test_the_curve_is_short_and_in_order(lined: HotEnd, pla: Material) -> None:
    """A picture needs a few hundred points."""
    curve = soak(lined, pla, set_c=210, what="stalled fan", minutes=30).curve
    assert len(curve.after_s) <= 240
    assert list(curve.after_s) == sorted(set(curve.after_s))
    assert len(curve.creep_mm) == len(curve.nozzle_c) == len(curve.after_s)


@pytest.mark.parametrize(("field", "value"), [("minutes", -1.0), ("set_c", 20.0), ("ambient_c", 150.0)])
def test_what_cannot_be_is_refused_by_name(lined: HotEnd, pla: Material, field: str, value: float) -> None:
    """Field and range are in the refusal."""
    given = {"set_c": 210.0, "minutes": 5.0, field: value}
    with pytest.raises(OutOfRange, match=field):
        soak(lined, pla, what="power cut", **given)


@pytest.mark.parametrize("minutes", [5e-324, 2.2e-308, 1e-20, 1e-6])
def test_a_mishap_of_next_to_no_time_is_one_of_none(lined: HotEnd, pla: Material, minutes: float) -> None:
    """Steps of next to no time came to no number."""
    soaked = soak(lined, pla, set_c=300, what="hot stop", minutes=minutes)
    assert soaked == soak(lined, pla, set_c=300, what="hot stop", minutes=0.0)
