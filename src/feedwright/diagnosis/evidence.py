"""Answers and readings as likelihoods."""

from collections.abc import Mapping

from feedwright.catalogue.network import Network
from feedwright.diagnosis.values import Answer, Likelihood


def likelihood_of(network: Network, answer: Answer) -> Likelihood | None:
    """What an answer says of its observation; None where it is no news.

    A "rather" answer errs with chance 1/2 - w/2, w the figure ``unsure_weight_frac``.
    """
    right = 0.5 + network.figure("unsure_weight_frac") / 2
    return {
        "yes": Likelihood(1.0, 0.0),
        "rather yes": Likelihood(right, 1 - right),
        "unsure": None,
        "rather no": Likelihood(1 - right, right),
        "no": Likelihood(0.0, 1.0),
    }[answer]


def evidence_of(
    network: Network, answers: Mapping[str, Answer], readings: Mapping[str, Likelihood] | None = None
) -> dict[str, Likelihood]:
    """Evidence by observation; a measured observation counts by its reading, not by what was said of it."""
    told = {name: likelihood_of(network, answer) for name, answer in answers.items()}
    evidence = {name: held for name, held in told.items() if held is not None}
    return {**evidence, **(readings or {})}
