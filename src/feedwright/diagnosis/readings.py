"""Numbers as evidence: how likely a reading is where the observation is present, and where it is not.

Each law compares the density of the reading in a sound machine with that in one that is off. Where the physics knows
the quantity (the heat sink) it gives both; elsewhere a sound value spreads normally by its measuring error (JCGM
100:2008) and the machine's own scatter, and a value that is off lies evenly over the range that the trade sees.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import load_hot_ends
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import ReadingKind
from feedwright.diagnosis.values import Floats, Likelihood
from feedwright.errors import OutOfRange
from feedwright.physics.fan import BEST, HEALTHY_FROM, MODEL_SPREAD
from feedwright.physics.heat_flow import steady
from feedwright.physics.hot_end import heat_path

FLOOR = 1e-4
"""No reading is impossible: a slip of the pen or of the tool is always possible (assumed, 1 in 10 000)."""
THERMOMETER_C = 2.0
"""Standard uncertainty of a contact thermometer on a small surface (assumed)."""


@dataclass(frozen=True, slots=True)
class Around:
    """What a reading depends on besides the machine's health."""

    lined: bool = True
    nozzle_c: float = 210.0
    ambient_c: float = 22.0
    material: str = "pla"


def likelihoods(kind: ReadingKind, value: float, around: Around) -> dict[str, Likelihood]:
    """Likelihood by observation; raises OutOfRange for a number that cannot be such a reading."""
    return {"sink_temperature": _sink, "feed_error": _feed, "wall_thickness": _wall, "filament_diameter": _filament}[
        kind.law
    ](value, around)  # fmt: skip


def _sink(value: float, around: Around) -> dict[str, Likelihood]:
    """Sink top against the heat balance of the hot end: fan effectiveness 0.5 to 1.5 is sound, below it is not."""
    if not around.ambient_c - 10 <= value <= around.nozzle_c:
        raise OutOfRange("sink temperature, °C", value, around.ambient_c - 10, around.nozzle_c)
    shares, top_c = sink_curve(around)
    spread = np.hypot(THERMOMETER_C, MODEL_SPREAD * np.maximum(0.0, top_c - around.ambient_c))
    density = np.exp(-0.5 * ((value - top_c) / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
    sound = float(density[shares >= HEALTHY_FROM].mean())
    off = float(density[shares < HEALTHY_FROM].mean())
    if value < float(top_c[shares >= HEALTHY_FROM].min()):  # colder than any fan makes it: no sign of a hot sink
        off = min(off, 0.02 * sound)
    return {"sink_hot": _pair(off, sound)}


@lru_cache(maxsize=32)
def sink_curve(around: Around) -> tuple[Floats, Floats]:
    """Fan effectiveness from still air to the best, and the temperature at the top of the sink for each."""
    kinds = load_hot_ends().hot_ends.values()
    hot_end = next((kind for kind in kinds if kind.lined == around.lined), next(iter(kinds)))
    material: Material = load_catalogue().materials[around.material]
    path = heat_path(hot_end, material, flow_mm3_s=0.0, ambient_c=around.ambient_c)
    shares = np.linspace(0.0, BEST, 16)
    return shares, np.array([steady(path, around.nozzle_c, float(share)).sink_top_c for share in shares])


def _feed(value: float, _: Around) -> dict[str, Likelihood]:
    """100 mm asked, ``value`` mm fed. Sound: error of ruler and marks 0.2 mm each, own scatter 1 % (assumed)."""
    if not 0 <= value <= 200:
        raise OutOfRange("feed, mm of 100", value, 0, 200)
    error = value / 100 - 1
    spread = math.hypot(0.003, 0.010)
    sound = _normal(error, 0.0, spread)
    return {
        "feed_short": _pair(_even(error, -0.6, -0.03, spread), sound + _even(error, 0.03, 0.3, spread) * 0.05),
        "feed_long": _pair(_even(error, 0.03, 0.3, spread), sound + _even(error, -0.6, -0.03, spread) * 0.05),
    }


def _wall(value: float, _: Around) -> dict[str, Likelihood]:
    """A wall set to 0.45 mm. Sound: 3 % scatter with a 0.01 mm calliper (assumed)."""
    if not 0.05 <= value <= 2:
        raise OutOfRange("wall thickness, mm", value, 0.05, 2)
    ratio = value / 0.45
    sound = _normal(ratio, 1.0, 0.037)
    return {
        "wall_thin": _pair(_even(ratio, 0.4, 0.93, 0.037), sound + _even(ratio, 1.07, 1.8, 0.037) * 0.05),
        "wall_thick": _pair(_even(ratio, 1.07, 1.8, 0.037), sound + _even(ratio, 0.4, 0.93, 0.037) * 0.05),
    }


def _filament(value: float, _: Around) -> dict[str, Likelihood]:
    """Filament of 1.75 mm. Sound: within 0.03 mm at two sigma, with a 0.01 mm calliper (assumed)."""
    if not 1.0 <= value <= 3.2:
        raise OutOfRange("filament diameter, mm", value, 1.0, 3.2)
    spread = math.hypot(0.015, 0.010)
    off = 0.5 * (_even(value, 1.80, 2.0, spread) + _even(value, 1.5, 1.70, spread))
    return {"filament_off_size": _pair(off, _normal(value, 1.75, spread))}


def _pair(present: float, absent: float) -> Likelihood:
    """Both densities as shares of their sum, neither quite nought."""
    whole = present + absent
    share = present / whole if whole > 0 else 0.5
    share = FLOOR + (1 - 2 * FLOOR) * share
    return Likelihood(share, 1 - share)


def _normal(at: float, mean: float, spread: float) -> float:
    return math.exp(-0.5 * ((at - mean) / spread) ** 2) / (spread * math.sqrt(2 * math.pi))


def _even(at: float, low: float, high: float, spread: float) -> float:
    """Density of a value spread evenly over a range, seen through a normal error."""
    upper, lower = (math.erf((edge - at) / (spread * math.sqrt(2))) for edge in (high, low))
    return (upper - lower) / 2 / (high - low)
