"""Choosing the visits of the coming weeks: which tasks on which round day, at least total cost, with a proof.

Every machine's own tasks are spread exactly (``rounds_machine.py``); hours at the bench, rounds and short parts, which
the machines share, get prices from a program over whole choices (``rounds_master.py``). From that program's last prices
every choice that could still be part of a better plan is listed; where they are all listed, the plan found among them
is the best there is. Otherwise the bound tells how much could be saved at most.
"""

import math
import time
from collections.abc import Callable, Collection, Iterable, Sequence

import numpy as np

from feedwright.planning.rounds_cost import cost_of, feasible
from feedwright.planning.rounds_machine import MachineSpread
from feedwright.planning.rounds_master import Master, Relaxed
from feedwright.planning.rounds_values import Choice, RoundsCost, RoundsProblem, RoundsSolution, gap_frac
from feedwright.wear.life import Floats

Progress = Callable[[float, float], None]
MOST_TURNS = 200
MOST_LISTED = 20_000
"""At most so many choices are listed where that makes the proof complete ..."""
NEAREST = 15
"""... and so many of a machine where a few machines are planned anew."""
FRUITLESS = 40
"""So often in turn planning a few machines anew may bring nothing."""
NEAR_FRAC = 1e-6
"""Prices are good enough once better choices of all machines would save no more than this share."""
SETTLED_FRAC = 0.98
"""A choice of which the linear program takes this share is taken whole."""


def plan_rounds(
    problem: RoundsProblem, *, before: Sequence[Choice] | None = None, limit_s: float = 30.0, gap: float = 1e-7,
    progress: Progress | None = None,
) -> RoundsSolution:  # fmt: skip
    """The choices of least total cost, begun from the plan before where that still can be.

    ``limit_s`` bounds the search, ``gap`` is the share of the cost at which it may end. The bound holds whenever it
    ends. Every task must either have a finite cost when left, or fit on some day beside all others that must.
    """
    if not problem.machines:
        return RoundsSolution((), RoundsCost(0.0, 0.0, 0.0), 0.0, (0.0,) * problem.days, 0, True)
    return _Search(problem, time.monotonic() + limit_s, gap, progress or (lambda _done, _total: None)).run(before)


class _Search:
    """One search: its program, the best plan so far, and the proved bound."""

    def __init__(self, problem: RoundsProblem, ends: float, gap: float, progress: Progress) -> None:
        self._problem, self._ends, self._gap, self._say = problem, ends, gap, progress
        self._spreads = [MachineSpread(problem, work) for work in problem.machines]
        self._master = Master(problem, self._spreads)
        self._draw = np.random.default_rng(1)  # the same search each time
        self._best: list[Choice] = []
        self._cost, self._bound, self._turns = math.inf, -math.inf, 0

    def run(self, before: Sequence[Choice] | None) -> RoundsSolution:
        """Prices; a whole plan by settling one machine after the other; then whatever could still be better."""
        self._begin(before)
        relaxed = self._price()
        if not self._near():
            self._settle_all()
            self._say(0.6, 1.0)
        if not self._near():
            self._choose_whole(relaxed)
        self._say(1.0, 1.0)
        cost = cost_of(self._problem, self._best)
        price = tuple((60.0 * relaxed.minute_price).tolist())
        return RoundsSolution(tuple(self._best), cost, min(self._bound, cost.total), price, self._turns, self._near())

    def _near(self) -> bool:
        return gap_frac(self._cost, self._bound) <= self._gap

    def _take(self, choices: Sequence[Choice]) -> None:
        """Keep a plan where it is the best so far."""
        if feasible(self._problem, choices):
            cost = cost_of(self._problem, choices).total
            if cost < self._cost:
                self._best, self._cost = list(choices), cost

    def _begin(self, before: Sequence[Choice] | None) -> None:
        """Know two plans: all left that may be left, and the plan before, each machine's part where it still can be."""
        left = [
            tuple(-1 if math.isfinite(task.later_cost) else int(np.argmin(task.cost)) for task in spread.work.tasks)
            for spread in self._spreads
        ]
        self._best = left
        for plan in (left, before or left):
            for number, choice in enumerate(plan):
                if math.isfinite(self._spreads[number].cost_of(choice)):
                    self._master.add(number, choice)
            self._take(plan)

    def _price(self) -> Relaxed:
        """Ask every machine for a better choice at the program's prices, until there is none."""
        first_gap, everybody = 0.0, range(len(self._spreads))
        while True:
            relaxed = self._master.relax()
            saving, added = self._ask(relaxed, everybody)
            self._turns += 1
            self._bound = max(self._bound, relaxed.value - saving)
            gap = gap_frac(relaxed.value, self._bound)
            first_gap = first_gap or gap
            self._say(0.5 * _share_done(gap, first_gap), 1.0)
            if not added or gap <= NEAR_FRAC or self._turns >= MOST_TURNS or time.monotonic() > self._ends:
                return relaxed

    def _ask(
        self, relaxed: Relaxed, machines: Collection[int], left_minutes: Floats | None = None
    ) -> tuple[float, bool]:
        """Add these machines' best choices at these prices; what they would save, and whether any is new."""
        saving, added = 0.0, False
        for number in machines:
            cost, choice = self._spreads[number].best(relaxed.prices[number], left_minutes)
            less = float(relaxed.machine[number]) - cost
            if less > 1e-9:
                saving += less
                added |= self._master.add(number, choice)
        return saving, added

    def _settle_all(self) -> None:
        """Settle one machine after the other, the surest first, and ask the rest anew for what fits in what is left."""
        settled: dict[int, Choice] = {}
        while len(settled) < len(self._spreads) and time.monotonic() < self._ends:
            sure = self._master.surest(SETTLED_FRAC)
            settled |= {column.machine: column.choice for column in sure}
            rest = [number for number in range(len(self._spreads)) if number not in settled]
            if not sure or not self._ask_rest(rest).solved:
                break
        if len(settled) == len(self._spreads):
            self._take([settled[number] for number in range(len(self._spreads))])
        self._master.unsettle()

    def _ask_rest(self, rest: Collection[int]) -> Relaxed:
        """Ask the machines that are not settled for what still fits beside the settled ones."""
        relaxed = self._master.relax()
        for _ in range(MOST_TURNS):
            if not relaxed.solved or not self._ask(relaxed, rest, self._master.left())[1]:
                break
            relaxed = self._master.relax()
        return relaxed

    def _choose_whole(self, relaxed: Relaxed) -> None:
        """The best plan among the choices known; then among all that matter, or where those are too many, nearby."""
        self._whole(relaxed, 0.2)
        self._say(0.7, 1.0)
        while not self._near() and time.monotonic() < self._ends:
            within = self._within(relaxed, self._cost - self._bound, range(len(self._spreads)), MOST_LISTED)
            if within is not None:
                self._know(within)
                self._bound = max(self._bound, min(self._whole(relaxed, 1.0), self._cost))
                return
            if not self._improve():
                return

    def _whole(self, relaxed: Relaxed, share: float) -> float:
        """The best plan among the choices known, in a share of the time left; returns the bound on such plans."""
        left_s = max(0.5, share * (self._ends - time.monotonic()))
        enough = self._bound + self._gap * abs(self._bound) if self._gap > 1e-6 else -math.inf
        plan, bound = self._master.whole(relaxed, self._cost - self._bound, enough=enough, limit_s=left_s)
        if plan is not None:
            self._take(plan)
        return bound

    def _improve(self) -> bool:
        """Plan two days' machines anew, again and again, while all others stay; False once that has come to an end."""
        tries, begun_at = 0, self._cost
        while tries < FRUITLESS and not self._near() and time.monotonic() < self._ends:
            cost_before = self._cost
            self._anew(self._some_machines())
            tries = 0 if self._cost < cost_before - 1e-6 else tries + 1
        return self._cost < begun_at - 1e-6 and tries < FRUITLESS

    def _some_machines(self) -> list[int]:
        """Machines that stop on one of two days by chance, at most a dozen, and three by chance."""
        count, draw = len(self._spreads), self._draw
        days = set(draw.choice(self._problem.days, min(2, self._problem.days), replace=False).tolist())
        stopping = [number for number, choice in enumerate(self._best) if days & set(choice)]
        return sorted({*draw.permutation(stopping)[:12].tolist(), *draw.choice(count, min(3, count)).tolist()})

    def _anew(self, machines: Sequence[int]) -> None:
        """Choose anew for some machines."""
        self._know(list(enumerate(self._best)))
        self._master.settle({n: choice for n, choice in enumerate(self._best) if n not in machines})
        relaxed = self._ask_rest(machines)
        room = self._cost - relaxed.value
        if relaxed.solved and room > 1e-6:
            for number in machines:
                self._know(self._nearest(relaxed, room, number))
            plan, _ = self._master.whole(relaxed, room, enough=-math.inf, limit_s=1.0)
            self._take(plan or self._best)
        self._master.unsettle()

    def _nearest(self, relaxed: Relaxed, room: float, number: int) -> list[tuple[int, Choice]]:
        """The choices of a machine that cost least above what the program pays, some of them."""
        while True:
            found = self._within(relaxed, room, (number,), NEAREST)
            if found is not None:
                return found
            room /= 2

    def _know(self, choices: Iterable[tuple[int, Choice]]) -> None:
        for number, choice in choices:
            self._master.add(number, choice)

    def _within(
        self, relaxed: Relaxed, room: float, machines: Iterable[int], most: int
    ) -> list[tuple[int, Choice]] | None:
        """Every choice of these machines that costs no more than the program pays for it and ``room``.

        With the room that the best plan leaves above the bound, no other choice can be part of a better plan. None
        where there are more than ``most``.
        """
        listed: list[tuple[int, Choice]] = []
        for number in machines:
            self._spreads[number].best(relaxed.prices[number], self._master.left())
            found, complete = self._spreads[number].within(float(relaxed.machine[number]) + room, most - len(listed))
            if not complete:
                return None
            listed += [(number, choice) for choice in found]
        return listed


def _share_done(gap: float, first: float) -> float:
    """How far the prices are, on a scale of tenfold closer gaps."""
    if gap <= NEAR_FRAC or first <= NEAR_FRAC:
        return 1.0
    return float(np.clip(np.log(first / gap) / np.log(first / NEAR_FRAC), 0.0, 1.0))
