"""Exact posterior of a noisy-OR network by running over subsets of explained findings, without any subtraction.

The classic signed sum (Heckerman 1989) loses its digits when many findings are present; here every term is
non-negative. An axis of length two stands for each finding whose explanation is still open; it is opened when the first
cause that can bring it is met and closed after the last. Cost grows with two to the findings open at one time.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from feedwright.diagnosis.values import Floats, Likelihood, Model, Posterior

WIDEST = 20
"""Findings open at once beyond which some are set aside, and said to be."""


@dataclass(frozen=True, slots=True, eq=False)
class _Pass:
    """One cause's turn: which findings it opens, can bring, and closes; the axes as they are after opening."""

    cause: int
    opens: tuple[int, ...]
    live: tuple[int, ...]
    closes: tuple[int, ...]

    def closing(self) -> list[tuple[int, int]]:
        """The findings that close, each with its axis at the moment it does."""
        live, found = list(self.live), []
        for j in self.closes:
            found.append((j, live.index(j)))
            live.remove(j)
        return found


def posterior(model: Model, evidence: Mapping[str, Likelihood]) -> Posterior:
    """Chance of every cause given the evidence; present, absent or soft, in any order.

    Leaky noisy-OR (Pearl 1988): P(j | causes) = 1 - (1 - leak_j) prod (1 - q_ij). Absent findings fold into the
    causes' weights, all others are axes. Exact to rounding.
    """
    weights = _Evidence(model, evidence)
    axes, aside = weights.axes()
    passes = _plan(weights.strength[:, axes])
    with np.errstate(under="ignore"):
        return _run(model, weights, axes, passes, aside)


def log_evidence(model: Model, evidence: Mapping[str, Likelihood]) -> float:
    """Natural logarithm of the chance of the evidence."""
    return posterior(model, evidence).log_evidence


class _Evidence:
    """Evidence folded into the causes: w0 and w1 are a cause's weights when absent and present."""

    def __init__(self, model: Model, evidence: Mapping[str, Likelihood]) -> None:
        self.columns = np.array([model.column(name) for name in evidence], dtype=np.intp)
        self.names = tuple(evidence)
        held = [(each.present, each.absent) for each in evidence.values()]
        self.present, self.absent = np.array(held, dtype=float).reshape(-1, 2).T
        self.strength = model.strength[:, self.columns]
        self.leak = model.leak[self.columns]
        denied = (self.present == 0) & (self.absent > 0)
        self.w0 = 1 - model.prior
        self.w1 = model.prior * np.prod(1 - self.strength[:, denied], axis=1)
        self.log_constant = float(np.sum(np.log((self.absent * (1 - self.leak))[denied])))
        self._denied = denied

    def axes(self) -> tuple[list[int], tuple[str, ...]]:
        """Findings that need an axis, and the names of those set aside where there are too many."""
        news = [j for j in range(len(self.names)) if not self._denied[j] and self.present[j] != self.absent[j]]
        flat = [j for j in range(len(self.names)) if not self._denied[j] and self.present[j] == self.absent[j]]
        self.log_constant += sum(math.log(self.present[j]) for j in flat)
        told = np.abs(np.log((self.present + 1e-9) / (self.absent + 1e-9)))
        telling = sorted(news, key=lambda j: self.leak[j] - told[j])
        kept = telling[:WIDEST]
        return sorted(kept), tuple(self.names[j] for j in telling[WIDEST:])


def _plan(strength: Floats) -> list[_Pass]:
    """Order of the causes that keeps few findings open: next the one that leaves fewest open."""
    links = [int(sum(1 << j for j in np.flatnonzero(row))) for row in strength]
    left = {i for i, mask in enumerate(links) if mask}
    open_, passes = 0, []
    live: list[int] = []
    while left:
        many: dict[int, int] = {}
        for j in range(strength.shape[1]):
            holders = [i for i in left if links[i] >> j & 1]
            if len(holders) == 1:
                many[holders[0]] = many.get(holders[0], 0) | 1 << j
        best = min(left, key=lambda i: ((open_ | links[i]).bit_count() - many.get(i, 0).bit_count(), i))
        left.remove(best)
        opens = _bits(links[best] & ~open_)
        live = [*live, *opens]
        closes = _bits(many.get(best, 0))
        passes.append(_Pass(best, opens, tuple(live), closes))
        live = [j for j in live if j not in closes]
        open_ = (open_ | links[best]) & ~many.get(best, 0)
    return passes


def _bits(mask: int) -> tuple[int, ...]:
    return tuple(j for j in range(mask.bit_length()) if mask >> j & 1)


def _run(model: Model, held: _Evidence, axes: list[int], passes: list[_Pass], aside: tuple[str, ...]) -> Posterior:
    strength, leak = held.strength[:, axes], held.leak[axes]
    reward = np.stack([held.absent[axes], held.present[axes]])
    leaks = np.stack([1 - leak, leak])
    chance, at_work = held.w1 / (held.w0 + held.w1), np.zeros(len(model.causes))
    met = {step.cause for step in passes}
    free = [i for i in range(len(model.causes)) if i not in met]
    log_all = held.log_constant + float(np.sum(np.log((held.w0 + held.w1)[free])))
    orphans = np.flatnonzero(~strength.any(axis=0))
    log_all += float(np.sum(np.log((leaks * reward).sum(axis=0)[orphans])))

    state, before = np.ones(()), []
    for step in passes:  # forward: mass of each set of findings explained so far
        for j in step.opens:
            state = np.multiply.outer(state, leaks[:, j])
        before.append(state)
        state = held.w0[step.cause] * state + held.w1[step.cause] * _brought(state, step, strength[step.cause])
        for j, axis in step.closing():
            state = reward[0, j] * _half(state, axis, 0) + reward[1, j] * _half(state, axis, 1)
    total = float(state)

    back = np.ones(())  # backward: what each set of explained findings is still worth
    for step, mass in zip(reversed(passes), reversed(before), strict=True):
        for j, axis in reversed(step.closing()):
            back = np.stack([reward[0, j] * back, reward[1, j] * back], axis=axis)
        worth, silent = _awaited(back, step, strength[step.cause], reward)
        weight = held.w1[step.cause] / total
        chance[step.cause] = weight * np.vdot(mass, worth)
        at_work[step.cause] = max(0.0, chance[step.cause] - weight * np.vdot(mass, silent))
        back = held.w0[step.cause] * back + held.w1[step.cause] * worth
        for j in reversed(step.opens):
            back = back @ leaks[:, j]
    nobody = min(1.0, _nobody(held, strength, leaks, reward, met) / total)
    return Posterior(model.causes, chance, at_work, nobody, log_all + math.log(total), aside)


def _nobody(held: _Evidence, strength: Floats, leaks: Floats, reward: Floats, met: set[int]) -> float:
    """Weight of everything having come by itself: every cause absent, or silent on all that was seen.

    Exact for plain answers; an answer that leans to no counts by its leak alone.
    """
    seen = reward[1] > reward[0]
    silent = np.prod(1 - strength[:, seen], axis=1)
    causes = np.prod([held.w0[i] + held.w1[i] * silent[i] for i in met])
    linked = strength.any(axis=0)
    return float(causes * np.prod((leaks * reward).sum(axis=0)[linked]))


def _half(state: Floats, axis: int, side: int) -> Floats:
    """The part of the state where one finding is not yet (0) or already (1) explained; a view."""
    half: Floats = state[(slice(None),) * axis + (side, ...)]
    return half


def _brought(state: Floats, step: _Pass, strength: Floats) -> Floats:
    """The state after the cause, present, has brought each of its findings or not."""
    moved = state.copy()
    for axis, j in enumerate(step.live):
        if strength[j]:
            low, high = _half(moved, axis, 0), _half(moved, axis, 1)
            high += strength[j] * low
            low *= 1 - strength[j]
    return moved


def _awaited(back: Floats, step: _Pass, strength: Floats, reward: Floats) -> tuple[Floats, Floats]:
    """What the state is worth before the cause, present, acts; and what if it brings nothing that was seen."""
    worth, silent = back.copy(), back.copy()
    for axis, j in enumerate(step.live):
        if not strength[j]:
            continue
        _draw_back(worth, axis, strength[j])
        if reward[1, j] > reward[0, j]:
            silent *= 1 - strength[j]
        else:
            _draw_back(silent, axis, strength[j])
    return worth, silent


def _draw_back(worth: Floats, axis: int, strength: float) -> None:
    low, high = _half(worth, axis, 0), _half(worth, axis, 1)
    low *= 1 - strength
    low += strength * high
