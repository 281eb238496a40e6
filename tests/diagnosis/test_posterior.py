"""The posterior: exact against enumeration, whatever the evidence and its order."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from feedwright.diagnosis.posterior import WIDEST, posterior
from feedwright.diagnosis.values import Likelihood, Model

CHANCES = st.floats(0.0, 1.0)


@st.composite
def questions(draw: st.DrawFn) -> tuple[Model, dict[str, Likelihood]]:
    causes, observations = draw(st.integers(1, 5)), draw(st.integers(1, 6))
    strength = draw(arrays(float, (causes, observations), elements=st.sampled_from([0.0, 0.0, 0.2, 0.7, 0.95, 1.0])))
    prior = draw(arrays(float, causes, elements=st.floats(0.001, 0.9)))
    leak = draw(arrays(float, observations, elements=st.floats(0.001, 0.5)))
    model = Model(tuple(map(str, range(causes))), tuple(map(str, range(observations))), prior, strength, leak)
    told = st.one_of(
        st.sampled_from([(1.0, 0.0), (0.0, 1.0), (0.5, 0.5)]), st.tuples(st.floats(0.01, 1), st.floats(0.01, 1))
    )
    names = draw(st.lists(st.sampled_from(model.observations), unique=True))
    return model, {name: Likelihood(*draw(told)) for name in names}


def enumerated(model: Model, evidence: dict[str, Likelihood]) -> tuple[float, list[float]]:
    whole, present = 0.0, [0.0] * len(model.causes)
    for state in itertools.product((0, 1), repeat=len(model.causes)):
        weight = math.prod(p if there else 1 - p for p, there in zip(model.prior, state, strict=True))
        for name, told in evidence.items():
            j = model.column(name)
            silent = (1 - model.leak[j]) * math.prod(1 - model.strength[i, j] for i, there in enumerate(state) if there)
            weight *= told.present * (1 - silent) + told.absent * silent
        whole += weight
        for i, there in enumerate(state):
            present[i] += weight * there
    return whole, [p / whole for p in present]


@given(questions())
@settings(max_examples=150, deadline=None)
def test_it_equals_enumeration(question: tuple[Model, dict[str, Likelihood]]) -> None:
    model, evidence = question
    whole, chance = enumerated(model, evidence)
    if whole < 1e-300:
        return
    believed = posterior(model, evidence)
    assert math.exp(believed.log_evidence) == pytest.approx(whole, rel=1e-10)
    assert believed.chance == pytest.approx(chance, abs=1e-12)
    assert np.all(believed.at_work <= believed.chance + 1e-12)
    assert -1e-12 <= believed.nobody <= 1 + 1e-9


@given(questions(), st.randoms())
@settings(max_examples=60, deadline=None)
def test_the_order_of_answers_does_not_matter(question: tuple[Model, dict[str, Likelihood]], random: object) -> None:
    model, evidence = question
    names = list(evidence)
    random.shuffle(names)  # type: ignore[attr-defined]
    one, other = posterior(model, evidence), posterior(model, {name: evidence[name] for name in names})
    assert one.chance == pytest.approx(other.chance, abs=1e-12)


def two_ways() -> Model:
    return Model(
        ("a", "b"), ("x", "y"), np.array([0.1, 0.1]), np.array([[0.8, 0.0], [0.8, 0.9]]), np.array([0.05, 0.02])
    )


def test_one_cause_found_clears_the_other() -> None:
    model = two_ways()
    before = posterior(model, {"x": Likelihood(1, 0)})
    after = posterior(model, {"x": Likelihood(1, 0), "y": Likelihood(1, 0)})
    assert after.chance[1] > before.chance[1]
    assert after.chance[0] < before.chance[0]


def test_a_cause_at_work_shows_in_what_was_seen() -> None:
    """A cause that is there by its prior alone, silent on what was seen, is not at work."""
    model = two_ways()
    believed = posterior(model, {"y": Likelihood(1, 0)})
    assert believed.chance[0] == pytest.approx(0.1)
    assert believed.at_work[0] == pytest.approx(0)
    # by hand: P(b, link on) / P(y), and the leak alone for nobody
    seen = 1 - (1 - 0.02) * (1 - 0.1 * 0.9)
    assert believed.at_work[1] == pytest.approx(0.1 * 0.9 / seen)
    assert believed.nobody == pytest.approx(0.02 * (1 - 0.09) / seen)


def test_too_many_findings_at_once_are_set_aside_and_said_to_be() -> None:
    many = WIDEST + 3
    names = tuple(map(str, range(many)))
    model = Model(("a",), names, np.array([0.1]), np.full((1, many), 0.5), np.linspace(0.01, 0.1, many))
    believed = posterior(model, dict.fromkeys(names, Likelihood(1, 0)))
    assert believed.set_aside == ("20", "21", "22")  # those that come by themselves most often tell least
