"""The trim budget of every guide tube, told with its parts."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.values import FittedPart
from feedwright.planning.trim import budget_words, trim_budget
from feedwright.planning.values import TrimBudget
from feedwright.records.values import Fitting, Removal
from feedwright.wear.life import LifeCurve

TUBE, TUBE_END = "guide_tube", "tube_end"


def budgets(
    parts: Iterable[FittedPart],
    fittings: Iterable[Fitting],
    removals: Sequence[Removal],
    curve: Callable[[Fitting], LifeCurve],
) -> dict[int, TrimBudget]:
    """The budget of each machine whose tube's length is known; ``curve`` gives the life of a tube end's like."""
    machine_of = {fitting.id: fitting.machine_id for fitting in fittings}
    trims: dict[int, list[Removal]] = defaultdict(list)
    for removal in removals:
        if removal.trimmed_mm and removal.fitting_id in machine_of:
            trims[machine_of[removal.fitting_id]].append(removal)
    by_kind: dict[tuple[int, str], FittedPart] = {(part.machine.id, part.kind.id): part for part in parts}
    usual = load_catalogue().parts[TUBE_END].renewal.trims_mm
    made = {}
    for (machine, kind), tube in by_kind.items():
        end = by_kind.get((machine, TUBE_END))
        if kind != TUBE or end is None or usual is None or tube.fitting.length_mm is None:
            continue
        cuts = [r.trimmed_mm for r in trims[machine] if r.trimmed_mm and r.removed_utc > tube.fitting.fitted_utc]
        every = [r.trimmed_mm for r in trims[machine] if r.trimmed_mm]
        trim_mm = sum(every) / len(every) if every else usual.value
        due = end.advice.best_in_days if end.advice.act == "renew" else end.outlook.remaining_days.mid
        made[machine] = trim_budget(
            tube.fitting.length_mm - sum(cuts), tube.machine.tube_needed_mm, trim_mm, len(cuts), due,
            curve(end.fitting), end.advice.optimum_exposure, end.pace,
        )  # fmt: skip
    return made


def told(parts: Iterable[FittedPart], of_machine: dict[int, TrimBudget]) -> list[FittedPart]:
    """The parts, tube and tube end saying how many trims are left and when a new tube must be cut."""
    return [
        replace(part, advice=replace(part.advice, because=(*part.advice.because, budget_words(budget))))
        if part.kind.id in (TUBE, TUBE_END) and (budget := of_machine.get(part.machine.id))
        else part
        for part in parts
    ]
