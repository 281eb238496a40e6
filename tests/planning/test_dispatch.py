"""Which machine takes which print: against every possible plan on small cases, and by what it must never do."""

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from feedwright.planning.dispatch import (
    NEVER,
    Asked,
    DispatchPrices,
    Lines,
    PartAtRisk,
    Reckoning,
    Station,
    planned,
)
from feedwright.planning.dispatch_search import first_free, other_choices, plan

PRICES = DispatchPrices(1.5, 8.5, 2.5, 0.1, 2.0, 0.1)
GRID = np.concatenate([[0.0], np.geomspace(1e-3, 1e3, 400)])


def weibull(median: float, shape: float, age: float) -> np.ndarray:
    """Chance to outlive so much more, given the age: S(age + x) / S(age)."""
    hazard = math.log(2) * ((age + GRID) / median) ** shape
    return np.asarray(np.exp(hazard[0] - hazard))


def a_case(seed: int, stations: int, prints: int, copies: int = 1) -> Reckoning:
    draw = np.random.default_rng(seed)
    asked = [
        Asked(
            str(draw.choice(["pla", "petg"])), float(draw.choice([math.inf, draw.uniform(2, 40)])), draw.uniform(0, 4)
        )
        for _ in range(prints)
    ]
    base = draw.uniform(0.5, 12, prints)
    made = []
    for number in range(stations):
        parts = tuple(
            PartAtRisk(
                draw.uniform(0.2, 1), GRID, weibull(draw.uniform(20, 300), draw.uniform(1, 4), draw.uniform(0, 150)),
                base * draw.uniform(0.5, 2),
            )
            for _ in range(3)
        )  # fmt: skip
        may = draw.random(prints) > 0.15
        shut = ((4.0, 6.0),) if draw.random() < 0.3 else ()
        material = str(draw.choice(["", "pla", "petg"]))
        made.append(
            Station(f"m{number}", draw.uniform(0, 8), material, shut, parts, base * draw.uniform(0.8, 1.3), may)
        )
    return Reckoning(made, asked, PRICES)


def every_plan(prints: tuple[int, ...], stations: int) -> Iterator[Lines]:
    """Every way to put prints on machines, in every order."""
    for where in itertools.product(range(stations), repeat=len(prints)):
        groups = [[one for one, at in zip(prints, where, strict=True) if at == station] for station in range(stations)]
        for orders in itertools.product(*(itertools.permutations(group) for group in groups)):
            yield tuple(orders)


@pytest.mark.parametrize("seed", range(30))
def test_no_plan_at_all_is_cheaper_and_none_is_below_the_bound(seed: int) -> None:
    reckoning = a_case(seed, stations=2 + seed % 2, prints=3 + seed % 2)
    made = plan(reckoning)
    able = tuple(one for one in range(len(reckoning.asked)) if one not in made.left_over)
    least = min((reckoning.total(lines) for lines in every_plan(able, len(reckoning.stations))), default=0.0)
    assert made.bound <= least + 1e-9
    assert made.cost == pytest.approx(least)
    assert sorted(turn.asked for turn in made.turns) == list(able)


@pytest.mark.parametrize("seed", range(20))
def test_copies_are_as_good_as_so_many_prints_alike(seed: int) -> None:
    """Three prints, one of them twice: the best plan costs what it would if the copies were told apart."""
    reckoning = a_case(300 + seed, stations=2, prints=3)
    twice = Reckoning(reckoning.stations, [replace(reckoning.asked[0], copies=2), *reckoning.asked[1:]], PRICES)
    made = plan(twice)
    able = tuple(one for one in (0, 0, 1, 2) if one not in made.left_over)
    least = min((twice.total(lines) for lines in every_plan(able, 2)), default=0.0)
    assert made.cost == pytest.approx(least)
    assert sorted(turn.asked for turn in made.turns) == list(able)


def test_what_is_sought_comes_close_to_what_is_proved(monkeypatch: pytest.MonkeyPatch) -> None:
    """Six prints on three machines, where every plan can still be reckoned: the search alone against the best."""
    over = []
    for seed in range(12):
        proved = plan(a_case(5000 + seed, stations=3, prints=6))
        with monkeypatch.context() as small:
            small.setattr("feedwright.planning.dispatch_search.MOST_LINES", 0)
            sought = plan(a_case(5000 + seed, stations=3, prints=6))
        assert proved.cost == pytest.approx(proved.bound, rel=1e-6, abs=1e-6)
        over.append(sought.cost / proved.cost - 1)
    assert min(over) >= -1e-6
    assert sum(over) / len(over) < 0.015
    assert max(over) < 0.15


@pytest.mark.parametrize("seed", range(3))
def test_larger_plans_keep_every_rule_and_say_how_far_they_may_be_from_the_best(seed: int) -> None:
    reckoning = a_case(1000 + seed, stations=6, prints=24)
    made, plain = plan(reckoning), planned(reckoning, first_free(reckoning))
    assert made.cost <= plain.cost
    assert 0 <= made.gap_frac < 0.6
    by_station: dict[int, list[tuple[float, float]]] = {}
    for turn in made.turns:
        station = reckoning.stations[turn.station]
        assert station.may[turn.asked]
        assert turn.begins_h >= station.free_h
        assert turn.ends_h - turn.begins_h == pytest.approx(station.hours[turn.asked])
        assert all(turn.ends_h <= begins or turn.begins_h >= ends for begins, ends in station.shut)
        by_station.setdefault(turn.station, []).append((turn.begins_h, turn.ends_h))
    for times in by_station.values():
        assert all(one[1] <= two[0] + 1e-9 for one, two in itertools.pairwise(sorted(times)))


def test_a_print_that_nothing_can_take_is_left_over_and_said_so() -> None:
    reckoning = a_case(3, stations=2, prints=3)
    stations = [replace(one, may=np.array([True, False, True])) for one in reckoning.stations]
    made = plan(Reckoning(stations, reckoning.asked, PRICES))
    assert made.left_over == (1,)
    assert len(made.turns) == 2
    nothing = plan(Reckoning([replace(one, may=np.zeros(3, bool)) for one in stations], reckoning.asked, PRICES))
    assert (nothing.turns, nothing.left_over, nothing.cost) == ((), (0, 1, 2), 0.0)
    assert plan(Reckoning([], reckoning.asked, PRICES)).left_over == (0, 1, 2)


def test_one_machine_alone_takes_all_that_only_it_can() -> None:
    reckoning = a_case(5, stations=3, prints=16)
    only = [replace(one, may=np.full(16, number == 1)) for number, one in enumerate(reckoning.stations)]
    made = plan(Reckoning(only, reckoning.asked, PRICES))
    assert {turn.station for turn in made.turns} == {1}
    assert made.cost < NEVER


def sure(hours: list[float], *, free_h: float = 0.0, material: str = "pla") -> Station:
    """A machine that nothing goes wrong on."""
    return Station("sure", free_h, material, (), (), np.array(hours), np.ones(len(hours), bool))


def test_what_is_due_first_goes_first_and_materials_are_changed_once() -> None:
    asked = [Asked("pla", math.inf, 0.0), Asked("pla", 5.0, 0.0), Asked("petg", math.inf, 0.0), Asked("pla", 9.0, 0.0)]
    made = plan(Reckoning([sure([4.0] * 4)], asked, PRICES))
    assert [turn.asked for turn in made.turns] == [1, 3, 0, 2]
    assert [turn.change for turn in made.turns] == [False, False, False, True]


def test_a_worn_machine_is_passed_over_until_waiting_costs_more() -> None:
    worn = PartAtRisk(1.0, GRID, weibull(10, 2, 8), np.array([5.0]))
    old = replace(sure([5.0]), name="old", parts=(worn,))
    asked = [Asked("pla", math.inf, 1.0)]
    for free_h, best in ((0.0, 1), (20.0, 1), (200.0, 0)):
        made = plan(Reckoning([old, sure([5.0], free_h=free_h)], asked, PRICES))
        assert made.turns[0].station == best


def test_the_chance_to_finish_falls_with_what_is_printed_before() -> None:
    part = PartAtRisk(0.8, GRID, weibull(30, 3, 10), np.array([5.0, 5.0]))
    reckoning = Reckoning([replace(sure([5.0, 5.0]), parts=(part,))], [Asked("pla", math.inf, 0.0)] * 2, PRICES)
    first, second = reckoning.turns(0, (0, 1))
    alive = [math.exp(-math.log(2) * (((10 + x) / 30) ** 3 - (10 / 30) ** 3)) for x in (5.0, 10.0)]
    assert first.finish_frac == pytest.approx(1 - 0.8 * (1 - alive[0]), abs=1e-4)
    assert second.finish_frac == pytest.approx(1 - 0.8 * (1 - alive[1] / alive[0]), abs=1e-4)
    assert first.spoiled_h == pytest.approx((1 - first.finish_frac) * 2.5)


def test_the_next_best_machine_is_the_one_that_costs_least_more() -> None:
    stations = [sure([5.0]), replace(sure([5.0], free_h=3.0), name="later"), replace(sure([9.0]), name="slow")]
    reckoning = Reckoning(stations, [Asked("pla", math.inf, 0.0)], PRICES)
    other = other_choices(reckoning, plan(reckoning))[0, 0]
    assert other.turn.station == 1
    assert other.extra_cost == pytest.approx(3.0 * PRICES.wait_per_h)


def test_first_free_takes_them_as_they_wait() -> None:
    reckoning = Reckoning([sure([4.0, 1.0, 1.0]), sure([4.0, 1.0, 1.0])], [Asked("pla", math.inf, 0.0)] * 3, PRICES)
    assert first_free(reckoning) == ((0,), (1, 2))
