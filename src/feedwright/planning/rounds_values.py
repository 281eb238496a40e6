"""What a plan of rounds is made from, and what it comes to, as values."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from feedwright.wear.life import Floats


@dataclass(frozen=True, slots=True)
class RoundTask:
    """One task that may be done in a round: what each choice costs by itself, without the minutes of the visit."""

    key: int
    """Whatever tells it from the others."""
    cost: tuple[float, ...]
    """On each round day: what doing it early or late costs; infinite where it cannot be done then."""
    later_cost: float
    """The same where it is left for after the rounds; infinite where it must not be."""
    later_group: int | None = None
    """Tasks of one machine and group that are left share one visit after the rounds; None: left, it takes none."""
    before: int | None = None
    """The round day it had in the plan before; -1: it was left for later; None: it is new."""
    needs: tuple[tuple[str, int], ...] = ()
    """Parts whose number is short, and how many of each it takes."""


@dataclass(frozen=True, slots=True)
class MachineWork:
    """The tasks of one machine, and what any number of them take together."""

    key: int
    tasks: tuple[RoundTask, ...]
    minutes: Floats
    """Bench minutes of every set of its tasks done in one visit, (2^n,): bit i of the index = task i."""
    free_minutes: tuple[float, ...]
    """On each round day: longest time in which the machine can be served."""


@dataclass(frozen=True, slots=True)
class RoundsProblem:
    """Everything that a plan of rounds depends on. Costs are in one currency."""

    hours_minutes: tuple[float, ...]
    """Bench minutes of the person on each possible round day, earliest first."""
    machines: tuple[MachineWork, ...]
    minute_cost: float
    """A minute at the bench, the machine standing still with it."""
    round_minutes: float
    """What a round takes by itself: getting things out and putting them away."""
    stop_minutes: float
    """What a stop at a machine takes by itself, whatever is done there."""
    change_cost: float = 0.0
    """Price on each task that leaves the day it had in the plan before."""
    supplies: Mapping[str, tuple[int, ...]] | None = None
    """Pieces of each short part that are there by each round day, those of the days before included."""

    @property
    def days(self) -> int:
        """How many possible round days there are."""
        return len(self.hours_minutes)

    @property
    def left_minutes(self) -> tuple[float, ...]:
        """What a round of each day leaves for its stops."""
        return tuple(max(0.0, minutes - self.round_minutes) for minutes in self.hours_minutes)


Choice = tuple[int, ...]
"""The round day of each task of one machine; -1 = left for later."""


@dataclass(frozen=True, slots=True)
class RoundsCost:
    """What choices cost, and of what."""

    timing: float
    """Doing tasks early or late, those left for later included."""
    bench: float
    """Minutes of the visits and rounds."""
    later: float
    """Minutes of the visits after the rounds that are still to come."""
    changes: float = 0.0
    """Price on leaving the plan before."""

    @property
    def total(self) -> float:
        """All of it."""
        return self.timing + self.bench + self.later + self.changes


@dataclass(frozen=True, slots=True)
class RoundsSolution:
    """The choices made, what they cost, and the proof of how good they are."""

    choices: tuple[Choice, ...]
    """For each machine of the problem, in its order."""
    cost: RoundsCost
    bound: float
    """No choices whatever cost less."""
    hour_price: tuple[float, ...]
    """On each round day: what a further hour at the bench would save."""
    turns: int
    """How often prices were put on hours."""
    complete: bool
    """True where the search came to its end before its time was up."""

    @property
    def gap_frac(self) -> float:
        """At most so much of its cost could be saved; 0 = proved best."""
        return gap_frac(self.cost.total, self.bound)


def gap_frac(cost: float, bound: float) -> float:
    """Share of a cost that lies above a bound; what rounding leaves counts as nothing."""
    gap = (cost - bound) / max(abs(cost), 1e-9)
    return gap if math.isfinite(gap) and gap > 1e-7 else 0.0
