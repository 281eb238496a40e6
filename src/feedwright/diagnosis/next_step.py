"""What to do next: the check or repair with the least expected cost to a working machine.

The posterior is exact; looking one check ahead takes it that one cause is at work, each with its exact chance of
being at work in what was seen. docs/models/diagnosis.md.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.network import MachineState, Network, Step
from feedwright.diagnosis.explain import why_check, why_repair
from feedwright.diagnosis.repair_order import best_order, expected_cost
from feedwright.diagnosis.values import Advice, Floats, Model, NextStep, Posterior, Prices, Situation, State

Look = tuple[Step, tuple[int, ...]]
"""A check with the columns of the observations that it would answer."""
ATTENTION_MINUTES = 2.0
"""What any further step costs in reading, walking and deciding (assumed); keeps small questions from piling up."""
OTHERS = 4
AT_ONCE = 3
"""How many small questions of one kind are asked in one go."""
TELLING = 0.7
"""How often a look must show the fault before it can stand in for trying the repair (assumed)."""
BYSTANDER_FRAC = 0.01
"""How much of the chance of a cause that is silent so far still counts (assumed): it is tried last, but it is tried."""
WORTH_NAMING = 0.03
"""Chance of a repair from which its check is named in a written answer (assumed)."""
LEAST_UNKNOWN, MOST_UNKNOWN = 0.01, 0.95
"""Chance that is always left to a cause which the catalogue does not hold, and the most (assumed)."""


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """What the choice of a step rests on besides the posterior."""

    network: Network
    model: Model
    situation: Situation
    prices: Prices
    state: State = "cold"
    answered: frozenset[str] = frozenset()
    """Observations that need not be asked again, and steps that were done."""


@dataclass(frozen=True, slots=True, eq=False)
class _Option:
    """One step that could be next, before it is put into words."""

    step: Step
    columns: tuple[int, ...]
    """Observations that it answers; none for a repair."""
    minutes: float
    expected_cost: float
    chance: float


def advise(bench: Bench, believed: Posterior) -> Advice:
    """The best next step and the next best few; none where every step has been done."""
    weight, unknown = at_work(believed)
    yes, looks = _yes(bench.model), list(_looks(bench))
    repairs = _Repairs(bench, weight, yes, looks)
    options = list(_options(bench, np.append(weight, unknown), repairs, yes, looks))
    options.sort(key=lambda option: option.expected_cost)
    steps = [_explained(bench, option, weight, yes) for option in options[: 1 + OTHERS]]
    return Advice(steps[0], tuple(steps[1:])) if steps else Advice(None, ())


def best_checks(bench: Bench, believed: Posterior, most: int) -> tuple[NextStep, ...]:
    """The check that best tells whether each likely repair is needed, the likeliest first: for one written answer."""
    weight, unknown = at_work(believed)
    yes, looks = _yes(bench.model), list(_looks(bench))
    repairs = _Repairs(bench, weight, yes, looks)
    likely = [k for k in np.argsort(-repairs.chance) if repairs.chance[k] >= WORTH_NAMING]
    telling = dict.fromkeys(int(repairs.probing[k]) for k in likely if repairs.probe[k] < repairs.full[k])
    ahead = _LookAhead(bench, np.append(weight, unknown), yes, repairs)
    options = ahead.options([looks[c] for c in list(telling)[:most]])
    return tuple(_explained(bench, option, weight, yes) for option in options)


def _explained(bench: Bench, option: "_Option", weight: Floats, yes: Floats) -> NextStep:
    step = option.step
    if option.columns:
        because = why_check(bench.network, step, bench.model, weight, yes[:-1], option.columns, option.minutes,
                            bench.prices.currency)  # fmt: skip
    else:
        because = why_repair(bench.network, step, bench.model, weight, option.chance, option.minutes,
                             bench.prices.currency)  # fmt: skip
    asks = tuple(bench.model.observations[j] for j in option.columns)
    kind: Literal["check", "repair"] = "check" if asks else "repair"
    return NextStep(kind, step.id, asks, option.minutes, option.expected_cost, option.chance, because)


def at_work(believed: Posterior) -> tuple[Floats, float]:
    """Chance that each cause is the one at work, and the rest: none of them."""
    unseen = believed.at_work.sum() == 0
    work = believed.chance if unseen else believed.at_work + BYSTANDER_FRAC * believed.chance
    unknown = LEAST_UNKNOWN if unseen else min(MOST_UNKNOWN, max(LEAST_UNKNOWN, believed.nobody))
    weight: Floats = work / work.sum() * (1 - unknown)
    return weight, unknown


def price(
    bench: Bench, step: Step, *, proof: bool = False, start: State | None = None, asked: int = 1
) -> tuple[float, float]:
    """Minutes and cost of a step from the state the machine is in.

    ``proof`` adds the print that shows the cure; ``asked`` is how many small questions are asked in one go.
    """
    minutes = step.minutes.value * asked + wait_minutes(bench.network, start or bench.state, step.state)
    minutes += bench.network.figure("proof_minutes") if proof else 0.0
    risk = step.risk_minutes.value if step.risk_minutes else 0.0
    parts = step.parts_cost.value if step.parts_cost else 0.0
    return minutes, (minutes + risk + ATTENTION_MINUTES) / 60 * bench.prices.hour + parts


def wait_minutes(network: Network, is_: State, needs: MachineState) -> float:
    """Waiting until the machine is in the state that a step needs."""
    if needs in ("any", is_):
        return 0.0
    if needs == "cold":
        return network.figure("cool_minutes")
    if needs == "running":
        return network.figure("start_minutes")
    return network.figure("heat_minutes") if is_ == "cold" else 0.5


class _Repairs:
    """The repairs that are open, with what each costs to try, and to look first whether it is needed."""

    def __init__(self, bench: Bench, weight: Floats, yes: Floats, looks: list[Look]) -> None:
        self.bench = bench
        cures = [bench.network.causes[name].cure for name in bench.model.causes]
        self.open = [step for key, step in bench.network.repairs.items() if key not in bench.answered]
        self.cure = np.array([[float(cure == step.id) for step in self.open] for cure in cures])
        self.prices = [price(bench, step, proof=True) for step in self.open]
        # from the state it is in now, for later steps too: else putting a repair off would look cheaper than doing it
        self.full = np.array([cost for _, cost in self.prices])
        self.chance = weight @ self.cure
        self.probe, self.probing = self._probes(weight, yes, looks)

    def _probes(self, weight: Floats, yes: Floats, looks: list[Look]) -> tuple[Floats, NDArray[np.intp]]:
        """Cost of looking before each repair, and which look: its price and false alarms over how often it finds it."""
        if not looks or not self.open:
            return self.full, np.zeros(len(self.open), dtype=np.intp)
        cost = np.array([price(self.bench, step)[1] for step, _ in looks])
        shows = np.stack([1 - np.prod(1 - yes[:, columns], axis=1) for _, columns in looks], axis=1)
        share = self.cure * np.maximum(weight, 1e-9)[:, None]
        hits = (share / share.sum(axis=0)).T @ shows[:-1]
        each = np.where(hits >= TELLING, (cost + shows[-1] * self.full[:, None]) / hits, np.inf)
        return np.minimum(self.full, each.min(axis=1)), each.argmin(axis=1)

    def cost_of(self, weight: Floats, total: Floats) -> Floats:
        """Expected cost of going on with looks and repairs in the best order, for rows of weights over causes."""
        if not self.open:
            return unknown_cost(self.bench) * total
        chance = weight @ self.cure
        looked = np.where(self.probe < self.full, self.full, 0.0)  # a look that finds it is followed by the repair
        spent: Floats = expected_cost(chance, self.probe, unknown_cost(self.bench), total) + chance @ looked
        return spent

    def first(self) -> int | None:
        """The repair with which the best order begins."""
        return best_order(self.chance, self.probe)[0] if self.open and self.chance.any() else None


def unknown_cost(bench: Bench) -> float:
    """What it costs to find a cause that the catalogue does not hold."""
    return bench.network.figure("unknown_minutes") / 60 * bench.prices.hour


def _options(bench: Bench, mass: Floats, repairs: _Repairs, yes: Floats, looks: list[Look]) -> Iterable[_Option]:
    """To begin the best order now, or to do some check before it; each with the expected cost from here on.

    A check is looked at one step ahead: its cost, and that of the best order after each of its joint answers.
    """
    ahead = _LookAhead(bench, mass, yes, repairs)
    single = ahead.options(looks)
    first = repairs.first()
    if first is not None:
        now = float(repairs.cost_of(mass[None, :-1], np.ones(1))[0])
        if repairs.probe[first] < repairs.full[first]:
            c = int(repairs.probing[first])
            single[c] = replace(single[c], expected_cost=min(now, single[c].expected_cost))
        else:
            yield _Option(repairs.open[first], (), repairs.prices[first][0], now, float(repairs.chance[first]))
    yield from single
    yield from ahead.options(_in_one_go(single))


class _LookAhead:
    """Weighs checks one step ahead."""

    def __init__(self, bench: Bench, mass: Floats, yes: Floats, repairs: _Repairs) -> None:
        self.bench, self.mass, self.yes, self.repairs = bench, mass, yes, repairs

    def options(self, looks: list[Look]) -> list[_Option]:
        """Each check with its expected cost."""
        if not looks:
            return []
        rows = [_outcomes(self.yes[:, columns]) for _, columns in looks]
        joint = np.concatenate(rows) * self.mass
        after = self.repairs.cost_of(joint[:, :-1], joint.sum(axis=1))
        ends = np.cumsum([len(block) for block in rows])
        later = [float(part.sum()) for part in np.split(after, ends[:-1])]
        return [self._option(*look, cost, block) for look, cost, block in zip(looks, later, rows, strict=True)]

    def _option(self, step: Step, columns: tuple[int, ...], later: float, block: Floats) -> _Option:
        minutes, cost = price(self.bench, step, asked=len(columns) if step.one_by_one else 1)
        return _Option(step, columns, minutes, cost + later, 1 - float(block[0] @ self.mass))


def _in_one_go(single: list[_Option]) -> list[Look]:
    """For each check whose questions are small, its most telling ones together."""
    together: list[Look] = []
    for step in {option.step.id: option.step for option in single if option.step.one_by_one}.values():
        best = sorted((option for option in single if option.step is step), key=lambda option: option.expected_cost)
        sizes = range(2, min(AT_ONCE, len(best)) + 1)
        together += [(step, tuple(option.columns[0] for option in best[:many])) for many in sizes]
    return together


def _looks(bench: Bench) -> Iterable[Look]:
    """Each check that can be done, with the columns of the observations it would still answer.

    A check of which something is answered was done: whoever saw a black tube end need not pull the tube again.
    """
    column = {name: j for j, name in enumerate(bench.model.observations)}
    for step in bench.network.checks.values():
        done = step.id in bench.answered or (not step.one_by_one and bench.answered & set(step.reveals))
        if done or not _possible(step, bench.situation):
            continue
        asks = [column[name] for name in step.reveals if name not in bench.answered]
        for group in [[j] for j in asks] if step.one_by_one else [asks] if asks else []:
            yield step, tuple(group)


def _possible(step: Step, situation: Situation) -> bool:
    return step.drive in ("any", situation.drive or step.drive) and step.hot_end in (
        "any", situation.hot_end or step.hot_end,
    )  # fmt: skip


def _yes(model: Model) -> Floats:
    """(n + 1, m) chance of yes to each observation where one cause is at work; last row: an unknown cause.

    Whatever else may be there by its prior counts as background.
    """
    background = 1 - (1 - model.leak) * np.prod(1 - model.prior[:, None] * model.strength, axis=0)
    alone = 1 - (1 - background) * (1 - model.strength)
    yes: Floats = np.vstack([alone, background])
    return yes


def _outcomes(yes: Floats) -> Floats:
    """(2**a, n + 1) chance of each joint answer to a check's questions; row 0 is no to all."""
    rows = np.ones((1, yes.shape[0]))
    for j in range(yes.shape[1]):
        rows = np.concatenate([rows * (1 - yes[:, j]), rows * yes[:, j]])
    return rows
