"""How warm bare metal may be for how long a touch: the lower edge of the burn thresholds, and a finger as a probe.

The thresholds are recalled from ISO 13732-1 and marked so in docs/models/heat.md; they bound what is safe from
above and are no invitation to touch. A contact thermometer is the safe way.
"""

import math

import numpy as np

from feedwright.physics.hot_end import within
from feedwright.physics.values import Band

THRESHOLDS = ((1.0, 65.0), (10.0, 55.0), (60.0, 51.0), (600.0, 48.0), (28800.0, 43.0))
"""Contact time (s) and the lower edge of the burn threshold of uncoated metal (°C)."""
REST_C = 43.0
"""Hands may rest on it."""
HARD_STOP_C = 51.0
"""No deliberate reach above this; never above 55 °C without tool and glove."""
HOTTEST_SINK_C = 250.0
"""A sink never gets hotter than this: the top of the band where a finger says only "too hot"."""

_LOG_S = [math.log10(seconds) for seconds, _ in THRESHOLDS]
_AT_C = [at_c for _, at_c in THRESHOLDS]


def burn_threshold_c(contact_s: float) -> float:
    """Lower edge of the burn threshold of uncoated metal for one contact.

    Straight lines in log10 of the time between :data:`THRESHOLDS`; below 1 s as for 1 s, above 8 h as for 8 h.
    Source: ISO 13732-1:2006 (from memory). Raises OutOfRange for a time below zero.

    >>> round(burn_threshold_c(4), 4)
    58.9794
    """
    within("contact_s", contact_s, 0.0, math.inf)
    return float(np.interp(math.log10(max(contact_s, 1.0)), _LOG_S, _AT_C))


def safe_contact_s(surface_c: float) -> float:
    """How long bare metal at that temperature may be touched: the rule above read backwards.

    0 from 65 °C on; infinite at 43 °C and below.

    >>> round(safe_contact_s(55), 6)
    10.0
    """
    if surface_c >= _AT_C[0]:
        return 0.0
    if surface_c <= _AT_C[-1]:
        return math.inf
    return float(10 ** np.interp(surface_c, _AT_C[::-1], _LOG_S[::-1]))


def finger_band_c(held_s: float, *, let_go: bool, ambient_c: float = 22.0) -> Band:
    """What a fingertip on bare metal says of its temperature.

    ``held_s`` is how long it was held; ``let_go`` True where it had to be taken away because it hurt. Let go after
    t seconds: at most the threshold for t, and at least that for 60 t, since pain leads a burn by far less than
    60 times (assumed). Held without need to let go: between ambient and the threshold for t. Under one second:
    the threshold for 10 s or more, with no upper bound but the hottest sink.
    """
    within("held_s", held_s, 0.0, 600.0, remedy="give the seconds the finger was held, at most ten minutes")
    high = burn_threshold_c(held_s) if held_s >= 1.0 else HOTTEST_SINK_C
    low = ambient_c
    if let_go:
        low = burn_threshold_c(60.0 * held_s) if held_s >= 1.0 else burn_threshold_c(10.0)
    return Band(low, (low + min(high, low + 20.0)) / 2, max(low, high))
