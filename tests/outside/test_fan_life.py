"""Fan life rules of the fan trade, as its published notes state them.

Sources: L10, the time by which one in ten has failed, as IPC-9591 (2006) uses it; Weibull life of fans: Electronics
Cooling 2(2), May 1996; shape 1.1 and "life divides by 1.5 per +10 K" from a life note of the fan trade (its
MTTF = 7 x L10 is a rounding of the exact 7.463844; its test-time constants 1.036 and 0.91 are 1/Gamma(1 + 1/1.1) and
1/1.1). The other rows are the same closed forms at other shapes.
"""

import math

import numpy as np
import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import LAWS, exposure_of
from feedwright.wear.life import Belief, LifeCurve, curve
from feedwright.wear.outlook import still_alive
from feedwright.wear.values import Interval, Surroundings

KNOWN = load_catalogue()


def fan(l10_h: float, shape: float) -> LifeCurve:
    median_h = l10_h * (math.log(2.0) / -math.log(0.9)) ** (1 / shape)
    return curve(Belief("weibull", np.log([median_h]), np.log([shape]), np.ones((1, 1)), "known"))


@pytest.mark.parametrize(
    ("shape", "scale", "mean", "half", "failed_at_twice"),
    [
        (1.0, 9.491222, 9.491222, 6.578813, 0.190000),
        (1.1, 7.735255, 7.463844, 5.543327, 0.202158),
        (1.5, 4.482787, 4.046815, 3.511007, 0.257702),
        (2.0, 3.080783, 2.730273, 2.564920, 0.343900),
        (3.0, 2.117259, 1.890669, 1.873768, 0.569533),
    ],
)
def test_l10_leads_to_scale_mean_and_median(
    shape: float, scale: float, mean: float, half: float, failed_at_twice: float
) -> None:
    held = fan(1.0, shape)
    assert held.quantile(0.1) == pytest.approx(1.0, rel=1e-3)
    assert held.quantile(1 - math.exp(-1)) == pytest.approx(scale, rel=1e-3)
    assert held.life.mid == pytest.approx(half, rel=1e-3)
    assert 1 - held.alive(2.0) == pytest.approx(failed_at_twice, abs=2e-4)
    assert 1 / held.rates.failures[-1] == pytest.approx(mean, rel=2e-3)


def test_chance_to_fail_in_the_next_5000_hours_of_a_fan_at_20_000() -> None:
    """L10 30 000 h, shape 1.1: 1 - 0.981410."""
    alive = still_alive(fan(30_000.0, 1.1), Interval(20_000.0, 20_000.0, 20_000.0), np.array([5_000.0]))
    assert 1 - alive[0] == pytest.approx(0.018590, abs=2e-4)


@pytest.mark.parametrize(("at_c", "factor"), [(40.0, 1.0), (50.0, 1.5), (60.0, 75_000 / 33_333.33), (75.0, 4.133514)])
def test_ten_kelvin_warmer_air_divides_life_by_one_and_a_half(at_c: float, factor: float) -> None:
    """75 000 h at 40 °C are 33 333.33 h at 60 °C; 75 °C against 40 °C is 4.133514."""
    numbers = {"reference_c": 40.0, "ratio_per_10k_ratio": 1.5, "running_c": at_c}
    causes = LAWS["warm_fan_hours"](
        Stretch(nozzle_s=((215.0, 3600.0),)), numbers, Surroundings(""), KNOWN.materials["pla"]
    )
    assert sum(cause.exposure for cause in causes) == pytest.approx(factor, rel=1e-6)


@pytest.mark.parametrize("part", ["sink_fan", "part_fan", "supply_fan"])
def test_the_catalogue_uses_that_ratio_and_a_shape_between_the_note_s_and_wear_out(part: str) -> None:
    kind = KNOWN.parts[part]
    ratio = kind.exposure.numbers["ratio_per_10k_ratio"]
    assert ratio.value == 1.5
    assert ratio.high == 2.0, "many use 2 per 10 K (from memory)"
    assert kind.life.shape.low <= 1.1 <= kind.life.shape.value <= 3.0


def test_a_warm_enclosure_shortens_a_sink_fan_s_calendar_life() -> None:
    kind, hour = KNOWN.parts["sink_fan"], Stretch(nozzle_s=((215.0, 3600.0),))
    room, warm = (exposure_of(kind, hour, Surroundings("", c), KNOWN.materials["pla"]) for c in (22.0, 52.0))
    assert warm / room == pytest.approx(1.5**3)
