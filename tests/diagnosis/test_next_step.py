"""The next step: cheap and telling first, in the present state, explained; every step comes to an end."""

import numpy as np
import pytest
from tests.diagnosis.conftest import Stand

from feedwright.catalogue.network import Network
from feedwright.diagnosis.next_step import advise, at_work, best_checks, price, wait_minutes
from feedwright.diagnosis.values import Situation


def test_a_sure_cause_is_repaired_and_not_looked_at_again(stand: Stand) -> None:
    bench, believed, _ = stand("end_black", "brown_flecks")
    best = advise(bench, believed).best
    assert best is not None
    assert (best.kind, best.step) == ("repair", "trim_tube_end")
    assert "tube end" in best.because[0]


def test_a_check_says_what_it_tells_apart_and_what_it_takes(stand: Stand) -> None:
    bench, believed, _ = stand("strings", "gaps_after_travel")
    best = advise(bench, believed).best
    assert best is not None
    assert best.kind == "check"
    assert "a yes speaks for" in best.because[0] or "A yes would point to" in best.because[0]
    assert "It takes about" in best.because[1]


def test_waiting_for_another_state_is_paid_for(stand: Stand, network: Network) -> None:
    assert wait_minutes(network, "hot", "hot") == wait_minutes(network, "cold", "any") == 0
    assert wait_minutes(network, "hot", "cold") > wait_minutes(network, "cold", "hot") > 0
    bench, _, _ = stand("strings")
    warm, _, _ = stand("strings", state="hot")
    pull = network.checks["pull_tube"]
    assert price(warm, pull)[1] < price(bench, pull)[1]


def test_a_hot_machine_brings_hot_checks_forward(stand: Stand) -> None:
    """With the same evidence, what needs heat ranks no later on a hot machine than on a cold one."""
    ranks = []
    for state in ("cold", "hot"):
        bench, believed, _ = stand("thin_lines", "clicks", state=state)
        advice = advise(bench, believed)
        costs = {(step.step, step.asks): step.expected_cost for step in (advice.best, *advice.others) if step}
        ranks.append(min(costs.values()))
    assert ranks[1] <= ranks[0]


def test_what_was_answered_or_done_is_not_advised_again(stand: Stand) -> None:
    bench, believed, _ = stand("strings", "end_ring", done=("trim_tube_end", "pull_tube"))
    advice = advise(bench, believed)
    for step in (advice.best, *advice.others):
        assert step is not None
        assert step.step not in ("trim_tube_end", "pull_tube")
        assert "end_ring" not in step.asks


def test_a_check_that_the_machine_cannot_have_is_not_advised(stand: Stand) -> None:
    bench, believed, _ = stand("strings", "gaps_after_travel", situation=Situation("direct", "all_metal"))
    for _ in range(30):
        best = advise(bench, believed).best
        if best is None:
            break
        assert best.step not in ("pull_tube", "watch_couplers", "slide_in_tube")
        done = frozenset({*bench.answered, *best.asks, best.step if best.kind == "repair" else ""})
        bench = type(bench)(bench.network, bench.model, bench.situation, bench.prices, bench.state, done)


def test_every_course_comes_to_an_end(stand: Stand, network: Network) -> None:
    everything = (*network.observations, *network.checks, *network.repairs)
    bench, believed, _ = stand("strings", done=everything)
    assert advise(bench, believed).best is None


def test_nothing_told_asks_what_the_print_shows(stand: Stand) -> None:
    bench, believed, _ = stand()
    best = advise(bench, believed).best
    assert best is not None
    assert best.step in ("look_at_print", "listen", "think_back")


def test_chances_of_being_at_work_add_up_with_the_unknown(stand: Stand) -> None:
    for seen in ((), ("strings",), ("strings", "layer_shift", "bubbles")):
        _, believed, _ = stand(*seen)
        weight, unknown = at_work(believed)
        assert float(weight.sum()) + unknown == pytest.approx(1)
        assert np.all(weight >= 0)


def test_the_answer_s_checks_begin_with_the_likeliest_repair(stand: Stand) -> None:
    bench, believed, _ = stand("strings", "gaps_after_travel")
    checks = best_checks(bench, believed, 4)
    assert checks[0].step == "pull_tube"
    assert len({(check.step, check.asks) for check in checks}) == len(checks)
