"""What the known causes leave unexplained of what was seen: whether none fits well, one does, or only two together."""

from collections.abc import Mapping
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.network import Network
from feedwright.diagnosis.posterior import posterior
from feedwright.diagnosis.values import Fit, Floats, Likelihood, Model, Posterior

NOTHING_LIKELY = 0.4
"""Chance that no known cause is at work from which the program says that nothing fits well (assumed)."""
LEFT_OVER = 0.5
TOGETHER_RATIO = 3.0
"""How much likelier two causes together must be than the best one before it is said (assumed)."""


def fit_of(network: Network, model: Model, evidence: Mapping[str, Likelihood], believed: Posterior) -> Fit:
    """How well the causes fit the evidence; says nothing before something was seen."""
    seen = [name for name, told in evidence.items() if told.present > told.absent]
    if not seen:
        return Fit(False, (), (), ())
    left = tuple(name for name in seen if _unexplained(model, evidence, believed, name) > LEFT_OVER)
    single, pair = _best_explanations(model, evidence)
    none_fits = bool(len(left) == len(seen) or believed.nobody > NOTHING_LIKELY)
    together = () if none_fits or pair is None else tuple(model.causes[i] for i in pair)
    return Fit(none_fits, left, together, tuple(_sentences(network, seen, left, none_fits, together, single, model)))


def _unexplained(model: Model, evidence: Mapping[str, Likelihood], believed: Posterior, name: str) -> float:
    """Chance that a finding is there though no cause brings it: P(leak alone, rest of the evidence) / P(evidence).

    A leak alone and an absent finding ask the same of the causes, so the first is leak / (1 - leak) of the second.
    """
    leak = float(model.leak[model.column(name)])
    without = posterior(model, {**evidence, name: Likelihood(0.0, 1.0)})
    ratio = np.exp(without.log_evidence - believed.log_evidence)
    return float(leak / (1 - leak) * evidence[name].present * ratio)


def _best_explanations(model: Model, evidence: Mapping[str, Likelihood]) -> tuple[int, tuple[int, int] | None]:
    """The best single cause, and the best pair where it is far likelier than any single one."""
    columns = [model.column(name) for name in evidence]
    strength, leak = model.strength[:, columns], model.leak[columns]
    present = np.array([told.present for told in evidence.values()])
    absent = np.array([told.absent for told in evidence.values()])

    def likely(silent: Floats) -> Floats:
        """Log likelihood where each finding stays away with chance ``silent``."""
        with np.errstate(divide="ignore"):
            told: Floats = np.log(present * (1 - silent) + absent * silent).sum(axis=-1)
        return told

    with np.errstate(divide="ignore"):
        odds = np.log(model.prior) - np.log1p(-model.prior)
    alone = odds + likely((1 - leak) * (1 - strength))
    best = int(np.argmax(alone))
    first = np.argsort(-alone)[:24]
    pairs = np.array(list(combinations(_explaining(strength, present, absent, first), 2)))
    if not len(pairs):
        return best, None
    both = odds[pairs].sum(axis=1) + likely((1 - leak) * (1 - strength[pairs[:, 0]]) * (1 - strength[pairs[:, 1]]))
    top = int(np.argmax(both))
    if both[top] < alone[best] + np.log(TOGETHER_RATIO):
        return best, None
    one, other = (int(i) for i in pairs[top])
    return best, (one, other) if alone[one] >= alone[other] else (other, one)


def _explaining(strength: Floats, present: Floats, absent: Floats, first: NDArray[np.intp]) -> list[int]:
    """Causes that bring something which was seen: the likeliest alone, and all others that bring a finding at all."""
    seen = present > absent
    rest = [int(i) for i in np.flatnonzero(strength[:, seen].max(axis=1, initial=0.0) > 0.2) if i not in first]
    return [int(i) for i in first] + rest


def _sentences(
    network: Network, seen: list[str], left: tuple[str, ...], none_fits: bool, together: tuple[str, ...], single: int,
    model: Model,
) -> list[str]:  # fmt: skip
    title = {name: network.observations[name].title.lower() for name in seen}
    if none_fits:
        return ["No known cause fits this well. Check the answers once more; it may be something the catalogue does "
                "not hold, or chance."]  # fmt: skip
    said = []
    if together:
        first, second = (network.causes[name].title.lower() for name in together)
        said.append(f"Two causes together fit better than any one: “{first}” and “{second}”. Expect to cure both.")
    if left and not together:
        listed = "; ".join(title[name] for name in left)
        said.append(f"The likely causes do not explain this, which may be a trouble of its own: {listed}.")
    return said
