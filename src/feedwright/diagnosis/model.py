"""The network as numbers for one situation: priors shifted by what is known, strengths refined by closed cases."""

from functools import lru_cache

import numpy as np

from feedwright.catalogue.network import Cause, Network
from feedwright.diagnosis.values import Counts, Floats, Model, Situation

LEAST, MOST = 1e-5, 0.9
"""No prior leaves this band: nothing is excluded or certain before a symptom is seen."""


def model_of(network: Network, situation: Situation, counts: Counts | None = None) -> Model:
    """The model for a situation; ``counts`` of closed cases refine priors and strengths.

    A cause that the machine cannot have (a liner in an all-metal hot end) has prior 0.
    """
    learned = counts or Counts()
    strength, leak = _strengths(network)
    if learned.seen:
        strength = _refined(network, learned, strength, leak)
    prior = np.array([prior_of(network, cause, situation, learned) for cause in network.causes.values()])
    return Model(tuple(network.causes), tuple(network.observations), prior, strength, leak)


@lru_cache(maxsize=4)
def _cached_strengths(digest: str) -> tuple[Floats, Floats]:
    from feedwright.catalogue.network import load_network

    return _matrix(load_network())


def _strengths(network: Network) -> tuple[Floats, Floats]:
    from feedwright.catalogue.network import load_network

    return _cached_strengths(network.digest) if network is load_network() else _matrix(network)


def _matrix(network: Network) -> tuple[Floats, Floats]:
    column = {name: j for j, name in enumerate(network.observations)}
    strength = np.zeros((len(network.causes), len(column)))
    for i, cause in enumerate(network.causes.values()):
        for name, number in cause.shows.items():
            strength[i, column[name]] = number.value
    return strength, np.array([seen.leak_frac.value for seen in network.observations.values()])


def prior_of(network: Network, cause: Cause, situation: Situation, counts: Counts) -> float:
    """Chance of a cause before any symptom.

    The catalogue's prior as Beta(p n, (1-p) n) with n = ``prior_weight_count``, updated by closed cases; then, on an
    own machine, the part's own chance that its life is over takes its place where the cause grows with wear; then its
    odds are multiplied by the factor of each circumstance that holds, and lowered where its cure was tried in vain.
    """
    fits = _can_have(network, cause, situation)
    if fits == 0:
        return 0.0
    weight = network.figure("prior_weight_count")
    chance = (cause.prior_frac.value * weight + counts.found.get(cause.id, 0)) / (weight + counts.closed)
    chance = _by_wear(network, cause, situation, chance) * fits
    odds = chance / (1 - chance)
    for name, factor in cause.shifts.items():
        if situation.circumstances.get(name, False):
            odds *= factor.value
    if cause.cure in situation.tried:
        odds *= network.figure("failed_repair_ratio")
    return min(MOST, max(LEAST, odds / (1 + odds)))


def _can_have(network: Network, cause: Cause, situation: Situation) -> float:
    """1 where the machine can have it, 0 where not, the share of such machines where that is unknown."""
    share = 1.0
    for needs, has, name, first in (
        (cause.drive, situation.drive, "remote_share_frac", "remote"),
        (cause.hot_end, situation.hot_end, "lined_share_frac", "lined"),
    ):
        if needs in ("any", has):
            continue
        if has is not None:
            return 0.0
        share *= network.figure(name) if needs == first else 1 - network.figure(name)
    return share


def _by_wear(network: Network, cause: Cause, situation: Situation, chance: float) -> float:
    """The part's own state in place of the average: its causes that grow share the chance that its life is over."""
    if cause.part in situation.part_sound:
        chance *= network.figure("fresh_look_frac")
    elif cause.grows and cause.part in situation.part_spent_frac:
        own = [other for other in network.causes.values() if other.grows and other.part == cause.part]
        share = cause.prior_frac.value / sum(other.prior_frac.value for other in own)
        spent = situation.part_spent_frac[cause.part] * network.figure("aged_prior_share_frac")
        chance = max(share * spent, 0.3 * chance)
    return min(MOST, chance)


def _refined(network: Network, counts: Counts, strength: Floats, leak: Floats) -> Floats:
    """Strengths after closed cases: with one cause there, an observation is seen with r = 1 - (1 - q)(1 - leak).

    r is Beta(r n, (1-r) n) a priori, n by the mark of its source; its updated mean is turned back into q.
    """
    row = {name: i for i, name in enumerate(network.causes)}
    column = {name: j for j, name in enumerate(network.observations)}
    refined = strength.copy()
    for (cause, name), (yes, asked) in counts.seen.items():
        if cause not in row or name not in column or not asked:
            continue
        i, j = row[cause], column[name]
        number = network.causes[cause].shows.get(name)
        marked = "practice" if number is not None and number.source == "practice" else "assumed"
        weight = network.figure(f"{marked}_weight_count")
        rate = 1 - (1 - strength[i, j]) * (1 - leak[j])
        rate = (rate * weight + yes) / (weight + asked)
        refined[i, j] = min(0.99, max(0.0, 1 - (1 - rate) / (1 - leak[j])))
    return refined
