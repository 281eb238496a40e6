"""What is really so in the invented workshop, and is written nowhere that the program reads.

True lives differ from the rules of thumb by kind, by machine and from part to part; the tube end ages by
another activation energy than the catalogue supposes.
"""

import random
from copy import copy
from dataclasses import dataclass, replace

from feedwright.catalogue.entry import Catalogue, PartKind

TRUE_ACTIVATION_EV = 0.95
KIND_SPREAD, PART_SHAPE_SPREAD = 0.35, 0.15
FRAILTY = {"Rowan": 0.4}
"""One machine wears its parts out much faster than the others: nobody knows why."""


@dataclass(slots=True)
class TruePart:
    """One real part: how long it will last, and what it has been through, in its true unit."""

    kind: PartKind
    life: float
    lived: float = 0.0

    @property
    def share(self) -> float:
        """Share of its true life that is used."""
        return self.lived / self.life


class Truth:
    """Draws the true life of each part, always the same for the same seed."""

    def __init__(self, catalogue: Catalogue, seed: int) -> None:
        self._seed, self._frailty = seed, 1.0
        self._draw = random.Random(seed)
        self.kinds = {key: self._true_kind(kind) for key, kind in catalogue.parts.items()}
        self._factor = {key: self._draw.lognormvariate(0.0, KIND_SPREAD) for key in catalogue.parts}
        self._shape = {
            key: kind.life.shape.value * self._draw.lognormvariate(0.0, PART_SHAPE_SPREAD)
            for key, kind in catalogue.parts.items()
        }

    def of(self, machine: str) -> "Truth":
        """The same truth for one machine, which draws from a stream of its own."""
        own = copy(self)
        own._draw = random.Random(f"{self._seed} {machine}")
        own._frailty = FRAILTY.get(machine, 1.0)
        return own

    def _true_kind(self, kind: PartKind) -> PartKind:
        numbers = dict(kind.exposure.numbers)
        if "activation_ev" in numbers:
            numbers["activation_ev"] = replace(numbers["activation_ev"], value=TRUE_ACTIVATION_EV, high=1.2)
        return replace(kind, exposure=replace(kind.exposure, numbers=numbers))

    def part(self, part_kind: str, product: str, *, used: float = 0.0) -> TruePart:
        """A new part, or one that has used up a share of its life already."""
        kind = self.kinds[part_kind]
        known = kind.product(product)
        median = kind.life.median.value * (known.life_ratio.value if known else 1.0) * self._factor[part_kind]
        spread = self._draw.weibullvariate(1.0, self._shape[part_kind])
        life = max(0.05, spread) * median * self._frailty
        return TruePart(kind, life, used * life)

    def grade(self, part: TruePart) -> str:
        """What a look at the part shows: the grade whose span holds its share of life, seen with small errors."""
        seen = part.share * self._draw.lognormvariate(0.0, 0.08)
        wear = [grade for grade in part.kind.grades if not (grade.life_low_frac == 0 and grade.life_high_frac > 1)]
        if part.share >= 1:
            return wear[-1].id
        usable = [grade for grade in wear if not grade.failed]
        index = min(len(usable) - 1, int(seen * len(usable)))
        return usable[index].id
