"""The plan of dispatch that costs least: sought from a cheapest assignment, proved where every line can be reckoned.

A plan begins from the cheapest assignment of copies to places in the machines' lines, solved exactly (Jonker &
Volgenant 1987, in the form of Crouse 2016); its cost, with every print as well off as it can be in that place, bounds
the cost of any plan from below. Moving and swapping prints at their full cost improves it; out of all lines tried on
the way the cheapest choice is then made as a set partition. Where every line there can be is reckoned, that is the best
plan of all.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from feedwright.planning.dispatch import NEVER, DispatchPlan, Floats, Lines, OtherChoice, Reckoning, planned

MOST_TRIALS = 15_000
"""So many moves and swaps are tried at most."""
MOST_LINES = 6000
"""Up to so many lines there can be, every one is reckoned, and the plan is the best of all."""
MOST_CHOICES = 1500
"""Otherwise the choice is made among so many of the lines tried."""
MOST_S = 4.0
"""How long the solver may take over one choice."""


def plan(reckoning: Reckoning) -> DispatchPlan:
    """The plan that costs least, as far as it was sought, with the bound below which none can be."""
    every = range(len(reckoning.asked))
    able = [one for one in every if any(station.may[one] for station in reckoning.stations)]
    left_over = tuple(one for one in every if one not in able)
    if not able:
        return DispatchPlan((), left_over, 0.0, 0.0)
    lines, bound = _assigned(reckoning, able)
    if _reckon_all(reckoning, able):
        best, proved = _combined(reckoning, able, reckoning.cheapest_lines())
        return planned(reckoning, best or lines, max(bound, proved), left_over)
    lines = min((_improved(reckoning, begun) for begun in (lines, first_free(reckoning))), key=reckoning.total)
    while True:
        best, _ = _combined(reckoning, able, _promising(reckoning))
        if best is None or reckoning.total(best) > reckoning.total(lines) - 1e-9:
            break
        lines = _improved(reckoning, best)
    return planned(reckoning, lines, bound, left_over)


def _assigned(reckoning: Reckoning, able: Sequence[int]) -> tuple[Lines, float]:
    """The cheapest assignment of all copies to places in the lines, and what it costs at its best."""
    from scipy.optimize import linear_sum_assignment

    stations = reckoning.stations
    copies = [one for one in able for _ in range(reckoning.asked[one].copies)]
    places = min(len(copies), 4 * math.ceil(len(copies) / len(stations)) + 4)
    costs = _at_best(reckoning, copies, places)
    if places < len(copies) and costs[linear_sum_assignment(costs)].max() >= NEVER:  # one machine alone takes many
        places = len(copies)
        costs = _at_best(reckoning, copies, places)
    rows, columns = linear_sum_assignment(costs)
    lines: list[list[tuple[int, int]]] = [[] for _ in stations]
    for row, column in zip(rows, columns, strict=True):
        station, place = divmod(int(column), places)
        lines[station].append((place, copies[int(row)]))
    return tuple(tuple(one for _, one in sorted(line)) for line in lines), float(costs[rows, columns].sum())


def _at_best(reckoning: Reckoning, copies: Sequence[int], places: int) -> Floats:
    """What each copy costs at least in each place of each line, (copies, machines times places).

    At least so many of the shortest prints go before it, the machine is as fresh as it stands, and the material is
    changed only for the first, where that is surely so.
    """
    kinds, row_of = np.unique(np.array(copies), return_inverse=True)
    columns = []
    for number, station in enumerate(reckoning.stations):
        finish = reckoning.finish(number)
        shortest = np.sort(station.hours[[one for one in copies if station.may[one]]])
        for place in range(places):
            at_h = station.free_h + float(shortest[:place].sum())
            columns.append([
                reckoning.turn(
                    number, one, at_h, float(finish[one]),
                    change=place == 0 and station.material not in ("", reckoning.asked[one].material),
                ).cost
                if station.may[one]
                else NEVER
                for one in kinds
            ])  # fmt: skip
    return np.array(columns).T[row_of]


def _reckon_all(reckoning: Reckoning, able: Sequence[int]) -> bool:
    """Reckon every line there can be, so that the choice among them is the best plan of all; False if too many."""
    lines = []
    for station, held in enumerate(reckoning.stations):
        own = {one: reckoning.asked[one].copies for one in able if held.may[one]}
        for line in _lines(own):
            lines.append((station, line))
            if len(lines) > MOST_LINES:
                return False
    for station, line in lines:
        reckoning.cost(station, line)
    return True


def _lines(own: dict[int, int], begun: tuple[int, ...] = ()) -> Iterator[tuple[int, ...]]:
    """Every choice and order of prints, each at most as often as it has copies."""
    for one, copies in own.items():
        if copies:
            line = (*begun, one)
            yield line
            yield from _lines({**own, one: copies - 1}, line)


def _combined(
    reckoning: Reckoning, able: Sequence[int], columns: Sequence[tuple[int, tuple[int, ...]]]
) -> tuple[Lines | None, float]:
    """The cheapest choice among these lines, one at most for each machine, that holds every copy once.

    A set partition, solved as a mixed-integer program (HiGHS); returns it with its proved bound, None where no choice
    is found in time.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    machines = len(reckoning.stations)
    row_of = {one: row for row, one in enumerate(able)}
    places = [(row_of[one], at) for at, (_, line) in enumerate(columns) for one in line]
    places += [(len(able) + station, at) for at, (station, _) in enumerate(columns)]
    inside = coo_array(
        (np.ones(len(places)), tuple(np.array(places).T)), shape=(len(able) + machines, len(columns))
    ).tocsc()
    wanted = np.array([reckoning.asked[one].copies for one in able], dtype=float)
    at_least, at_most = np.append(wanted, np.zeros(machines)), np.append(wanted, np.ones(machines))
    found = milp(
        np.array([reckoning.cost(*column) for column in columns]),
        constraints=LinearConstraint(inside, at_least, at_most), integrality=np.ones(len(columns), dtype=np.int8),
        bounds=Bounds(0, 1),
        options={"time_limit": MOST_S, "mip_rel_gap": 0.0},
    )  # fmt: skip
    if found.x is None:
        return None, 0.0
    best: list[tuple[int, ...]] = [() for _ in reckoning.stations]
    for number in np.flatnonzero(found.x > 0.5):
        station, line = columns[int(number)]
        best[station] = line
    return tuple(best), float(found.mip_dual_bound)


def _promising(reckoning: Reckoning) -> list[tuple[int, tuple[int, ...]]]:
    """The lines reckoned so far; of many those that cost least over what their prints cost by themselves."""
    columns = reckoning.cheapest_lines()
    if len(columns) <= MOST_CHOICES:
        return columns
    alone = [
        min(reckoning.cost(number, (one,)) for number in range(len(reckoning.stations)))
        for one in range(len(reckoning.asked))
    ]
    return sorted(columns, key=lambda at: reckoning.cost(*at) - sum(alone[one] for one in at[1]))[:MOST_CHOICES]


def _improved(reckoning: Reckoning, lines: Lines) -> Lines:
    """The lines after every move or swap of prints that makes them cheaper."""
    trials, better = 0, True
    while better and trials < MOST_TRIALS:
        better = False
        for station in range(len(lines)):
            for changed in _changes(lines, station):
                trials += 1
                gain = sum(reckoning.cost(n, lines[n]) - reckoning.cost(n, line) for n, line in changed.items())
                if gain > 1e-9:
                    lines = tuple(changed.get(number, line) for number, line in enumerate(lines))
                    better = True
                    break
    return lines


def _changes(lines: Lines, station: int) -> Iterator[dict[int, tuple[int, ...]]]:
    """Lines that change where a print of one machine is put elsewhere, or changes places with another, by machine."""
    own = lines[station]
    for place, one in enumerate(own):
        rest = (*own[:place], *own[place + 1 :])
        for number, line in enumerate(lines):
            kept = rest if number == station else line
            for there in range(len(kept) + 1):
                moved = (*kept[:there], one, *kept[there:])
                if number == station:
                    if moved != own:
                        yield {station: moved}
                else:
                    yield {station: rest, number: moved}
            if number > station:
                for there, other in enumerate(line):
                    if other != one:
                        yield {
                            station: (*own[:place], other, *own[place + 1 :]),
                            number: (*line[:there], one, *line[there + 1 :]),
                        }


def other_choices(reckoning: Reckoning, plan: DispatchPlan) -> dict[tuple[int, int], OtherChoice]:
    """For each print on each machine the machine that would be next best for one copy, all others in their order."""
    lines: list[tuple[int, ...]] = [() for _ in reckoning.stations]
    for turn in plan.turns:
        lines[turn.station] = (*lines[turn.station], turn.asked)
    found = {}
    for station, one in {(turn.station, turn.asked) for turn in plan.turns}:
        place = lines[station].index(one)
        rest = (*lines[station][:place], *lines[station][place + 1 :])
        saved = reckoning.cost(station, lines[station]) - reckoning.cost(station, rest)
        best: OtherChoice | None = None
        for other, line in enumerate(lines):
            if other == station or not reckoning.stations[other].may[one]:
                continue
            for there in range(len(line) + 1):
                tried = (*line[:there], one, *line[there:])
                extra = reckoning.cost(other, tried) - reckoning.cost(other, line) - saved
                if best is None or extra < best.extra_cost:
                    best = OtherChoice(reckoning.turns(other, tried)[there], extra)
        if best is not None:
            found[station, one] = best
    return found


def first_free(reckoning: Reckoning) -> Lines:
    """The copies as they wait, each on the machine that can take it and is free first: what is judged against."""
    lines: list[tuple[int, ...]] = [() for _ in reckoning.stations]
    for one, asked in enumerate(reckoning.asked):
        able = [number for number, station in enumerate(reckoning.stations) if station.may[one]]
        for _ in range(asked.copies if able else 0):
            first = min(able, key=lambda number: (_free_h(reckoning, number, lines[number]), number))
            lines[first] = (*lines[first], one)
    return tuple(lines)


def _free_h(reckoning: Reckoning, station: int, line: tuple[int, ...]) -> float:
    return reckoning.turns(station, line)[-1].ends_h if line else reckoning.stations[station].free_h
