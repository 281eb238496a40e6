"""Merging procedures into one visit: nothing done twice, the machine heated and cooled as few times as can be.

Steps of the same id are one step. A procedure's steps keep their order, and a procedure that says so comes after
others. The order found is exact: fewest heat-ups, then least time.

Why it is exact, and quick: the minutes of the steps are the same in every order, so that only the sequence of machine
states costs, and no way from one state to another is shortened by a third between. In whatever state the machine is,
doing a step at once that can be done there costs nothing more and hinders nothing, so that no order is lost by doing
all of them before the state changes. What is left is a shortest path over states and steps done, with a handful of
branches, which Dijkstra's rule solves.
"""

import heapq
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import count, pairwise
from typing import Protocol

from feedwright.catalogue.procedures import EVERY_OTHER, Procedure, Step, StepState
from feedwright.errors import BadInput

HEATED: tuple[StepState, ...] = ("hot", "ready", "pull")
STATES: tuple[StepState, ...] = ("cold", "hot", "ready", "pull", "off")
HAND_C = 43.0
"""Hands may rest on it (see physics/touch.py)."""
Cost = tuple[int, float]


@dataclass(frozen=True, slots=True)
class HeatPlan:
    """Temperatures of one machine and material, and how fast it heats and cools."""

    nozzle_c: float
    bed_c: float
    pull_c: float
    ambient_c: float = 22.0
    nozzle_heating_c_s: float = 2.0
    nozzle_cooling_c_s: float = 1.0
    bed_heating_c_s: float = 0.35
    bed_cooling_c_s: float = 0.05
    on_minutes: float = 1.0
    off_minutes: float = 1.5

    def change(self, from_state: StepState, to_state: StepState, *, bed_warm: bool) -> Cost:
        """Heat-ups (0 or 1) and minutes from one state to another; a bed once warm stays so through all hot work."""
        if from_state == to_state:
            return 0, 0.0
        heats = to_state in HEATED and from_state not in HEATED
        begin, end = self._nozzle(from_state), self._nozzle(to_state)
        rate = self.nozzle_heating_c_s if end > begin else self.nozzle_cooling_c_s
        wait_s = abs(end - begin) / rate
        if to_state == "ready" and not bed_warm:  # the bed is switched on along with the nozzle
            wait_s = max(wait_s, (self.bed_c - self.ambient_c) / self.bed_heating_c_s - self._heated_s(begin))
        if bed_warm and to_state not in HEATED:
            wait_s = max(wait_s, max(0.0, self.bed_c - HAND_C) / self.bed_cooling_c_s)
        return int(heats), self._switching(from_state, to_state) + wait_s / 60

    def _heated_s(self, nozzle_c: float) -> float:
        return (nozzle_c - HAND_C) / self.nozzle_heating_c_s

    def _switching(self, from_state: StepState, to_state: StepState) -> float:
        return self.on_minutes if from_state == "off" else self.off_minutes if to_state == "off" else 0.0

    def _nozzle(self, state: StepState) -> float:
        return {"hot": self.nozzle_c, "ready": self.nozzle_c, "pull": self.pull_c}.get(state, HAND_C)


@dataclass(frozen=True, slots=True)
class VisitStep:
    """One step of a visit, and the procedures that need it."""

    step: Step
    procedures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Leg:
    """What is done in one state of the machine, and how long bringing it there takes."""

    state: StepState
    from_state: StepState
    heats: bool
    change_minutes: float
    steps: tuple[VisitStep, ...]


@dataclass(frozen=True, slots=True)
class Merged:
    """One visit: its legs in order, and what it takes."""

    procedures: tuple[Procedure, ...]
    legs: tuple[Leg, ...]
    heat_ups: int
    minutes: float
    apart_heat_ups: int
    """Heat-ups of the same procedures one by one, each begun cold and left cold."""
    apart_minutes: float
    tools: tuple[str, ...]
    parts: tuple[str, ...]


class Change(Protocol):
    """What bringing the machine from one state to another costs."""

    def __call__(self, from_state: StepState, to_state: StepState, *, bed_warm: bool) -> Cost:
        """Heat-ups and minutes."""
        ...


def bed_after(state: StepState, bed_warm: bool) -> bool:
    """Whether the bed is warm once the machine is in that state."""
    return state == "ready" or (bed_warm and state in HEATED)


def merge(procedures: Sequence[Procedure], plan: HeatPlan, *, hot_end: str = "lined") -> Merged:
    """The procedures as one visit, begun cold; raises BadInput where their orders contradict each other."""
    if not procedures:
        raise BadInput("procedures", expected="expected at least one", remedy="choose what is to be done")
    graph = graph_of(procedures, hot_end)
    cost, states = best_states(graph, plan.change)
    legs = _legs(graph, states, plan.change)
    steps = [step.step for leg in legs for step in leg.steps]
    apart = [_apart(procedure, plan, hot_end) for procedure in procedures]
    done = sum(step.minutes for step in steps)
    return Merged(
        procedures=tuple(procedures),
        legs=legs,
        heat_ups=cost[0],
        minutes=done + cost[1],
        apart_heat_ups=sum(heat_ups for heat_ups, _ in apart),
        apart_minutes=sum(minutes for _, minutes in apart),
        tools=_each_once(tool for step in steps for tool in step.tools),
        parts=_each_once(part for step in steps for part in step.parts),
    )


def _apart(procedure: Procedure, plan: HeatPlan, hot_end: str) -> Cost:
    (heat_ups, minutes), states = best_states(graph_of([procedure], hot_end), plan.change)
    work = sum(step.minutes for step in _fitting(procedure, hot_end))
    warm = "ready" in states and states[-1] in HEATED
    return heat_ups, work + minutes + plan.change(states[-1], "cold", bed_warm=warm)[1]


@dataclass(frozen=True, slots=True)
class StepGraph:
    """Steps by id, in the order the procedures name them, and what must be done before each."""

    steps: Mapping[str, VisitStep]
    before: Mapping[str, frozenset[str]]


def graph_of(procedures: Sequence[Procedure], hot_end: str = "lined") -> StepGraph:
    """The steps of the procedures that fit the machine, equal ones merged."""
    chains = {procedure.id: _fitting(procedure, hot_end) for procedure in procedures}
    steps: dict[str, VisitStep] = {}
    before: dict[str, set[str]] = {}
    for procedure_id, chain in chains.items():
        for step in chain:
            held = steps.get(step.id, VisitStep(step, ()))
            steps[step.id] = VisitStep(step, (*held.procedures, procedure_id))
            before.setdefault(step.id, set())
        for one, other in pairwise(chain):
            before[other.id].add(one.id)
    for procedure in procedures:
        own = next((step for step in chains[procedure.id] if not step.shared), None)
        for earlier in _earlier(procedure, procedures):
            last = _last_before_common(chains[earlier], chains[procedure.id])
            if own is not None and last is not None:
                before[own.id].add(last.id)
    return StepGraph(steps, {key: frozenset(held) for key, held in before.items()})


def _last_before_common(earlier: Sequence[Step], later: Sequence[Step]) -> Step | None:
    """The step of the earlier procedure that the later one's own work waits for.

    It is the last before a shared step that the later one takes after its own work: from there on both go together.
    """
    begun = next((number for number, step in enumerate(later) if not step.shared), len(later))
    known, common = {step.id for step in later}, {step.id for step in later[begun:]}
    upto = next((number for number, step in enumerate(earlier) if step.id in common), len(earlier))
    return next((step for step in reversed(earlier[:upto]) if step.id not in known), None)


def _fitting(procedure: Procedure, hot_end: str) -> list[Step]:
    return [step for step in procedure.steps if step.hot_end in ("any", hot_end)]


def _earlier(procedure: Procedure, procedures: Sequence[Procedure]) -> list[str]:
    if EVERY_OTHER in procedure.after:
        return [other.id for other in procedures if other.id != procedure.id and EVERY_OTHER not in other.after]
    return [other.id for other in procedures if other.id in procedure.after]


@dataclass(frozen=True, slots=True)
class _Place:
    """How the machine stands, and what is done."""

    state: StepState
    bed_warm: bool
    done: frozenset[str]


def best_states(graph: StepGraph, change: Change, begin: StepState = "cold") -> tuple[Cost, list[StepState]]:
    """The least cost of doing every step, and the states the machine goes through."""
    everything = frozenset(graph.steps)
    turn = count()
    first = _Place(begin, False, _closure(graph, begin, frozenset())[0])
    queue: list[tuple[Cost, int, _Place, list[StepState]]] = [((0, 0.0), next(turn), first, [begin])]
    seen: set[_Place] = set()
    while queue:
        cost, _, place, path = heapq.heappop(queue)
        if place.done == everything:
            return cost, path
        if place in seen:
            continue
        seen.add(place)
        for state in STATES:
            further = _closure(graph, state, place.done)[0] if state != place.state else place.done
            if further != place.done:
                heat_ups, minutes = change(place.state, state, bed_warm=place.bed_warm)
                there = _Place(state, bed_after(state, place.bed_warm), further)
                heapq.heappush(queue, ((cost[0] + heat_ups, cost[1] + minutes), next(turn), there, [*path, state]))
    raise BadInput(
        "procedures", expected="their steps wait for each other", remedy="do them in two visits; report it"
    )  # fmt: skip


def _closure(graph: StepGraph, state: StepState, done: frozenset[str]) -> tuple[frozenset[str], list[str]]:
    """Everything that can be done in that state, one thing after another; each procedure as far as it goes."""
    held, order, moved = set(done), list[str](), True
    while moved:
        moved = False
        for key, step in graph.steps.items():
            if key not in held and step.step.state in (state, "any") and graph.before[key] <= held:
                held.add(key)
                order.append(key)
                moved = True
    return frozenset(held), order


def _legs(graph: StepGraph, states: Sequence[StepState], change: Change) -> tuple[Leg, ...]:
    done: frozenset[str] = frozenset()
    legs: list[Leg] = []
    before, bed_warm = states[0], False
    for state in states:
        done, order = _closure(graph, state, done)
        heat_ups, minutes = change(before, state, bed_warm=bed_warm)
        if order or state != before:
            legs.append(Leg(state, before, bool(heat_ups), minutes, tuple(graph.steps[key] for key in order)))
        before, bed_warm = state, bed_after(state, bed_warm)
    return tuple(legs)


def _each_once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))
