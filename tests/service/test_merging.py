"""Merging is exact: against every order there is on small cases, and against itself on the catalogue's procedures."""

from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedwright.catalogue.procedures import Procedure, Step, StepState, load_procedures
from feedwright.errors import BadInput
from feedwright.service.merging import STATES, Cost, HeatPlan, StepGraph, bed_after, best_states, graph_of, merge

PLAN = HeatPlan(nozzle_c=210, bed_c=60, pull_c=90)
KNOWN = load_procedures().procedures


HEATS = st.builds(
    HeatPlan, nozzle_c=st.floats(170, 290), bed_c=st.floats(25, 120), pull_c=st.floats(60, 160),
    nozzle_heating_c_s=st.floats(0.5, 6), nozzle_cooling_c_s=st.floats(0.2, 3), bed_heating_c_s=st.floats(0.05, 2),
    bed_cooling_c_s=st.floats(0.02, 1),
)  # fmt: skip


def step(name: str, state: StepState, *, shared: bool = False) -> Step:
    return Step(name, "Do it.", "So.", state, 1.0, 0.0, (), (), (), None, shared)


def procedure(name: str, *steps: Step, after: tuple[str, ...] = ()) -> Procedure:
    return Procedure(name, name, "", steps, "", (), "any", "any", after, (), (), "practice")


def orders(graph: StepGraph, done: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Every order in which the steps can be done."""
    if len(done) == len(graph.steps):
        yield done
    for key in graph.steps:
        if key not in done and graph.before[key] <= set(done):
            yield from orders(graph, (*done, key))


def brute_force(graph: StepGraph, plan: HeatPlan) -> Cost | None:
    """The least cost over every order, None where there is none; straight from each needed state to the next."""
    best: Cost | None = None
    for order in orders(graph):
        state: StepState = "cold"
        warm, cost = False, (0, 0.0)
        for other in (graph.steps[key].step.state for key in order if graph.steps[key].step.state != "any"):
            more = plan.change(state, other, bed_warm=warm)
            state, warm, cost = other, bed_after(other, warm), (cost[0] + more[0], cost[1] + more[1])
        best = cost if best is None else min(best, cost)
    return best


@st.composite
def some_procedures(draw: st.DrawFn) -> list[Procedure]:
    """Up to three procedures of up to seven steps in all, some shared, one perhaps after another."""
    shared = [step(f"shared{i}", draw(st.sampled_from(STATES)), shared=True) for i in range(2)]
    held, left = [], 7
    for number in range(draw(st.integers(1, 3))):
        length = draw(st.integers(1, max(1, min(3, left))))
        left -= length
        own = [step(f"p{number}.s{i}", draw(st.sampled_from([*STATES, "any"]))) for i in range(length)]
        first = [shared[0]] if draw(st.booleans()) else []
        last = [shared[1]] if draw(st.booleans()) else []
        after = (f"p{number - 1}",) if number and draw(st.booleans()) else ()
        held.append(procedure(f"p{number}", *first, *own, *last, after=after))
    return held


@settings(max_examples=400, deadline=None)
@given(some_procedures(), HEATS)
def test_no_order_is_better_than_the_one_found(held: list[Procedure], plan: HeatPlan) -> None:
    graph = graph_of(held)
    if len(graph.steps) > 8:
        return
    least = brute_force(graph, plan)
    if least is None:  # a shared step would have to come both before and after another
        with pytest.raises(BadInput, match="wait for each other"):
            best_states(graph, plan.change)
        return
    found, _ = best_states(graph, plan.change)
    assert found[0] == least[0]
    assert found[1] == pytest.approx(least[1])


@given(HEATS, st.booleans(), *(st.sampled_from(STATES) for _ in range(3)))
def test_no_way_between_two_states_is_shortened_by_a_third(
    plan: HeatPlan, warm: bool, one: StepState, between: StepState, other: StepState
) -> None:
    """The proof that doing things at once never costs more rests on this."""
    warm = (warm and one in ("hot", "ready", "pull")) or one == "ready"
    first, second = (
        plan.change(one, between, bed_warm=warm),
        plan.change(between, other, bed_warm=bed_after(between, warm)),
    )
    straight = plan.change(one, other, bed_warm=warm)
    assert straight[0] <= first[0] + second[0]
    assert straight[1] <= first[1] + second[1] + 1e-9


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.sampled_from(sorted(KNOWN)), min_size=1, max_size=6, unique=True),
    st.sampled_from(["lined", "all_metal"]),
)
def test_any_choice_of_procedures_becomes_one_visit_in_which_every_order_holds(names: list[str], hot_end: str) -> None:
    held = [KNOWN[name] for name in names]
    merged = merge(held, PLAN, hot_end=hot_end)
    done: list[str] = [each.step.id for leg in merged.legs for each in leg.steps]
    assert len(done) == len(set(done))
    place = {key: number for number, key in enumerate(done)}
    for one in held:
        ids = [each.id for each in one.steps if each.hot_end in ("any", hot_end)]
        assert [place[key] for key in ids] == sorted(place[key] for key in ids)
    graph = graph_of(held, hot_end)
    assert all(place[earlier] < place[key] for key, before in graph.before.items() for earlier in before)
    for leg in merged.legs:
        assert all(each.step.state in (leg.state, "any") for each in leg.steps)
    assert merged.heat_ups <= merged.apart_heat_ups
    assert merged.minutes <= merged.apart_minutes + 1e-9


def test_the_usual_visit_heats_once_where_the_jobs_apart_heat_four_times() -> None:
    names = ("trim_tube", "renew_nozzle", "tram_bed", "first_layer")
    merged = merge([KNOWN[name] for name in names], PLAN)
    assert (merged.heat_ups, merged.apart_heat_ups) == (1, 4)
    done = [each.step.id for leg in merged.legs for each in leg.steps]
    assert done.count("filament_out") == done.count("tube_seat") == done.count("filament_in") == 1
    assert done.index("renew_nozzle.screw_in") < done.index("tube_seat") < done.index("tram_bed.read")
    assert done[-1] == "first_layer.print"
    assert merged.minutes < merged.apart_minutes


def test_tools_and_parts_are_named_once_before_it_begins() -> None:
    merged = merge([KNOWN["trim_tube"], KNOWN["renew_nozzle"]], PLAN)
    assert len(set(merged.tools)) == len(merged.tools)
    assert {"tube cutter", "socket for the nozzle"} <= set(merged.tools)
    assert merged.parts == ("nozzle",)


def test_orders_that_contradict_each_other_are_refused() -> None:
    one = procedure("one", step("a", "hot"), after=("other",))
    other = procedure("other", step("b", "cold"), after=("one",))
    with pytest.raises(BadInput, match="wait for each other"):
        merge([one, other], PLAN)
    with pytest.raises(BadInput, match="at least one"):
        merge([], PLAN)


@pytest.mark.parametrize(("drive", "hot_end"), [("remote", "lined"), ("direct", "lined"), ("direct", "all_metal")])
def test_everything_at_once_can_still_be_ordered(drive: str, hot_end: str) -> None:
    held = [one for one in KNOWN.values() if one.drive in ("any", drive) and one.hot_end in ("any", hot_end)]
    merged = merge(held, PLAN, hot_end=hot_end)
    assert merged.heat_ups <= 3
    assert merged.apart_heat_ups > 15


def test_the_tube_is_out_before_the_nozzle_comes_off() -> None:
    """Whatever order they are asked for in."""
    merged = merge([KNOWN["renew_nozzle"], KNOWN["trim_tube"]], PLAN)
    done = [each.step.id for leg in merged.legs for each in leg.steps]
    assert done.index("trim_tube.cut") < done.index("renew_nozzle.loosen") < done.index("tube_seat")
