"""The chance that a machine finishes what it is given, with its band: of each part by itself, and of all together."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.entry import PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.outlook.judgement import Body, alive_by_life, alive_when_new, bodies_of
from feedwright.farm.outlook.learning import MOST_KEPT, Belief, farm_lives
from feedwright.records.store import Store
from feedwright.records.values import Fitting, Machine
from feedwright.wear.findings import Story
from feedwright.wear.values import Interval

Floats = NDArray[np.float64]

DRAWS = 400
"""Lives drawn of each part for the band."""
LOW, HIGH = 0.1, 0.9
"""Eight in ten lie within the band."""
STEPS = 96
"""Points of exposure at which a part's chance is held."""
LEAST_SHARE = 1e-4
"""The first point, as a share of all that may be asked."""


@dataclass(frozen=True, slots=True)
class FinishingPart:
    """One fitted part, and how likely it is to last."""

    fitting: Fitting
    kind: PartKind
    belief: Belief
    body: Body

    @property
    def title(self) -> str:
        """The part's name, numbered where the machine has several of the kind."""
        return self.kind.title if self.fitting.position == 1 else f"{self.kind.title} {self.fitting.position}"

    def alive(self, most: float) -> tuple[Floats, Floats]:
        """More exposure, (n,), up to ``most``, and the chance to be alive after it, (n,)."""
        more = np.concatenate([[0.0], max(most, 1e-9) * np.geomspace(LEAST_SHARE, 1.0, STEPS)])
        return more, np.minimum.accumulate(np.clip(self.body.alive_after(more), 0.0, 1.0))

    def lasts(self, so_far: float, asked: float) -> float:
        """Chance not to spoil a print that asks so much, after so much before it."""
        before, after = self.body.alive_after(np.array([so_far, so_far + asked]))
        return 1.0 - self.kind.spoils_frac.value * (1.0 - float(after) / max(float(before), 1e-12))

    def lasts_when_new(self, so_far: float, asked: float) -> float:
        """The same for a new one in its place."""
        before, after = alive_when_new(self.belief, self.fitting, np.array([so_far, so_far + asked]))
        return 1.0 - self.kind.spoils_frac.value * (1.0 - float(after) / max(float(before), 1e-12))

    def drawn(self, so_far: float, asked: float, draw: np.random.Generator) -> Floats:
        """The chance not to spoil it by as many lives as are drawn, (draws,), each as likely, in no order."""
        if self.body.failed:
            return np.full(DRAWS, 1.0 - self.kind.spoils_frac.value)
        by_life, weight = alive_by_life(
            self.belief, self.fitting.product, self.body, np.array([so_far, so_far + asked])
        )
        fails = np.where(by_life[0] > 0, 1.0 - by_life[1] / np.maximum(by_life[0], 1e-300), 1.0)
        weight = weight * by_life[0]
        order = np.argsort(fails)
        reached = np.cumsum(weight[order])
        at = (np.arange(DRAWS) + 0.5) / DRAWS * reached[-1]
        held = fails[order][np.minimum(np.searchsorted(reached, at), order.size - 1)]
        return 1.0 - self.kind.spoils_frac.value * draw.permutation(held)


_KEPT: dict[str, dict[int, tuple[Story, FinishingPart]]] = {}
"""What was worked out last of each fitting, by farm and fitting."""


def finishing_parts(store: Store, machines: Collection[Machine]) -> dict[int, list[FinishingPart]]:
    """The parts of these machines, by machine; only what has another story since is worked out anew."""
    lives, wanted, folder = farm_lives(store), {machine.id for machine in machines}, str(store.folder.resolve())
    only = next(iter(wanted)) if len(wanted) == 1 else None
    fittings = [fitting for fitting in store.fittings(only, open_only=True) if fitting.machine_id in wanted]
    while len(_KEPT) >= MOST_KEPT and folder not in _KEPT:
        _KEPT.pop(next(iter(_KEPT)))
    own = _KEPT.setdefault(folder, {})
    anew: dict[str, list[Fitting]] = defaultdict(list)
    for fitting in fittings:
        kept = own.get(fitting.id)
        belief = lives.belief(fitting.part_kind)
        if kept is None or kept[0] != lives.stories[fitting.id] or kept[1].belief is not belief:
            anew[fitting.part_kind].append(fitting)
    for kind, alike in anew.items():
        belief = lives.belief(kind)
        for fitting, body in zip(alike, bodies_of(belief, alike, lives.stories), strict=True):
            part = FinishingPart(fitting, load_catalogue().parts[kind], belief, body)
            own[fitting.id] = lives.stories[fitting.id], part
    found: dict[int, list[FinishingPart]] = {machine: [] for machine in wanted}
    for fitting in fittings:
        found[fitting.machine_id].append(own[fitting.id][1])
    return found


def finish_band(
    parts: Iterable[FinishingPart], so_far: Mapping[int, float], asked: Mapping[int, float], expected: float
) -> Interval:
    """The chance that all parts last a print, and the band that eight in ten lie within; parts fail independently.

    ``so_far`` and ``asked`` are exposures by fitting; ``expected`` is the chance itself, the mean over what is
    believed. The draws are the same each time.
    """
    draw, chance = np.random.default_rng(0), np.ones(DRAWS)
    for part in parts:
        chance *= part.drawn(so_far[part.fitting.id], asked[part.fitting.id], draw)
    low, high = np.quantile(chance, [LOW, HIGH])
    return Interval(min(float(low), expected), expected, max(float(high), expected))
