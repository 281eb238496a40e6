"""What planned prints would do to one machine: each part's chance to fail within them."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.naming import pick_entry, within
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.outlook.judgement import bodies_of
from feedwright.farm.outlook.learning import farm_lives
from feedwright.farm.toolpaths.toolpaths import reading_for, toolpath_named
from feedwright.records.store import Store
from feedwright.records.values import Machine, Toolpath
from feedwright.toolpath.values import Duty, Stretch
from feedwright.wear.exposure import exposure_of
from feedwright.wear.values import Surroundings


@dataclass(frozen=True, slots=True)
class PartAhead:
    """One part and the planned prints: what they ask of it, and its chance to fail within them."""

    part: FittedPart
    exposure: float
    failure_frac: float


@dataclass(frozen=True, slots=True)
class PrintsAhead:
    """What the planned prints would do, the likeliest part to fail first."""

    machine: Machine
    prints: tuple[str, ...]
    hours: float
    parts: tuple[PartAhead, ...]
    failure_frac: float
    """Chance that any part fails within them ..."""
    spoiled_frac: float
    """... and that such a failure spoils a print."""


def prints_ahead(
    store: Store, machine: str, toolpaths: Sequence[str], now_utc: datetime, *, material: str, copies: int = 1
) -> PrintsAhead:
    """Each part's chance to fail within these known toolpaths, printed one after the other, each so many times."""
    whose, catalogue = machine_named(store, machine), load_catalogue()
    stuff = pick_entry(catalogue.materials, material, "material")
    within("copies", copies, 1, 100_000)
    known = [toolpath_named(store, name) for name in toolpaths]
    stretch = sum((_duty(store, toolpath, whose).whole for toolpath in known), Stretch()).times(copies)
    ahead = parts_ahead(store, whose, stretch, stuff, now_utc)
    return PrintsAhead(
        whose,
        tuple(toolpath.name for toolpath in known),
        stretch.duration_s / 3600,
        ahead,
        1.0 - math.prod(1.0 - one.failure_frac for one in ahead),
        spoiled_frac(ahead),
    )


def parts_ahead(
    store: Store, machine: Machine, stretch: Stretch, material: Material, now_utc: datetime
) -> tuple[PartAhead, ...]:
    """What a stretch of printing would ask of each part of a machine, the likeliest to fail within it first."""
    around = Surroundings(material.id, machine.enclosure_c, machine.motion.filament_diameter_mm)
    parts = fitted_parts(store, now_utc, machines=[machine])
    asked = {part.fitting.id: exposure_of(part.kind, stretch, around, material) for part in parts}
    chance = _chances(store, parts, asked)
    ahead = [PartAhead(part, asked[part.fitting.id], chance[part.fitting.id]) for part in parts]
    return tuple(sorted(ahead, key=lambda one: -one.failure_frac))


def spoiled_frac(ahead: Sequence[PartAhead]) -> float:
    """Chance that one of the parts fails and spoils the print by it; parts are taken to fail independently."""
    return 1.0 - math.prod(1.0 - one.failure_frac * one.part.kind.spoils_frac.value for one in ahead)


def _duty(store: Store, toolpath: Toolpath, machine: Machine) -> Duty:
    reading = reading_for(store, toolpath, machine)
    if reading.duty is None:
        raise BadInput(
            "toolpath", place=toolpath.name, expected="it holds no printing", remedy="name one that the machine prints"
        )
    return reading.duty


def _chances(store: Store, parts: Sequence[FittedPart], asked: dict[int, float]) -> dict[int, float]:
    """Each part's chance to fail within what is asked of it, by fitting."""
    lives, by_kind = farm_lives(store), defaultdict(list)
    for part in parts:
        by_kind[part.kind.id].append(part.fitting)
    chance = {}
    for kind, fittings in by_kind.items():
        for fitting, body in zip(fittings, bodies_of(lives.belief(kind), fittings, lives.stories), strict=True):
            alive = body.alive_after(np.array([asked[fitting.id]]))
            chance[fitting.id] = float(np.clip(1.0 - alive[0], 0.0, 1.0))
    return chance
