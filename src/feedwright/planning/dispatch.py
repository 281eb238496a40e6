"""Which machine takes which print, and in what order: least expected cost of spoiled hours, lateness and changes.

Each machine is a line of prints, one after the other. Here is what a line costs; ``dispatch_search`` finds the lines.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Lines = tuple[tuple[int, ...], ...]
"""By machine, the numbers of its prints in order; one that has several copies may stand there several times."""

SPOILED_SHARE = 0.5
"""A failure falls anywhere within a print: half its hours and filament are lost on average."""
NEVER = 1e9
"""Cost of what may not be; beyond any plan's."""


@dataclass(frozen=True, slots=True)
class PartAtRisk:
    """One part of a machine, and what each print asks of it."""

    spoils_frac: float
    exposure: Floats
    """More exposure from now on, (n,), from 0 on ascending."""
    alive: Floats
    """Chance to be alive after that much more, (n,)."""
    asked: Floats
    """By each print, (prints,), in the part's own unit."""


@dataclass(frozen=True, slots=True)
class Station:
    """One machine as it stands."""

    name: str
    free_h: float
    """Hours until it can begin."""
    material: str
    """What is in its feed path; empty where that is not known."""
    shut: tuple[tuple[float, float], ...]
    """From when to when it is in service, in hours from now, in order."""
    parts: tuple[PartAtRisk, ...]
    hours: Floats
    """What each print takes on it, (prints,)."""
    may: NDArray[np.bool_]
    """Which prints it can take at all, (prints,)."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One print that waits."""

    material: str
    due_h: float
    """Hours until it is due; infinite where nothing was said."""
    filament_cost: float
    """Of one copy."""
    copies: int = 1


@dataclass(frozen=True, slots=True)
class DispatchPrices:
    """What is weighed, in the farm's currency."""

    machine_per_h: float
    clear_up_cost: float
    """A spoiled print's clearing up."""
    change_cost: float
    """A change of material ..."""
    change_h: float
    """... and how long it takes."""
    late_per_h: float
    wait_per_h: float


@dataclass(frozen=True, slots=True)
class Turn:
    """One copy of a print in its place in a line."""

    asked: int
    station: int
    begins_h: float
    ends_h: float
    finish_frac: float
    """Chance to finish, after all that is printed before it."""
    change: bool
    """True where the material is changed for it."""
    spoil_cost: float
    late_cost: float
    wait_cost: float
    change_cost: float

    @property
    def cost(self) -> float:
        """All of it."""
        return self.spoil_cost + self.late_cost + self.wait_cost + self.change_cost

    @property
    def spoiled_h(self) -> float:
        """Machine hours that are lost on average."""
        return (1.0 - self.finish_frac) * SPOILED_SHARE * (self.ends_h - self.begins_h)


@dataclass(frozen=True, slots=True)
class DispatchPlan:
    """Every copy of every print that some machine can take, in its place."""

    turns: tuple[Turn, ...]
    left_over: tuple[int, ...]
    """Prints that no machine can take."""
    cost: float
    bound: float
    """No plan costs less."""

    @property
    def gap_frac(self) -> float:
        """By how much of its cost the plan might be bettered at most."""
        return max(0.0, self.cost - self.bound) / self.cost if self.cost > 0 else 0.0

    @property
    def spoiled_h(self) -> float:
        """Machine hours that are lost on average."""
        return sum(turn.spoiled_h for turn in self.turns)


@dataclass(frozen=True, slots=True)
class OtherChoice:
    """The next best machine for a print, all else as planned."""

    turn: Turn
    extra_cost: float
    """What it would cost more, over all prints that it moves."""


class Reckoning:
    """Costs of lines of prints, each worked out once."""

    def __init__(self, stations: Sequence[Station], asked: Sequence[Asked], prices: DispatchPrices) -> None:
        self.stations, self.asked, self.prices = tuple(stations), tuple(asked), prices
        self._finish: dict[tuple[int, tuple[int, ...]], Floats] = {}
        self._turns: dict[tuple[int, tuple[int, ...]], tuple[Turn, ...]] = {}
        self._costs: dict[tuple[int, tuple[int, ...]], float] = {}

    def finish(self, station: int, before: tuple[int, ...] = ()) -> Floats:
        """Chance of each print to finish on a machine once those before it are printed, (prints,).

        A part is never reckoned the safer for what it has been through more.
        """
        key = (station, tuple(sorted(before)))
        if key not in self._finish:
            chance = np.ones(len(self.asked))
            for part in self.stations[station].parts:
                so_far = float(part.asked[list(before)].sum()) if before else 0.0
                now = max(float(np.interp(so_far, part.exposure, part.alive)), 1e-12)
                fails = 1.0 - np.interp(so_far + part.asked, part.exposure, part.alive) / now
                chance *= 1.0 - part.spoils_frac * np.clip(fails, 0.0, 1.0)
            self._finish[key] = np.minimum(chance, self.finish(station)) if before else chance
        return self._finish[key]

    def turns(self, station: int, line: tuple[int, ...]) -> tuple[Turn, ...]:
        """A machine's prints in that order, each in its turn."""
        key = (station, line)
        if key not in self._turns:
            self._turns[key] = tuple(self._in_turn(station, line))
        return self._turns[key]

    def _in_turn(self, station: int, line: tuple[int, ...]) -> Iterator[Turn]:
        at_h, material = self.stations[station].free_h, self.stations[station].material
        for place, one in enumerate(line):
            change = material not in ("", self.asked[one].material)
            finish = float(self.finish(station, line[:place])[one])
            turn = self.turn(station, one, at_h, finish, change=change)
            yield turn
            at_h, material = turn.ends_h, self.asked[one].material

    def turn(self, station: int, one: int, at_h: float, finish_frac: float, *, change: bool) -> Turn:
        """One print on a machine that is free from ``at_h`` on. Spoiled, it is printed again at once."""
        asked, prices, hours = self.asked[one], self.prices, float(self.stations[station].hours[one])
        begins_h = _open_from(self.stations[station], at_h + (prices.change_h if change else 0.0), hours)
        ends_h, spoiled = begins_h + hours, 1.0 - finish_frac
        late_h = finish_frac * max(0.0, ends_h - asked.due_h) + spoiled * max(0.0, ends_h + hours - asked.due_h)
        lost = SPOILED_SHARE * (hours * prices.machine_per_h + asked.filament_cost) + prices.clear_up_cost
        return Turn(
            one, station, begins_h, ends_h, finish_frac, change, spoiled * lost, late_h * prices.late_per_h,
            (ends_h + spoiled * hours) * prices.wait_per_h, prices.change_cost if change else 0.0,
        )  # fmt: skip

    def cost(self, station: int, line: tuple[int, ...]) -> float:
        """What a machine's line costs; :data:`NEVER` and more where it holds a print that the machine cannot take."""
        key = (station, line)
        if key not in self._costs:
            unfit = sum(not self.stations[station].may[one] for one in line)
            self._costs[key] = sum(turn.cost for turn in self.turns(station, line)) + NEVER * unfit
        return self._costs[key]

    def cheapest_lines(self) -> list[tuple[int, tuple[int, ...]]]:
        """Of all lines reckoned so far that a machine can take, the cheapest order of each choice of prints."""
        best: dict[tuple[int, tuple[int, ...]], tuple[float, tuple[int, ...]]] = {}
        for (station, line), cost in self._costs.items():
            key = (station, tuple(sorted(line)))
            if line and cost < NEVER and (key not in best or cost < best[key][0]):
                best[key] = (cost, line)
        return [(station, line) for (station, _), (_, line) in best.items()]

    def total(self, lines: Lines) -> float:
        """What a plan costs."""
        return sum(self.cost(station, line) for station, line in enumerate(lines))


def _open_from(station: Station, at_h: float, hours: float) -> float:
    """The earliest hour from ``at_h`` on from which the machine is not in service for so long."""
    for begins_h, ends_h in station.shut:
        if at_h < ends_h and at_h + hours > begins_h:
            at_h = ends_h
    return at_h


def planned(reckoning: Reckoning, lines: Lines, bound: float = 0.0, left_over: tuple[int, ...] = ()) -> DispatchPlan:
    """Lines as a plan, its prints in the order in which they begin."""
    turns = [turn for station, line in enumerate(lines) for turn in reckoning.turns(station, line)]
    ordered = tuple(sorted(turns, key=lambda turn: (turn.begins_h, turn.asked)))
    cost = reckoning.total(lines)
    return DispatchPlan(ordered, left_over, cost, min(bound, cost))
