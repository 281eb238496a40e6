"""The greatest flow a feed path sustains, by nozzle temperature: what a toolpath's moves are held against."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import polymer_of
from feedwright.physics.air import Floats
from feedwright.physics.feed_force import FeedPath, limits_n, melt_and_core_c, push_n
from feedwright.physics.hot_end import within
from feedwright.physics.values import Band, FlowLimit, Limit

TABLE_C = np.arange(120.0, 401.0, 5.0)
LEAST_MM3_S, MOST_MM3_S = 1e-3, 150.0
HALVINGS = 30
"""Of the five decades between: flows come out to 1e-8 of themselves."""


def flow_limit(path: FeedPath, material: Material, *, nozzle_c: Floats = TABLE_C, ambient_c: float = 22.0) -> FlowLimit:
    """Greatest sustained flow at each nozzle temperature (n,), rising.

    The lesser of two: the flow whose push the drive can just give (the push counted with the melt's own mean
    temperature, so that a faster feed meets a stiffer melt), and the flow at which the core is just warm enough to
    pass the orifice (the melt boundary reaching the nozzle: Luo, Wang, Migler & Seppala, Addit. Manuf. 2020). The
    band is the catalogue's on that core temperature and on the grip; 0 where the material does not flow.
    """
    within("ambient_c", ambient_c, -20.0, 100.0)
    within("nozzle_c", float(np.min(nozzle_c)), 40.0, 450.0)
    within("nozzle_c", float(np.max(nozzle_c)), 40.0, 450.0)
    flows_c, grip = polymer_of(material).flows_c, path.drive.grip_n
    weakest, bears_n = limits_n(path, material)[0]
    low_n, high_n = (
        limits_n(replace(path, grip_n=path.grip_n * edge / grip.value), material)[0][1]
        for edge in (grip.low, grip.high)
    )
    by_push = _by_push(path, material, nozzle_c, ambient_c, bears_n)
    by_heat = _by_heat(path, material, nozzle_c, ambient_c, flows_c.value)
    words: tuple[Limit, Limit] = ("heat into the filament", weakest)
    return FlowLimit(
        nozzle_c=nozzle_c,
        flow_mm3_s=np.minimum(by_push, by_heat),
        low_mm3_s=np.minimum(
            _by_push(path, material, nozzle_c, ambient_c, low_n),
            _by_heat(path, material, nozzle_c, ambient_c, flows_c.high),
        ),
        high_mm3_s=np.minimum(
            _by_push(path, material, nozzle_c, ambient_c, high_n),
            _by_heat(path, material, nozzle_c, ambient_c, flows_c.low),
        ),
        limited_by=tuple(words[int(push < heat)] for push, heat in zip(by_push, by_heat, strict=True)),
    )


def greatest_flow(
    path: FeedPath, material: Material, *, nozzle_c: float, ambient_c: float = 22.0
) -> tuple[Band, Limit]:
    """Greatest sustained flow in mm³/s at one nozzle temperature, and what sets it."""
    limit = flow_limit(path, material, nozzle_c=np.array([nozzle_c]), ambient_c=ambient_c)
    band = Band(float(limit.low_mm3_s[0]), float(limit.flow_mm3_s[0]), float(limit.high_mm3_s[0]))
    return band, limit.limited_by[0]


def _by_push(path: FeedPath, material: Material, nozzle_c: Floats, ambient_c: float, bears_n: float) -> Floats:
    """The push rises with the flow, so halve the logarithm of the flow between the ends."""

    def bearable(flow_mm3_s: Floats) -> NDArray[np.bool_]:
        melt_c, _ = melt_and_core_c(path, material, flow_mm3_s, nozzle_c, ambient_c)
        return push_n(path, material, flow_mm3_s, melt_c)[1] <= bears_n

    return _greatest(bearable, nozzle_c)


def _by_heat(path: FeedPath, material: Material, nozzle_c: Floats, ambient_c: float, flows_c: float) -> Floats:
    """The core gets colder as the flow rises."""

    def warm(flow_mm3_s: Floats) -> NDArray[np.bool_]:
        return melt_and_core_c(path, material, flow_mm3_s, nozzle_c, ambient_c)[1] >= flows_c

    return _greatest(warm, nozzle_c)


def _greatest(holds: Callable[[Floats], NDArray[np.bool_]], nozzle_c: Floats) -> Floats:
    low = np.full(len(nozzle_c), np.log(LEAST_MM3_S))
    high = np.full(len(nozzle_c), np.log(MOST_MM3_S))
    possible = holds(np.exp(low))
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        fits = holds(np.exp(middle))
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return np.where(possible, np.exp(low), 0.0)
