"""The sink fan judged by one reading at the top of the sink, by contact thermometer or, second best, a fingertip."""

import math

import numpy as np

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import HotEnd, polymer_of
from feedwright.physics.air import Floats
from feedwright.physics.heat_flow import soft_from_mm, steady
from feedwright.physics.hot_end import heat_path, within
from feedwright.physics.values import Band, FanVerdict, FanWord, HeatState

HEALTHY_FROM, FAILED_BELOW = 0.5, 0.2
"""Effectiveness. The published spread of heat transfer under healthy fans is 0.5 to 1.5 of the nominal one."""
BEST = 1.5
MODEL_SPREAD = 0.15
"""Of the sink's rise above ambient: necks and sinks of one kind differ by so much (assumed)."""
GRID = np.concatenate([np.linspace(0.0, 0.3, 16), np.linspace(0.35, BEST, 24)])
THERMOMETER = "Measure with a contact thermometer where you can: a finger is a poor probe and can be burnt."


def fan_reading(
    hot_end: HotEnd,
    material: Material,
    *,
    sink_top_c: Band,
    set_c: float,
    ambient_c: float,
    flow_mm3_s: float = 0.0,
    by_finger: bool = False,
) -> FanVerdict:
    """Fan effectiveness from the temperature at the top of the sink, at rest after ten minutes at ``set_c``.

    ``sink_top_c`` is a thermometer's reading with its tolerance, or :func:`finger_band_c` of a touch. The steady
    model is solved over a range of effectiveness and read backwards; a hotter sink means less air. The band joins
    the reading's tolerance with the spread between hot ends of one kind (:data:`MODEL_SPREAD`). A reading
    colder than the best fan gives counts as the best, one hotter than still air as still air, and says so.
    Raises OutOfRange for a reading below ambient or above the nozzle.
    """
    within("sink_top_c", sink_top_c.mid, ambient_c - 5.0, set_c, remedy="measure at the top of the sink, in °C")
    path = heat_path(hot_end, material, flow_mm3_s=flow_mm3_s, ambient_c=ambient_c)
    states = [steady(path, set_c, float(share)) for share in GRID]
    top_c = np.array([state.sink_top_c for state in states])
    effectiveness_ratio = Band(*(_read_back(top_c, GRID, at_c) for at_c in _falling(_widened(sink_top_c, ambient_c))))
    soft_mm = soft_from_mm(path, np.array([state.core_c for state in states]), polymer_of(material).softens_c.value)

    def at(values: Floats) -> Band:
        """A quantity of the model over the band of effectiveness; more air, less heat."""
        return Band(*(float(np.interp(share, GRID, values)) for share in _falling(effectiveness_ratio)))

    word = _word(effectiveness_ratio.mid)
    sure = _word(effectiveness_ratio.low) == _word(effectiveness_ratio.high)
    return FanVerdict(
        word=word,
        sure=sure,
        effectiveness_ratio=effectiveness_ratio,
        sink_top_c=sink_top_c,
        healthy_sink_top_c=Band(*(float(np.interp(share, GRID, top_c)) for share in (BEST, 1.0, HEALTHY_FROM))),
        liner_end_c=at(np.array([state.wall_c[path.liner_end] for state in states])),
        neck_top_c=at(np.array([state.wall_c[path.neck_top] for state in states])),
        creep_mm=at(np.maximum(0.0, path.block_top_mm - soft_mm)),
        because=_because(word, sure, effectiveness_ratio, sink_top_c, states),
        cautions=(THERMOMETER,) if by_finger else (),
    )


def _widened(reading_c: Band, ambient_c: float) -> Band:
    """The reading's own band and the model's spread, as independent errors."""
    spread = MODEL_SPREAD * max(0.0, reading_c.mid - ambient_c)
    return Band(
        reading_c.mid - math.hypot(reading_c.mid - reading_c.low, spread),
        reading_c.mid,
        reading_c.mid + math.hypot(reading_c.high - reading_c.mid, spread),
    )


def _falling(band: Band) -> tuple[float, float, float]:
    return band.high, band.mid, band.low


def _read_back(falling_c: Floats, shares: Floats, at_c: float) -> float:
    return float(np.interp(at_c, falling_c[::-1], shares[::-1]))


def _word(effectiveness_ratio: float) -> FanWord:
    if effectiveness_ratio < FAILED_BELOW:
        return "failed"
    return "healthy" if effectiveness_ratio >= HEALTHY_FROM else "weak"


def _because(
    word: FanWord, sure: bool, effectiveness_ratio: Band, reading_c: Band, states: list[HeatState]
) -> tuple[str, ...]:
    """The reasoning in sentences."""
    coldest_c, hottest_c = states[-1].sink_top_c, states[0].sink_top_c
    found = [
        f"The sink's top is at {reading_c.mid:.0f} °C ({reading_c.low:.0f} to {reading_c.high:.0f}); "
        f"the fan takes {effectiveness_ratio.mid:.0%} of the heat a usual one would "
        f"({effectiveness_ratio.low:.0%} to {effectiveness_ratio.high:.0%}): {word}."
    ]
    if not sure:
        found.append("The band crosses the line between two verdicts: measure more closely before renewing it.")
    if reading_c.low > hottest_c:
        found.append(
            f"Even still air would leave the sink at {hottest_c:.0f} °C: check that the nozzle is no hotter than "
            "shown, and that neck and sink are seated."
        )
    if reading_c.high < coldest_c:
        found.append("The sink is colder than a good fan makes it: was the nozzle hot for ten minutes?")
    return tuple(found)
