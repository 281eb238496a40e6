"""Exact posteriors against a general-purpose Bayesian-network library: pyagrum 3.3, junction-tree inference.

Random noisy-OR networks of 40 causes and 60 observations, and the catalogue's own network, to 1e-12.
"""

import math
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))  # the library's side stands beside the tests

from bayesian_networks import drawn_evidence, library_network, library_posterior, random_model

from feedwright.catalogue.network import load_network
from feedwright.diagnosis.model import model_of
from feedwright.diagnosis.posterior import posterior
from feedwright.diagnosis.values import Likelihood, Model, Situation


def agree(model: Model, evidence: dict[str, Likelihood]) -> None:
    chance, whole = library_posterior(library_network(model, evidence), model, evidence)
    believed = posterior(model, evidence)
    assert not believed.set_aside
    assert np.abs(believed.chance - chance).max() < 1e-12
    assert math.exp(believed.log_evidence) == pytest.approx(whole, rel=1e-12)


@pytest.mark.parametrize("positives", [0, 1, 2, 4, 6, 8, 10, 12, 14, 16])
def test_random_networks(positives: int) -> None:
    rng = np.random.default_rng(100 + positives)
    for _ in range(3 if positives < 14 else 1):
        model = random_model(rng)
        agree(model, drawn_evidence(rng, model, positives))


@pytest.mark.parametrize("positives", [1, 3, 5, 8, 12, 16])
def test_the_catalogue_s_own_network(positives: int) -> None:
    rng = np.random.default_rng(200 + positives)
    model = model_of(load_network(), Situation("remote", "lined", {"after_power_cut": True, "thirsty": True}))
    agree(model, drawn_evidence(rng, model, positives, 20))


def test_answers_that_are_not_sure() -> None:
    rng = np.random.default_rng(7)
    model = random_model(rng)
    evidence = drawn_evidence(rng, model, 4, 6)
    soft = {name: Likelihood(*sorted(rng.uniform(0.1, 0.9, 2), reverse=bool(rng.random() < 0.5)))
            for name in model.observations[:40:5] if name not in evidence}  # fmt: skip
    agree(model, {**evidence, **soft})
