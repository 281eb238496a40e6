"""The heater's model and settings against the published tuning rules and a control-free simulation of its own.

Rules: Skogestad 2003 (SIMC), Grimholt & Skogestad 2018 (with derivative), Åström & Hägglund 2006 (AMIGO); the worked
numbers hold for K 3.0 K per percent, T 120 s, L 8 s. Two-point rule: Smith 1972 (from memory).
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from feedwright.errors import BadInput
from feedwright.service.heater import (
    ageing,
    fit_heating,
    heat_up,
    settings_for,
    simc_pi,
    simc_pid,
    two_point,
)
from feedwright.service.values import HeaterModel, HeatingLog

MODEL = HeaterModel(3.0, 120.0, 8.0, 22.0, 100.0, 0.0, 1.0)
UNIT = HeaterModel(1.0, 1.0, 1.0, 22.0, 100.0, 0.0, 1.0)


def log_of(model: HeaterModel, until_s: float, *, noise: float = 0.0, power: float = 100.0) -> HeatingLog:
    time_s = np.arange(0, until_s, 1.0)
    rise = model.gain_dk_per_percent_ratio * power
    at_c = model.begin_c + rise * -np.expm1(-np.maximum(time_s - model.dead_s, 0) / model.lag_s)
    at_c = at_c + np.random.default_rng(3).normal(0, noise, len(at_c)) if noise else at_c
    return HeatingLog(tuple(time_s), tuple(float(value) for value in at_c))


def test_tuning_rules() -> None:
    fast, slow = simc_pi(MODEL, 8.0), simc_pi(MODEL, 24.0)
    assert (fast.gain_ratio, fast.integral_s) == pytest.approx((2.5, 64.0))
    assert (slow.gain_ratio, slow.integral_s) == pytest.approx((1.25, 120.0))
    pid = simc_pid(MODEL, 4.0)
    assert (pid.gain_ratio, pid.integral_s, pid.derivative_s) == pytest.approx(
        (3.518519, 50.666667, 2.526316), rel=1e-6
    )
    assert (simc_pi(UNIT, 1.0).gain_ratio, simc_pi(UNIT, 1.0).integral_s) == (0.5, 1.0)


def amigo_pi(model: HeaterModel) -> tuple[float, float]:
    """Åström & Hägglund, Advanced PID Control, 2006: a cautious rule (Ms about 1.4) as the judge."""
    k, lag, dead = model.gain_dk_per_percent_ratio, model.lag_s, model.dead_s
    gain = 0.15 / k + (0.35 - dead * lag / (dead + lag) ** 2) * lag / (k * dead)
    return gain, 0.35 * dead + 13 * dead * lag**2 / (lag**2 + 12 * dead * lag + 7 * dead**2)


def test_our_settings_lie_between_a_cautious_and_a_brisk_rule() -> None:
    """Ziegler & Nichols 1942, step response, PI: 0.9 T/(K L) = 4.5; AMIGO, PI: 1.507031 and 59.596117 s."""
    assert amigo_pi(MODEL) == pytest.approx((1.507031, 59.596117), rel=1e-6)
    assert amigo_pi(UNIT) == pytest.approx((0.25, 1.0))
    brisk = 0.9 * MODEL.lag_s / (MODEL.gain_dk_per_percent_ratio * MODEL.dead_s)
    assert brisk == pytest.approx(4.5)
    assert amigo_pi(MODEL)[0] < settings_for(MODEL, 220.0).settings.gain_ratio < brisk


def test_the_serial_form_of_the_rule_is_the_ideal_form_of_ours() -> None:
    """Serial 3.333333, 48, 2.666667 s; ideal is that times 1 + Td/Ti. Ziegler & Nichols' PID, 6.0, 16 s, is brisker."""
    gain, integral, derivative = 120 / (3.0 * (4.0 + 8.0)), min(120.0, 4 * (4.0 + 8.0)), 8.0 / 3
    assert (gain, integral, derivative) == pytest.approx((3.333333, 48.0, 2.666667), rel=1e-6)
    factor, ours = 1 + derivative / integral, simc_pid(MODEL, 4.0)
    assert (ours.gain_ratio, ours.integral_s, ours.derivative_s) == pytest.approx(
        (gain * factor, integral * factor, derivative / factor)
    )
    assert ours.gain_ratio < 1.2 * 120 / (3.0 * 8.0) == pytest.approx(6.0)
    assert ours.integral_s > 2 * 8.0


def test_two_points_of_the_curve() -> None:
    t28, t63 = (8 - 120 * math.log(1 - share) for share in (0.283, 0.632))
    assert (t28, t63) == pytest.approx((47.92153, 127.96068), rel=1e-6)
    assert two_point(t28, t63) == pytest.approx((120.05872, 7.90196), rel=1e-5)


def test_the_fit_gives_back_what_made_the_log() -> None:
    clean = fit_heating(log_of(MODEL, 500))
    assert (clean.gain_dk_per_percent_ratio, clean.lag_s, clean.dead_s) == pytest.approx((3.0, 120, 8), rel=1e-4)
    noisy = fit_heating(log_of(MODEL, 500, noise=1.0))
    assert (noisy.gain_dk_per_percent_ratio, noisy.lag_s, noisy.dead_s) == pytest.approx((3.0, 120, 8), rel=0.03)
    half = fit_heating(log_of(MODEL, 500, power=60.0), power_frac=0.6)
    assert half.gain_dk_per_percent_ratio == pytest.approx(3.0, rel=1e-4)


def test_a_short_log_still_knows_the_slope() -> None:
    """P/C of a lumped block: 40 W on 10.1 J/K rise 3.9604 K/s at first."""
    block = HeaterModel(4.0, 101.0, 3.0, 22.0, 100.0, 0.0, 1.0)
    assert block.slope_c_s == pytest.approx(40 / 10.1)
    short = fit_heating(log_of(block, 70, noise=0.3))
    assert short.slope_c_s == pytest.approx(40 / 10.1, rel=0.05)
    assert short.seen_frac < 0.6


def test_the_simulated_heat_up_agrees_with_an_ode_solver_while_the_power_is_full() -> None:
    """scipy's solve_ivp on the same first-order plant, without its dead time, as long as the controller gives all."""
    settings = simc_pi(MODEL, 8.0)
    time_s, at_c = heat_up(MODEL, settings, 260.0)
    upto = int(np.searchsorted(at_c, 150.0))
    ode = solve_ivp(lambda t, y: (300 * (t >= 8) - (y - 22)) / 120, (0, time_s[upto]), [22.0], max_step=0.1,
                    t_eval=time_s[:upto])  # fmt: skip
    assert at_c[:upto] == pytest.approx(ode.y[0], abs=1.5)


def test_the_liners_limit_is_a_hard_cap() -> None:
    sheet = settings_for(MODEL, 235.0, limit_c=240.0)
    assert sheet.peak_c <= 238.0
    assert abs(heat_up(MODEL, sheet.settings, 235.0)[1][-1] - 235) < 1
    with pytest.raises(BadInput, match="bears 240"):
        settings_for(MODEL, 239.0, limit_c=240.0)
    with pytest.raises(BadInput, match="reaches"):
        settings_for(MODEL, 330.0)


def test_a_log_that_never_heats_is_refused() -> None:
    with pytest.raises(BadInput, match="never heats"):
        fit_heating(HeatingLog(tuple(range(60)), (22.0,) * 60))


def test_ageing_is_called_by_name() -> None:
    weak = HeaterModel(1.9, 120.0, 8.0, 22.0, 100.0, 0.0, 1.0)
    late = HeaterModel(3.0, 120.0, 14.0, 22.0, 100.0, 0.0, 1.0)
    assert ageing([MODEL]) == []
    assert [word for word, _ in ageing([MODEL, weak])] == ["weak heater"]
    assert [word for word, _ in ageing([MODEL, late])] == ["loose sensor"]
