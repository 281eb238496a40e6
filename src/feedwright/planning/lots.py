"""Whether a lot of filament goes with trouble, and not only with a machine that has trouble anyway.

Within each machine the lot's runs are set against the other runs of the same material there: were trouble to fall
anywhere alike, how many of the lot's runs it hits is hypergeometric, and the sum over machines is known exactly. This
is Fisher's exact test, stratified by machine (Fisher 1935; Cochran 1954, Mantel & Haenszel 1959 for the strata).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, gammaln

from feedwright.wear.values import Interval

Floats = NDArray[np.float64]
SUSPECT_FRAC = 0.05
"""A chance finding this seldom or seldomer, over all lots looked at, is worth a word."""
LEAST_MACHINES = 2
"""Trouble on fewer machines than this is theirs rather than the lot's."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Runs, and how many of them went wrong."""

    runs: int
    wrong: int


@dataclass(frozen=True, slots=True)
class LotRuns:
    """The runs of one lot by machine, and the other runs of the same material there and elsewhere."""

    lot: str
    own: Mapping[str, Tally]
    others: Mapping[str, Tally]


@dataclass(frozen=True, slots=True)
class LotVerdict:
    """What the runs say of one lot."""

    lot: str
    own: Tally
    others: Tally
    machines_wrong: tuple[str, ...]
    """Machines on which it went wrong."""
    own_share_frac: Interval
    """Share of its runs that go wrong."""
    others_share_frac: Interval
    by_chance_frac: float
    """How often chance alone would give it as much trouble, or more."""
    over_all_lots_frac: float
    """The same, all lots that were looked at counted in (Holm 1979)."""
    told_from_machines: bool
    """False where its machines printed no other lot of that material: then lot and machine cannot be told apart."""
    suspect: bool
    because: tuple[str, ...]


def judge_lots(lots: Sequence[LotRuns]) -> list[LotVerdict]:
    """Every lot of one material, the most suspect first."""
    found = [_judged(lot) for lot in lots]
    found.sort(key=lambda one: one.by_chance_frac)
    adjusted, least = [], 0.0
    for rank, one in enumerate(found):
        least = max(least, min(1.0, one.by_chance_frac * (len(found) - rank)))
        adjusted.append(_worded(replace(one, over_all_lots_frac=least)))
    return adjusted


def by_chance_frac(own: Mapping[str, Tally], others: Mapping[str, Tally]) -> tuple[float, bool]:
    """Chance of as much trouble or more were it to fall anywhere alike within each machine.

    Where no machine printed both the lot and another one, all machines are thrown together (plain Fisher), and the
    second value is False.
    """
    strata = [(own[name], others[name]) for name in own if name in others]
    apart = bool(strata)
    if not apart:
        strata = [(_sum(own.values()), _sum(others.values()))]
    reached, pmf = 0, np.ones(1)
    for mine, rest in strata:
        reached += mine.wrong
        pmf = np.convolve(pmf, _hypergeometric(mine.runs, rest.runs, mine.wrong + rest.wrong))
    return float(min(1.0, pmf[reached:].sum())), apart


def _hypergeometric(own: int, others: int, wrong: int) -> Floats:
    """Chance that 0, 1, ... of ``own`` runs are among the ``wrong`` ones of all."""
    hit = np.arange(min(own, wrong) + 1)
    possible = wrong - hit <= others
    spared = np.where(possible, wrong - hit, 0)
    logs = _choose(own, hit) + _choose(others, spared) - _choose(own + others, np.array([wrong]))
    return np.asarray(np.where(possible, np.exp(logs), 0.0))


def _choose(of: int, many: NDArray[np.int64]) -> Floats:
    return np.asarray(gammaln(of + 1) - gammaln(many + 1) - gammaln(of - many + 1))


def _sum(tallies: Iterable[Tally]) -> Tally:
    held = list(tallies)
    return Tally(sum(one.runs for one in held), sum(one.wrong for one in held))


def share_frac(tally: Tally) -> Interval:
    """Share of runs that go wrong, eight in ten between low and high (Jeffreys' interval: a beta of k+1/2, n-k+1/2)."""
    a, b = tally.wrong + 0.5, tally.runs - tally.wrong + 0.5
    low, mid, high = (float(betaincinv(a, b, share)) for share in (0.1, 0.5, 0.9))
    return Interval(low, mid, high)


def _judged(lot: LotRuns) -> LotVerdict:
    own, others = _sum(lot.own.values()), _sum(lot.others.values())
    chance, apart = by_chance_frac(lot.own, lot.others)
    wrong = tuple(sorted(name for name, tally in lot.own.items() if tally.wrong))
    return LotVerdict(
        lot.lot, own, others, wrong, share_frac(own), share_frac(others), chance, chance, apart, False, ()
    )


def _worded(one: LotVerdict) -> LotVerdict:
    suspect = one.over_all_lots_frac <= SUSPECT_FRAC and len(one.machines_wrong) >= LEAST_MACHINES
    where = f"on {len(one.machines_wrong)} machines" if len(one.machines_wrong) != 1 else "on one machine alone"
    said = [
        f"{one.own.wrong} of {one.own.runs} runs of it went wrong, {where}; of other lots of that material "
        f"{one.others.wrong} of {one.others.runs}.",
        f"Set against the other runs on the same machines, chance alone gives as much in {one.by_chance_frac:.1%} of "
        f"cases; with all lots looked at counted in, {one.over_all_lots_frac:.1%}.",
    ]
    if not one.told_from_machines:
        said[1] = said[1].replace("Set against the other runs on the same machines", "Set against all other runs")
        said.append("Its machines printed no other lot of that material: lot and machine cannot be told apart.")
    return replace(one, suspect=suspect, because=tuple(said))
