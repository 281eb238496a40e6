"""The same noisy-OR networks for a general-purpose Bayesian-network library (pyagrum), and random ones."""

import warnings
from collections.abc import Mapping

import numpy as np

from feedwright.diagnosis.values import Floats, Likelihood, Model

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import pyagrum as gum

SEEN, NOT_SEEN = Likelihood(1.0, 0.0), Likelihood(0.0, 1.0)


def random_model(rng: np.random.Generator, causes: int = 40, observations: int = 60) -> Model:
    """2 to 5 parents an observation, leak 0.5 to 3 %: the sizes of the reference the method was chosen by."""
    strength = np.zeros((causes, observations))
    for j in range(observations):
        parents = rng.choice(causes, int(rng.integers(2, 6)), replace=False)
        strength[parents, j] = rng.uniform(0.2, 0.95, len(parents))
    return Model(
        tuple(f"c{i}" for i in range(causes)), tuple(f"o{j}" for j in range(observations)),
        rng.uniform(0.01, 0.15, causes), strength, rng.uniform(0.005, 0.03, observations),
    )  # fmt: skip


def drawn_evidence(
    rng: np.random.Generator, model: Model, positives: int, negatives: int = 25
) -> dict[str, Likelihood]:
    """So many findings present, likely ones of a drawn fault, and so many absent."""
    present = rng.random(len(model.causes)) < np.maximum(0.15, 2 * model.prior)
    chance = 1 - (1 - model.leak) * np.prod(1 - model.strength[present], axis=0)
    seen = rng.choice(len(chance), positives, replace=False, p=chance / chance.sum())
    rest = np.setdiff1d(np.arange(len(chance)), seen)
    away = rng.choice(rest, min(negatives, len(rest)), replace=False)
    found = {model.observations[j]: SEEN for j in seen} | {model.observations[j]: NOT_SEEN for j in away}
    return {name: found[name] for name in rng.permutation(list(found))}


def library_network(model: Model, evidence: Mapping[str, Likelihood]) -> "gum.BayesNet":
    """The network with the observations that are evidence; the others change nothing.

    An observation of many parents is written as a chain of noisy-OR gates, which is the same function of its parents:
    a table of 2**29 rows is more than any library bears.
    """
    network = gum.BayesNet()
    for name, prior in zip(model.causes, model.prior, strict=True):
        network.add(gum.LabelizedVariable(name, "", 2))
        network.cpt(name).fillWith([1 - float(prior), float(prior)])
    for name in evidence:
        _add_observation(network, model, name)
    return network


def _stages(model: Model, name: str) -> list[tuple[str, list[int]]]:
    """The gates of an observation: one where it has few parents, else one a parent; the last bears its name."""
    parents = [int(i) for i in np.flatnonzero(model.strength[:, model.column(name)])]
    if len(parents) <= 5:
        return [(name, parents)]
    return [(f"{name}_{k}", [i]) for k, i in enumerate(parents[:-1])] + [(name, parents[-1:])]


def _add_observation(network: "gum.BayesNet", model: Model, name: str) -> None:
    strength, leak = model.strength[:, model.column(name)], float(model.leak[model.column(name)])
    before = None
    for node, parents in _stages(model, name):
        # the "net" variant is the leaky noisy-OR of the textbooks; the library's plain one folds the leak into links
        network.addNoisyORNet(gum.LabelizedVariable(node, "", 2), leak if before is None else 0.0)
        if before is not None:
            network.addWeightedArc(before, node, 1.0)
        for i in parents:
            network.addWeightedArc(model.causes[i], node, float(strength[i]))
        before = node


def library_posterior(
    network: "gum.BayesNet", model: Model, evidence: Mapping[str, Likelihood]
) -> tuple[Floats, float]:
    """Chance of each cause, and of the evidence, by the library's exact inference.

    Where an observation is absent every gate of its chain is off: saying so changes nothing but spares the library.
    """
    inference = gum.LazyPropagation(network)
    told = {name: [held.absent, held.present] for name, held in evidence.items()}
    off = {node: [1.0, 0.0] for name, held in evidence.items() if held.present == 0
           for node, _ in _stages(model, name)}  # fmt: skip
    inference.setEvidence({**told, **off})
    inference.setTargets(set(model.causes))
    inference.makeInference()
    chance = np.array([float(inference.posterior(name)[1]) for name in model.causes])
    return chance, float(inference.evidenceProbability())
