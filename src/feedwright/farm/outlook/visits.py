"""Jobs of one machine that are cheaper done together: one heat-up, one tramming."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from feedwright.farm.ground.values import FittedPart
from feedwright.farm.outlook.costs import CostOfMachine
from feedwright.planning.prospect import Prospect
from feedwright.units import Money


def together(
    parts: Sequence[FittedPart], prospects: Sequence[Prospect], costs: Mapping[int, CostOfMachine]
) -> list[FittedPart]:
    """The parts, those called soon that are worth doing along with what is due now on the same machine.

    Doing a part early costs what its prospect says; it saves the heat-up or tramming it shares with a due job.
    """
    due: dict[int, list[FittedPart]] = defaultdict(list)
    for part in parts:
        if part.advice.status == "service now" and part.advice.act == "renew":
            due[part.machine.id].append(part)
    return [
        _joined(part, prospect, due[part.machine.id], costs[part.machine.id])
        for part, prospect in zip(parts, prospects, strict=True)
    ]


def _joined(part: FittedPart, prospect: Prospect, due: Sequence[FittedPart], costs: CostOfMachine) -> FittedPart:
    if part.advice.act != "renew" or part.advice.status == "service now":
        return part
    saved, mate = max(((costs.shared(part.kind, other.kind), other) for other in due), default=(0.0, part),
                      key=lambda pair: pair[0])  # fmt: skip
    early = prospect.cost_at(0.0)
    if saved <= early:
        return part
    gain = Money.of(saved - early, part.advice.planned_cost.currency)
    words = f"Done along with the {mate.title.lower()}, which is due now, it saves {gain}: heated or trammed once."
    reason = f"cheapest along with the {mate.title.lower()}, due now"
    advice = replace(part.advice, status="service soon", because=(*part.advice.because, words), reason=reason)
    return replace(part, advice=advice)
