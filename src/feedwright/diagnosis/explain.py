"""Why a step is advised and why a cause is suspected, in sentences."""

import numpy as np

from feedwright.catalogue.network import Network, Step
from feedwright.diagnosis.values import Floats, Likelihood, Model, Posterior, Suspect

CLEAR_YES, CLEAR_NO = 0.5, 0.25
"""A cause makes a yes likely, or unlikely."""
WORDS = ("no", "one", "two", "three", "four", "five")


def why_check(
    network: Network,
    step: Step,
    model: Model,
    weight: Floats,
    yes: Floats,
    columns: tuple[int, ...],
    minutes: float,
    currency: str,
) -> tuple[str, ...]:
    """What the answers would tell apart, and what the check takes.

    ``yes`` (n, m): chance of a yes to each observation where a cause is at work.
    """
    order = [int(i) for i in np.argsort(-weight) if weight[i] > 0.005]
    told = {i: max(float(yes[i, j]) for j in columns) for i in order}
    for_ = [i for i in order if told[i] >= CLEAR_YES]
    against = [i for i in order[:4] if told[i] <= CLEAR_NO]
    leading = sum(1 for i in order[:5] if weight[i] > 0.03)
    if for_ and against and for_[0] in order[:5] and leading > 1:
        said = (f"It splits the {WORDS[leading]} likeliest causes: a yes speaks for {_titles(network, model, for_)}, "
                f"a no for {_titles(network, model, against)}.")  # fmt: skip
    elif for_:
        said = f"A yes would point to {_titles(network, model, for_)}; a no would clear {_it(len(for_))}."
    else:
        said = "Each answer shifts the causes a little; nothing is taken apart for it."
    return said, _takes(step, minutes, currency)


def why_repair(
    network: Network, step: Step, model: Model, weight: Floats, chance: float, minutes: float, currency: str
) -> tuple[str, ...]:
    """How likely it cures, and what it takes."""
    cured = [i for i in np.argsort(-weight) if network.causes[model.causes[i]].cure == step.id]
    return (
        f"It cures {_titles(network, model, [int(i) for i in cured[:1]])} and with it the trouble, with a chance of "
        f"{chance:.0%}; no check would lower the cost further. A short proof print then tells.",
        _takes(step, minutes, currency),
    )


def _takes(step: Step, minutes: float, currency: str) -> str:
    waiting = minutes - step.minutes.value
    needs = {"any": "in whatever state the machine is", "cold": "with the machine cold and switched off",
             "hot": "with the nozzle hot", "running": "while it prints"}[step.state]  # fmt: skip
    parts = step.parts_cost.value if step.parts_cost else 0.0
    used = (
        "needs no part"
        if not parts
        else "uses up a little material"
        if parts < 1
        else f"needs parts for about {parts:g} {currency}"
    )
    wait = f" ({waiting:.0f} of them waiting or proving)" if waiting >= 1 else ""
    whole = max(1, round(minutes))
    return f"It takes about {whole} minute{'' if whole == 1 else 's'}{wait}, {needs}, and {used}."


def suspects(network: Network, model: Model, believed: Posterior, evidence: dict[str, Likelihood], *,
             least: float = 0.02, most: int = 12) -> tuple[Suspect, ...]:  # fmt: skip
    """The causes in order of their chance of being at work, with what speaks for and against each."""
    work = believed.at_work if believed.at_work.max(initial=0.0) > 0 else believed.chance
    order = [int(i) for i in np.argsort(-work, kind="stable") if model.prior[i] > 0][:most]
    return tuple(
        _suspect(model, believed, evidence, i) for place, i in enumerate(order) if work[i] >= least or place < 3
    )


def _suspect(model: Model, believed: Posterior, evidence: dict[str, Likelihood], i: int) -> Suspect:
    for_, against = [], []
    for name, told in evidence.items():
        strength = float(model.strength[i, model.column(name)])
        if told.present > told.absent and strength >= 0.1:
            for_.append((strength, name))
        elif told.present < told.absent and strength >= 0.3:
            against.append((strength, name))
    return Suspect(
        model.causes[i], float(believed.chance[i]), float(model.prior[i]), float(believed.at_work[i]),
        tuple(name for _, name in sorted(for_, reverse=True)), tuple(name for _, name in sorted(against, reverse=True)),
    )  # fmt: skip


def _titles(network: Network, model: Model, chosen: list[int]) -> str:
    """Up to three causes as a phrase."""
    titles = [_lower(network.causes[model.causes[i]].title) for i in chosen[:3]]
    listed = "; ".join(f"“{title}”" for title in titles)
    return listed + (" and others" if len(chosen) > 3 else "")


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:]


def _it(many: int) -> str:
    return "it" if many == 1 else "them"
