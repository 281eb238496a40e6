"""What a way of keeping the farm costs over the years: a Monte Carlo of the farm under several policies.

Each farm that is lived through draws the true lives of its parts from what is believed of them; every policy then meets
the same lives and the same weeks (common random numbers), so that their differences are known better than their means.
Machines print unevenly from week to week. A part fails once its life is gathered; what a policy calls due is done at
the week's end; jobs of one machine in one week share heating up and tramming.
"""

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feedwright.planning.values import RenewalCosts
from feedwright.wear.life import Floats
from feedwright.wear.values import Interval

CHUNK = 50
"""Farms lived through in one go of an executor."""
OUTCOME_NAMES = (
    "spoiled prints", "failures", "renewals", "looks", "parts", "bench hours", "downtime hours", "cost",
)  # fmt: skip
NEVER = math.inf


@dataclass(frozen=True, slots=True)
class PartInPlace:
    """One part as the simulation knows it; ``machine`` counts from 0, parts come in order of it."""

    machine: int
    pace_per_day: float
    gathered: float
    medians: Floats
    """True median life in each farm lived through, (farms,) ..."""
    shapes: Floats
    """... and shape."""
    lognormal: bool
    costs: RenewalCosts
    parts_cost: float
    minutes: float
    unplanned_minutes: float
    spoils_frac: float
    look_minutes: float
    worn_from_frac: float
    """Share of life from which a look sees that it is worn; 1 = never."""
    heat_minutes: float
    tram_minutes: float
    lost_print_h: float


@dataclass(frozen=True, slots=True)
class PartRule:
    """What a policy does with one part; infinite where it does not."""

    age: float = NEVER
    """Renew from this exposure on."""
    every_weeks: float = NEVER
    """Renew so many weeks after the last time."""
    look_every: float = NEVER
    """Look after so much exposure, and renew what is seen to be worn."""
    along_from: float = NEVER
    """Renew from this exposure on where the machine has another job anyway."""


@dataclass(frozen=True, slots=True)
class Policy:
    """A way of keeping the farm: a name in words, and a rule for each part."""

    name: str
    rules: tuple[PartRule, ...]


@dataclass(frozen=True, slots=True)
class PolicyOutcome:
    """What a policy brings in a year; all intervals hold 90 % of the farms lived through."""

    name: str
    per_year: dict[str, Interval]
    mean: dict[str, float]
    standard_error: dict[str, float]
    over_best: Interval
    """Cost a year over that of the cheapest policy, farm by farm."""


def simulate(
    parts: Sequence[PartInPlace],
    policies: Sequence[Policy],
    *,
    years: float,
    farms: int,
    first: int = 0,
    uneven: float = 0.4,
    minute_cost: float = 0.0,
    executor: Executor | None = None,
) -> list[PolicyOutcome]:
    """Live ``farms`` farms for so many years under each policy.

    ``first`` numbers the first farm: other numbers, other chances. ``uneven`` is the spread of a machine's weeks on the
    log. Any executor serves; without one all runs in this thread. The outcome does not depend on how it was split.
    """
    weeks = max(1, round(years * 365.25 / 7))
    described = _described(parts)
    counts = np.stack([
        _lived(described, _rules(policy), weeks, farms, first, uneven, minute_cost, executor) for policy in policies
    ]) / (weeks * 7 / 365.25)  # fmt: skip
    cost = counts[:, :, OUTCOME_NAMES.index("cost")]
    best = int(np.argmin(cost.mean(axis=1)))
    return [
        PolicyOutcome(
            policy.name,
            {name: _interval(of[:, at]) for at, name in enumerate(OUTCOME_NAMES)},
            {name: float(of[:, at].mean()) for at, name in enumerate(OUTCOME_NAMES)},
            {name: float(of[:, at].std(ddof=1) / math.sqrt(farms)) for at, name in enumerate(OUTCOME_NAMES)},
            _interval(cost[number] - cost[best]),
        )
        for number, (policy, of) in enumerate(zip(policies, counts, strict=True))
    ]


@dataclass(frozen=True, slots=True)
class _Described:
    """All parts as the compiled loop takes them."""

    medians: Floats
    shapes: Floats
    lognormal: NDArray[np.bool_]
    parts: Floats
    machine_of: NDArray[np.int64]


def _described(parts: Sequence[PartInPlace]) -> _Described:
    rows = [
        (
            p.pace_per_day, p.gathered, p.costs.planned, p.costs.failure, p.parts_cost, p.minutes, p.unplanned_minutes,
            p.spoils_frac, p.costs.look, p.look_minutes, p.worn_from_frac, p.heat_minutes, p.tram_minutes,
            p.lost_print_h,
        )
        for p in parts
    ]  # fmt: skip
    return _Described(
        np.ascontiguousarray(np.stack([p.medians for p in parts], axis=1)),
        np.ascontiguousarray(np.stack([p.shapes for p in parts], axis=1)),
        np.array([p.lognormal for p in parts]),
        np.ascontiguousarray(np.array(rows, dtype=np.float64).T),
        np.array([p.machine for p in parts], dtype=np.int64),
    )


def _rules(policy: Policy) -> Floats:
    rows = [(rule.age, rule.every_weeks, rule.look_every, rule.along_from) for rule in policy.rules]
    return np.ascontiguousarray(np.array(rows, dtype=np.float64).T)


def _lived(
    held: _Described, rules: Floats, weeks: int, farms: int, first: int, uneven: float, minute_cost: float,
    executor: Executor | None,
) -> Floats:  # fmt: skip
    begins = range(0, farms, CHUNK)
    spread: Callable[..., object] = map if executor is None else executor.map
    asked = [
        (held.medians[at : at + CHUNK], held.shapes[at : at + CHUNK], held, rules, weeks, first + at, uneven,
         minute_cost)
        for at in begins
    ]  # fmt: skip
    done = spread(_live_some, *zip(*asked, strict=True))
    return np.concatenate(list(done))  # type: ignore[call-overload]


def _live_some(
    medians: Floats, shapes: Floats, held: _Described, rules: Floats, weeks: int, first: int, uneven: float,
    minute_cost: float,
) -> Floats:  # fmt: skip
    from feedwright.planning.policy_kernel import OUTCOMES, live

    tally = np.zeros((medians.shape[0], OUTCOMES))
    machines = int(held.machine_of[-1]) + 1
    live(
        first, np.ascontiguousarray(medians), np.ascontiguousarray(shapes), held.lognormal, held.parts, held.machine_of,
        machines, rules, weeks, uneven, minute_cost, tally,
    )  # fmt: skip
    return tally


def _interval(values: Floats) -> Interval:
    low, mid, high = np.quantile(values, (0.05, 0.5, 0.95))
    return Interval(float(low), float(mid), float(high))
