"""What a diagnosis is told and what it answers, as values."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.entry import Drive, HotEnd

Floats = NDArray[np.float64]

Answer = Literal["yes", "rather yes", "unsure", "rather no", "no"]
"""What a person says to a question; unsure is no news."""
State = Literal["cold", "hot", "running"]
"""What the machine is at this moment."""


@dataclass(frozen=True, slots=True)
class Likelihood:
    """How likely the evidence on one observation is where it is present, and where it is not."""

    present: float
    absent: float


@dataclass(frozen=True, slots=True)
class Situation:
    """What is known before any symptom; None and absent entries mean that nobody knows."""

    drive: Drive | None = None
    hot_end: HotEnd | None = None
    circumstances: dict[str, bool] = field(default_factory=dict)
    """Circumstance id to whether it holds."""
    part_spent_frac: dict[str, float] = field(default_factory=dict)
    """Own machine: chance that a part kind's life is over, by part kind, from its outlook."""
    part_sound: frozenset[str] = frozenset()
    """Own machine: part kinds found good in the last two weeks."""
    tried: frozenset[str] = frozenset()
    """Repairs that were done and did not cure."""


@dataclass(frozen=True, slots=True)
class Counts:
    """What closed cases taught: how many there were, and what was found and seen in them."""

    closed: int = 0
    found: dict[str, int] = field(default_factory=dict)
    """By cause: in how many it was the one that was found."""
    seen: dict[tuple[str, str], tuple[int, int]] = field(default_factory=dict)
    """By cause found and observation: answered yes, answered at all."""


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """The network as numbers for one situation. Rows are causes, columns observations."""

    causes: tuple[str, ...]
    observations: tuple[str, ...]
    prior: Floats
    """(n,) chance of each cause."""
    strength: Floats
    """(n, m) noisy-OR strengths; 0 = no link."""
    leak: Floats
    """(m,)"""

    def column(self, observation: str) -> int:
        """The column of an observation."""
        return self.observations.index(observation)


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """What the evidence leaves of each cause, arrays in the order of the model's causes."""

    causes: tuple[str, ...]
    chance: Floats
    """Chance that the cause is there."""
    at_work: Floats
    """Chance that it is there and shows in something that was seen."""
    nobody: float
    """Chance that no known cause is at work: all that was seen came by itself."""
    log_evidence: float
    """Natural logarithm of the chance of the whole evidence."""
    set_aside: tuple[str, ...] = ()
    """Observations that were left out because there were too many at once; empty but for extreme cases."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """One cause as a ranking shows it."""

    cause: str
    chance_frac: float
    prior_frac: float
    at_work_frac: float
    for_it: tuple[str, ...]
    """Observations that speak for it, the strongest first."""
    against_it: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fit:
    """How well the causes explain what was seen."""

    none_fits: bool
    left_over: tuple[str, ...]
    """Observations that were seen and that the likely causes do not explain."""
    together: tuple[str, ...]
    """Two causes that together explain it better than any one; empty where one is enough."""
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NextStep:
    """One advised step: a check with the observations it answers, or a repair that is its own test."""

    kind: Literal["check", "repair"]
    step: str
    asks: tuple[str, ...]
    """Observations to answer, for a check."""
    minutes: float
    """With waiting for the state it needs."""
    expected_cost: float
    """Expected cost from now to a working machine if this is done next, in the farm's currency."""
    chance_frac: float
    """Repairs: chance that it cures. Checks: chance that an answer is yes."""
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Advice:
    """The best next step and what comes close to it."""

    best: NextStep | None
    others: tuple[NextStep, ...]


@dataclass(frozen=True, slots=True)
class Prices:
    """What an hour at the bench costs, in the farm's currency."""

    hour: float
    currency: str
