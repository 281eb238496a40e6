"""Will this machine, as it stands, print this file well? Where in the file it will not, and why.

The timed moves are walked once; each is held against what the feed path sustains at its temperature, what the fitted
parts and the material bear, and what the slack of the feed asks of a retraction.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feedwright.physics.values import FlowLimit
from feedwright.toolpath.timed import TimedMoves
from feedwright.units import show, show_duration

Floats = NDArray[np.float64]

SLICES = 512
"""At most so many points has the picture."""
MOST_STRETCHES = 200
CHEWED_PASSES = 24
"""From so many passes of the drive the gear has dug into filament (assumed; no published limit was found)."""
LEAST_RETRACTION_MM = 0.05
"""Smaller pulls are rounding in the file."""

COUNTED = ("short", "long", "chewed", "cold", "hot", "caution", "limit", "retractions")
"""What the walk counts, in the order of its rows."""

TroubleKind = Literal[
    "flow", "too cold", "too hot", "liner", "chewed", "retraction short", "retraction long", "travel", "limits",
    "nozzle", "bore", "spool", "wear",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class FitLimits:
    """What a machine, its fitted parts and a material bear."""

    flow: FlowLimit
    cold_c: float
    """Least nozzle temperature the material is printed at."""
    hot_c: float
    caution_c: float
    """From here the liner ages fast; infinite where none reaches the nozzle."""
    limit_c: float
    """The liner's own limit."""
    retraction_low_mm: float
    """Shorter ones are lost in the slack of the feed path."""
    retraction_high_mm: float
    """Longer ones draw melt up into the cold part."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing in which a file overtaxes the machine."""

    kind: TroubleKind
    grave: bool
    """True where the print is likely to fail by it."""
    words: str
    layer: int = 0
    """Where it first shows; 0 = the whole file."""
    line: int = 0
    at_s: float = 0.0
    """Time into the print."""


@dataclass(frozen=True, slots=True)
class FlowStretch:
    """A stretch of the print in which the flow is more than the feed path sustains."""

    layer: int
    line: int
    at_s: float
    over_s: float
    """Time over the limit within it."""
    flow_mm3_s: float
    """Where it is worst."""
    limit_mm3_s: float
    nozzle_c: float


@dataclass(frozen=True, slots=True)
class FlowPicture:
    """Greatest flow asked and least flow sustained over the print, slice by slice; None where nothing is printed."""

    slice_s: float
    flow_mm3_s: tuple[float | None, ...]
    limit_mm3_s: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class FileWalk:
    """What walking a file's moves showed."""

    printing_s: float
    over_s: float
    """Printing time over the flow limit."""
    stretches: tuple[FlowStretch, ...]
    """The first :data:`MOST_STRETCHES`, in order."""
    stretches_count: int
    retractions: int
    troubles: tuple[Trouble, ...]
    picture: FlowPicture


class FileWalker:
    """Holds a file's timed moves against a machine as they come: show it all of them in order, then ask."""

    def __init__(self, limits: FitLimits) -> None:
        from feedwright.planning import fit_kernel as k

        self._limits = limits
        self._limit_by_c = limits.flow.at(np.arange(501.0))
        self._asked = np.array([
            max(limits.retraction_low_mm, LEAST_RETRACTION_MM), limits.retraction_high_mm, CHEWED_PASSES,
            limits.cold_c, limits.hot_c, limits.caution_c, limits.limit_c,
        ])  # fmt: skip
        self._state, self._ring = np.zeros(k.STATE), np.zeros(k.RING)
        self._state[k.S_SLICE_S] = 1.0
        self._places, self._stretches = np.zeros((len(COUNTED), k.PLACE)), np.zeros((MOST_STRETCHES, k.STRETCH))
        self._slices = np.tile([-1.0, math.inf], (SLICES, 1))

    def take(self, some: TimedMoves) -> None:
        """Walk some moves."""
        from feedwright.planning import fit_kernel as k

        k.walk_moves(
            some.line, some.layer, some.printing, some.begin_s, some.duration_s, some.filament_mm, some.flow_mm3_s,
            some.nozzle_c, self._limit_by_c, self._asked, self._state, self._places, self._stretches, self._slices,
            self._ring,
        )  # fmt: skip

    def done(self) -> FileWalk:
        """What the walk showed."""
        from feedwright.planning import fit_kernel as k

        count = int(self._state[k.S_STRETCHES])
        stretches = tuple(_stretch(row) for row in self._stretches[:count])
        printing_s, over_s = float(self._state[k.S_PRINTING_S]), float(self._state[k.S_OVER_S])
        seen = {name: _Place(*row) for name, row in zip(COUNTED, self._places.tolist(), strict=True)}
        return FileWalk(
            printing_s=printing_s,
            over_s=over_s,
            stretches=stretches,
            stretches_count=count,
            retractions=int(seen["retractions"].count),
            troubles=(*_flow_trouble(stretches, over_s, printing_s), *_counted(seen, self._limits)),
            picture=_picture(self._slices, float(self._state[k.S_SLICE_S])),
        )


@dataclass(frozen=True, slots=True)
class _Place:
    """A thing that was counted: how often, how much of it, where first, and its worst value."""

    count: float
    amount: float
    line: float
    layer: float
    begin_s: float
    worst: float


def _stretch(row: Floats) -> FlowStretch:
    begin_s, _, line, layer, flow, limit, at_c, over_s = row.tolist()
    return FlowStretch(int(layer), int(line), begin_s, over_s, flow, limit, at_c)


def _picture(slices: Floats, slice_s: float) -> FlowPicture:
    printed = slices[:, 0] >= 0
    upto = int(printed.nonzero()[0].max(initial=-1)) + 1
    flow, limit = (
        tuple(float(value) if there else None for value, there in zip(column, printed[:upto], strict=True))
        for column in slices[:upto].T
    )
    return FlowPicture(slice_s, flow, limit)


def _flow_trouble(stretches: tuple[FlowStretch, ...], over_s: float, printing_s: float) -> list[Trouble]:
    if not stretches:
        return []
    worst = max(stretches, key=lambda one: one.flow_mm3_s / max(one.limit_mm3_s, 1e-9))
    words = (
        f"The flow is more than the feed path sustains for {show_duration(over_s)} of {show_duration(printing_s)}: at "
        f"worst {show(worst.flow_mm3_s, 'mm3_s')} at {show(worst.nozzle_c, 'c')}, where it sustains "
        f"{show(worst.limit_mm3_s, 'mm3_s')}. There the drive slips or grinds: print slower, or hotter where the "
        "material and the parts bear it."
    )
    return [Trouble("flow", over_s > 0.02 * printing_s, words, worst.layer, worst.line, worst.at_s)]


def _counted(seen: dict[str, _Place], limits: FitLimits) -> list[Trouble]:
    said: list[tuple[str, TroubleKind, bool, Callable[[_Place], str]]] = [
        ("cold", "too cold", True, lambda p: (
            f"It prints for {show_duration(p.amount)} with the nozzle as cold as {show(-p.worst, 'c')}; this material "
            f"wants {show(limits.cold_c, 'c')} at least.")),
        ("hot", "too hot", False, lambda p: (
            f"It prints for {show_duration(p.amount)} with the nozzle at up to {show(p.worst, 'c')}; this material is "
            f"usually printed at no more than {show(limits.hot_c, 'c')}.")),
        ("limit", "liner", True, lambda p: (
            f"The nozzle is set to {show(p.worst, 'c')} for {show_duration(p.amount)}: beyond the fitted liner's limit "
            f"of {show(limits.limit_c, 'c')}, where it softens and gives off harmful fumes. Do not print it so.")),
        ("caution", "liner", False, lambda p: (
            f"The nozzle stays above {show(limits.caution_c, 'c')} for {show_duration(p.amount)}: the liner's end ages "
            "fast there.")),
        ("chewed", "chewed", _again_and_again(seen["chewed"]), lambda p: (
            f"{p.amount:.0f} mm of filament pass the drive {CHEWED_PASSES} times or more, at worst {p.worst:.0f}: the "
            "gear digs in and loses its grip. Retract less often there.")),
        ("short", "retraction short", False, lambda p: (
            f"{p.count:,.0f} retractions are shorter than the {show(limits.retraction_low_mm, 'mm')} that get lost in "
            f"the slack of the feed path, the longest of them {show(p.worst, 'mm')}: expect strings.")),
        ("long", "retraction long", _again_and_again(seen["long"]), lambda p: (
            f"{p.count:,.0f} retractions are longer than {show(limits.retraction_high_mm, 'mm')}, at most "
            f"{show(p.worst, 'mm')}: they draw melt up into the cold part, where it freezes.")),
    ]  # fmt: skip
    skip = "caution" if seen["limit"].amount >= seen["caution"].amount > 0 else ""
    return [
        Trouble(kind, grave, words(seen[name]), int(seen[name].layer), int(seen[name].line), seen[name].begin_s)
        for name, kind, grave, words in said
        if seen[name].count and name != skip
    ]


def _again_and_again(place: _Place) -> bool:
    """Grave where it happens again and again."""
    return place.count >= 10
