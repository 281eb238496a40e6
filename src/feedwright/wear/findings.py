"""What was seen of a part, as bounds on its life.

Each wear grade holds from one edge of life used to the next. The catalogue gives every edge a band, so that the edges
themselves are uncertain: one standard-normal ``edge`` for each part kind moves all of them together within their bands,
and is learned with the life. With the edges at a given place, everything seen of one part amounts to one interval
that its life lies in: a look at exposure a that shows a grade between the edges e1 and e2 says a/e2 <= life <= a/e1.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.entry import Grade, PartKind
from feedwright.wear.values import Interval

Floats = NDArray[np.float64]

EDGES = np.linspace(-2.25, 2.25, 7)
"""Where the grade edges may sit within their bands, in standard deviations of belief."""
EDGE_WEIGHTS = np.exp(-0.5 * EDGES**2) / np.exp(-0.5 * EDGES**2).sum()
HALF_OF_90 = 1.6448536269514722
LEAST_EDGE_SD = 0.04
"""No eye tells the life used more finely than this (assumed)."""
SCATTER_SD = 0.08
"""How far one look's edges scatter about the eye's usual ones, on the log (assumed)."""
MISREAD_FRAC = 0.03
"""How often a grade is written down wrongly (assumed); what contradicts all else is taken for one."""
AGES = 5
"""Points across an uncertain age."""

End = Literal["open", "renewed", "failed"]
"""Still fitted; taken off while it did its job; failed."""


@dataclass(frozen=True, slots=True)
class Look:
    """One grade that was seen, and what the part had gathered by then since it was fitted."""

    gathered: float
    grade: str


@dataclass(frozen=True, slots=True)
class Story:
    """All that is known of one fitted part, in its own exposure unit."""

    machine: int
    product: str
    before: Interval
    """What it had been through when it was fitted or registered; a band where that is not known."""
    gathered: float
    """What it has gathered since, until it was taken off or until now."""
    end: End
    looks: tuple[Look, ...] = ()
    sound_until: float = 0.0
    """Of a part that failed: what it had gathered when it surely still did its job."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """Where the life of one part lies, by place of the edges and by age when fitted: shape (edges, ages).

    ``entry`` (ages,) is the age when fitted; ``doubt`` (edges,) the log of how likely such a set of grades is at all.
    """

    entry: Floats
    low: Floats
    high: Floats
    doubt: Floats

    def only(self, edges: NDArray[np.intp]) -> "Bounds":
        """The bounds at some places of the edges."""
        return Bounds(self.entry, self.low[edges], self.high[edges], self.doubt[edges])

    @property
    def misread(self) -> bool:
        """True where the grades contradict the rest of what is known, wherever the edges sit."""
        return bool((self.doubt < 0).all())


def wear_grades(kind: PartKind) -> list[Grade]:
    """The grades that tell of wear; one that can show at any life used, such as a kink, tells nothing of it."""
    return [grade for grade in kind.grades if not (grade.life_low_frac <= 0 and grade.life_high_frac > 1)]


def edges_of(kind: PartKind, grade: Grade) -> tuple[Floats, Floats]:
    """Lower and upper edge of a wear grade in life used, for each place of ``EDGES``; 0 and infinity where open."""
    others = wear_grades(kind)
    below = [other.life_high_frac for other in others if other.life_low_frac < grade.life_low_frac]
    above = [other.life_low_frac for other in others if other.life_low_frac > grade.life_low_frac]
    if grade.failed:
        return np.ones_like(EDGES), np.full_like(EDGES, np.inf)
    lower = _edge(grade.life_low_frac, max(below, default=grade.life_low_frac))
    upper = _edge(min(above, default=grade.life_high_frac), grade.life_high_frac)
    if all(other.failed for other in others if other.life_low_frac > grade.life_low_frac):
        upper = _edge(max(1.0, min(above, default=1.0)), max(1.0, grade.life_high_frac))
    return lower, upper


def _edge(one: float, other: float) -> Floats:
    if min(one, other) <= 0:
        return np.zeros_like(EDGES)
    middle, half = np.log(one * other) / 2, abs(np.log(other / one)) / 2
    return np.asarray(np.exp(middle + EDGES * max(half / HALF_OF_90, LEAST_EDGE_SD)))


def ages_of(before: Interval) -> Floats:
    """The ages a part may have had when it was fitted."""
    return np.linspace(before.low, before.high, AGES) if before.high > before.low else np.array([before.mid])


def bounds(kind: PartKind, story: Story) -> Bounds:
    """The interval that the life of one part lies in, from all that was seen of it."""
    entry = ages_of(story.before)
    shape = (EDGES.size, entry.size)
    hard_low, hard_high = np.full(shape, entry), np.full(shape, np.inf)
    if story.end == "failed":
        hard_low, hard_high = hard_low + story.sound_until, np.full(shape, entry + story.gathered)
    else:
        hard_low = hard_low + story.gathered
    low, high = hard_low, hard_high
    for lower, upper, gathered in _seen(kind, story):
        used = entry + gathered
        low = np.maximum(low, used[None, :] / upper[:, None])
        with np.errstate(divide="ignore", invalid="ignore"):  # an unused part seen sound: nothing over nothing
            most = np.where(lower[:, None] > 0, used[None, :] / lower[:, None], np.inf)
        high = np.minimum(high, most)
    clash = np.any(low >= high * (1 - 1e-9), axis=1)
    low, high = np.where(clash[:, None], hard_low, low), np.where(clash[:, None], hard_high, high)
    return Bounds(entry, low, high, np.where(clash, np.log(MISREAD_FRAC), 0.0))


def _seen(kind: PartKind, story: Story) -> Sequence[tuple[Floats, Floats, float]]:
    """Edges of what each look showed, and what the part had gathered by then."""
    wear = {grade.id: grade for grade in wear_grades(kind)}
    return [(*edges_of(kind, wear[look.grade]), look.gathered) for look in story.looks if look.grade in wear]
