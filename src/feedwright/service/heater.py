"""The heater: a first-order-plus-dead-time model of a heating log, and controller settings that stay under the liner.

Settings are Skogestad's (SIMC), in the ideal form that most machines take; the slower the closed loop asked for, the
smaller the overshoot. The simulation decides how slow.
"""

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feedwright.errors import BadInput
from feedwright.service.heating_log import refuse_unlike_heating
from feedwright.service.values import HeaterModel, HeaterSettings, HeaterSheet, HeatingLog

Floats = NDArray[np.float64]

SLOWNESS = (0.5, 1.0, 2.0, 3.0, 5.0, 8.0)
"""Closed-loop time over dead time, fastest first; 0.5 is the tightest that keeps good margins with a derivative."""
MARGIN_DK = 2.0
"""How far under the liner's limit the peak must stay: sensors differ (assumed)."""
WEAK, LATE, LOW = 0.7, 1.5, 0.85
"""Initial slope, dead time and gain against the first fit, from which they are called by name (assumed)."""
MOST_OVERSHOOT_DK = 5.0
"""More overshoot than this is not offered where a slower loop would overshoot less (assumed)."""


def fit_heating(log: HeatingLog, *, power_frac: float = 1.0) -> HeaterModel:
    """Least-squares fit of ``T(t) = T0 + K P (1 - exp(-(t - L)/T))``, nothing before L, to a log at steady power.

    ``power_frac`` is the share of full power. Two points of the curve (28.3 % and 63.2 % of the rise) give the start
    of the search. Raises BadInput for a log that never heats or that this model does not fit.
    """
    refuse_unlike_heating(log)
    if not 0.05 <= power_frac <= 1:
        raise BadInput("power", place=f"{power_frac:g}", expected="expected a share from 0.05 to 1", remedy="1 is full")
    from scipy.optimize import least_squares

    time_s, at_c = np.array(log.time_s) - log.time_s[0], np.array(log.at_c)
    rise, lag_s, dead_s = _start(time_s, at_c)

    def missed(p: Floats) -> Floats:
        return np.asarray(_rise(time_s, *p[:3]) + p[3] - at_c, dtype=np.float64)

    span_s = float(time_s[-1])
    low, high = [1.0, 1.0, 0.0, at_c[0] - 10], [1500.0, 20 * span_s, 0.5 * span_s, at_c[0] + 10]
    begin = np.clip([rise, lag_s, dead_s, at_c[0]], np.array(low) + 1e-6, np.array(high) - 1e-6)
    found = least_squares(missed, begin, bounds=(low, high), x_scale=[100.0, 50.0, 5.0, 1.0])
    rise, lag_s, dead_s, begin_c = (float(value) for value in found.x)
    rms = float(np.sqrt(np.mean(found.fun**2)))
    seen = 1 - math.exp(-max(span_s - dead_s, 0.0) / lag_s)
    if rms > 0.05 * (float(at_c.max()) - begin_c) + 1.0:
        raise BadInput(
            "heating log",
            place=f"the model is out by {rms:.1f} K (rms)",
            expected="expected a heat-up at steady power from cold, with nothing else changing",
            remedy="hold the power steady, keep the part-cooling fan as it is, and log until the rise slows down",
        )
    percent = 100 * power_frac
    return HeaterModel(rise / percent, lag_s, max(dead_s, 0.1), begin_c, percent, rms, seen)


def _rise(time_s: Floats, rise_dk: float, lag_s: float, dead_s: float) -> Floats:
    return np.asarray(rise_dk * -np.expm1(-np.maximum(time_s - dead_s, 0.0) / lag_s), dtype=np.float64)


def _start(time_s: Floats, at_c: Floats) -> tuple[float, float, float]:
    """Rise, lag and dead time by the two-point rule; where the log stops early it still gives the right size."""
    rise = float(at_c.max() - at_c[0])
    t28, t63 = (
        float(np.interp(share * rise, np.maximum.accumulate(at_c - at_c[0]), time_s)) for share in (0.283, 0.632)
    )
    lag_s, dead_s = two_point(t28, t63)
    return 1.2 * rise, max(lag_s, 2.0), max(dead_s, 0.5)


def two_point(t28_s: float, t63_s: float) -> tuple[float, float]:
    """Lag and dead time from the times of 28.3 % and 63.2 % of the rise: ``T = 1.5 (t63 - t28)``, ``L = t63 - T``.

    Source: C. L. Smith, Digital Computer Process Control, 1972 (from memory).
    """
    lag_s = 1.5 * (t63_s - t28_s)
    return lag_s, t63_s - lag_s


def simc_pi(model: HeaterModel, closed_s: float) -> HeaterSettings:
    """``Kc = T/(K (tc + L))``, ``Ti = min(T, 4 (tc + L))`` (Skogestad, J. Process Control 13, 2003, 291)."""
    k, lag, dead = model.gain_dk_per_percent_ratio, model.lag_s, model.dead_s
    return HeaterSettings("SIMC, PI", lag / (k * (closed_s + dead)), min(lag, 4 * (closed_s + dead)), 0.0)


def simc_pid(model: HeaterModel, closed_s: float) -> HeaterSettings:
    """The same with a derivative of L/3, turned from the serial into the ideal form by ``1 + Td/Ti``.

    Source: Grimholt & Skogestad, J. Process Control 70, 2018, 36.
    """
    serial, derivative = simc_pi(model, closed_s), model.dead_s / 3
    factor = 1 + derivative / serial.integral_s
    return HeaterSettings("SIMC, PID", serial.gain_ratio * factor, serial.integral_s * factor, derivative / factor)


def heat_up(
    model: HeaterModel, settings: HeaterSettings, target_c: float, *, begin_c: float | None = None
) -> tuple[Floats, Floats]:
    """Time in s and temperature in °C of a simulated heat-up to the target, the power held within 0 to 100 %.

    The derivative acts on the temperature alone and the integral rests while the power is at its bound, as
    controllers of heaters usually do (common practice).
    """
    ambient = model.begin_c
    step_s = min(0.2, model.dead_s / 4, settings.integral_s / 50)
    late = max(1, round(model.dead_s / step_s))
    count = round(min(3600.0, 12 * (model.lag_s + model.dead_s)) / step_s)
    power = [0.0] * late
    time_s: Floats = np.linspace(0.0, (count - 1) * step_s, count)
    at_c: Floats = np.empty(count)
    now = before = ambient if begin_c is None else begin_c
    integral = 0.0
    for i in range(count):
        at_c[i] = now
        error = target_c - now
        wanted = settings.gain_ratio * (error + integral - settings.derivative_s * (now - before) / step_s)
        given = min(100.0, max(0.0, wanted))
        if given == wanted:
            integral += error * step_s / settings.integral_s
        power.append(given)
        before = now
        now += step_s * (model.gain_dk_per_percent_ratio * power[i] - (now - ambient)) / model.lag_s
    return time_s, at_c


def settings_for(model: HeaterModel, target_c: float, *, limit_c: float = math.inf) -> HeaterSheet:
    """The tightest settings of :data:`SLOWNESS` whose heat-up stays calm and under the limit of the fitted parts.

    Raises BadInput where the target is itself too near the limit, cannot be reached, or no settings keep the peak
    under the limit.
    """
    if target_c + MARGIN_DK > limit_c:
        raise BadInput(
            "target",
            place=f"{target_c:g} °C",
            expected=f"the fitted liner bears {limit_c:g} °C: expected {limit_c - MARGIN_DK:g} °C or less",
            remedy="tune at a lower temperature; above the limit the liner softens and gives off harmful fumes",
        )
    most_c = model.begin_c + 100 * model.gain_dk_per_percent_ratio
    if not model.begin_c + 20 <= target_c <= most_c - 5:
        raise BadInput(
            "target",
            place=f"{target_c:g} °C",
            expected=f"by the log this heater reaches {model.begin_c + 20:.0f} to {most_c - 5:.0f} °C",
            remedy="correct the target; where it should reach it, the heater is weak: look at it",
        )
    tried = [_sheet(model, simc_pid(model, slow * model.dead_s), target_c, limit_c) for slow in SLOWNESS]
    under = [sheet for sheet in tried if sheet.peak_c + MARGIN_DK <= limit_c]
    if not under:
        least = min(sheet.peak_c for sheet in tried)
        raise BadInput(
            "target",
            place=f"{target_c:g} °C",
            expected=f"the gentlest settings still peak at {least:.1f} °C; the liner bears {limit_c:g} °C",
            remedy=f"tune at {target_c - (least + MARGIN_DK - limit_c):.0f} °C or less",
        )
    calm = [sheet for sheet in under if sheet.peak_c - target_c <= MOST_OVERSHOOT_DK]
    return calm[0] if calm else min(under, key=lambda sheet: sheet.peak_c)


def _sheet(model: HeaterModel, settings: HeaterSettings, target_c: float, limit_c: float) -> HeaterSheet:
    time_s, at_c = heat_up(model, settings, target_c)
    last_out = int((np.abs(at_c - target_c) > 1.0).nonzero()[0].max(initial=-1))
    settled = float(time_s[min(last_out + 1, len(time_s) - 1)])
    peak = float(at_c.max())
    return HeaterSheet(
        model, settings, target_c, peak, settled, limit_c,
        (
            f"The log shows {model.seen_frac:.0%} of the whole rise; the model is out by {model.rms_dk:.1f} K (rms).",
            *(() if model.seen_frac > 0.6 else (
                "It stops early: the slope is known well, the final temperature poorly. Log longer where the limit "
                "of the parts allows.",)),
            f"Heated to {target_c:.0f} °C it should peak at {peak:.1f} °C and be steady after {settled:.0f} s.",
            "Watch the first heat-up with these settings with a hand at the switch.",
        ),
    )  # fmt: skip


Ageing = Literal["weak heater", "loose sensor", "loose heater or sensor"]


def ageing(fits: list[HeaterModel]) -> list[tuple[Ageing, str]]:
    """What the latest fit says against the first one of the same parts; empty where nothing is out.

    Slope down: the heater gives less. Dead time up: the sensor sits loose. Gain down at the same slope: heat is lost,
    or the sensor reads low.
    """
    if len(fits) < 2:
        return []
    first, last = fits[0], fits[-1]
    slope, dead = last.slope_c_s / first.slope_c_s, last.dead_s / first.dead_s
    gain = last.gain_dk_per_percent_ratio / first.gain_dk_per_percent_ratio
    found: list[tuple[Ageing, str]] = []
    if slope < WEAK:
        found.append(
            ("weak heater", f"The first slope is {slope:.0%} of what it was: a weak heater, or a poor contact.")
        )
    if dead > LATE:
        found.append(("loose sensor", f"The dead time is {dead:.1f} times what it was: the sensor may sit loose."))
    if gain < LOW and slope >= WEAK:
        words = f"At the same power it ends {1 - gain:.0%} lower: a loose heater or sensor, or air on the block."
        found.append(("loose heater or sensor", words))
    return found
