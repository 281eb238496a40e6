"""From the records to the outlook and advice of every fitted part."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.costs import CostOfMachine
from feedwright.farm.judgement import Judgement
from feedwright.farm.learning import farm_lives
from feedwright.farm.settings import figures
from feedwright.farm.stories import before, median_life
from feedwright.farm.totals import exposures
from feedwright.farm.trims import budgets, told
from feedwright.farm.use import pace_of, recent_use
from feedwright.farm.values import FittedPart
from feedwright.farm.visits import together
from feedwright.planning.prospect import Prospect
from feedwright.records.store import Store
from feedwright.records.values import Finding, Fitting, Machine
from feedwright.wear.exposure import drivers_of
from feedwright.wear.values import Interval, Surroundings

_Key = tuple[int, str, int]
_KEPT: dict[tuple[str, frozenset[int] | None], tuple[_Key, list[FittedPart]]] = {}
"""What was worked out last, by farm and machines (None = all)."""
KEPT_S, MOST_KEPT = 600, 64
"""Outlooks move by days: what was worked out holds so long, unless something is recorded."""


def fitted_parts(store: Store, now_utc: datetime, *, machines: Sequence[Machine] | None = None) -> list[FittedPart]:
    """Every open fitting of these machines, or of all, with outlook and advice."""
    folder = str(store.folder.resolve())
    wanted = None if machines is None else frozenset(machine.id for machine in machines)
    for held in (wanted, None):
        kept = _KEPT.get((folder, held))
        if kept is not None and kept[0] == _key(store, now_utc):
            return [part for part in kept[1] if wanted is None or part.machine.id in wanted]
    parts = _worked_out(store, now_utc, machines)
    if len(_KEPT) >= MOST_KEPT:
        _KEPT.clear()
    _KEPT[folder, wanted] = (_key(store, now_utc), parts)
    return parts


def _key(store: Store, now_utc: datetime) -> _Key:
    return store.latest_act_id(), load_catalogue().digest, int(now_utc.timestamp()) // KEPT_S


def _worked_out(store: Store, now_utc: datetime, machines: Sequence[Machine] | None) -> list[FittedPart]:
    looked_at = store.machines() if machines is None else list(machines)
    catalogue, numbers = load_catalogue(), figures(store)
    gathered = exposures(store, looked_at)
    use = recent_use(store, looked_at, now_utc)
    by_id = {machine.id: machine for machine in looked_at}
    only = looked_at[0].id if len(looked_at) == 1 else None
    latest = latest_findings(store.findings())
    costs = {machine.id: CostOfMachine(numbers, catalogue, machine, use[machine.id]) for machine in looked_at}
    fittings = [fitting for fitting in store.fittings(only, open_only=True) if fitting.machine_id in by_id]
    around = {
        machine.id: Surroundings("", machine.enclosure_c, machine.motion.filament_diameter_mm) for machine in looked_at
    }
    paces = {
        fitting.id: pace_of(
            catalogue, numbers, catalogue.parts[fitting.part_kind], by_id[fitting.machine_id], use[fitting.machine_id],
            around[fitting.machine_id],
        )
        for fitting in fittings
    }  # fmt: skip
    judgement = Judgement(
        farm_lives(store), fittings, paces,
        lambda fitting: costs[fitting.machine_id].of(catalogue.parts[fitting.part_kind]),
    )  # fmt: skip
    printed = {machine.id: use[machine.id].by_material() for machine in looked_at}
    parts: list[FittedPart] = []
    prospects: list[Prospect] = []
    for fitting in fittings:
        machine, kind = by_id[fitting.machine_id], catalogue.parts[fitting.part_kind]
        drivers = drivers_of(kind, printed[machine.id], around[machine.id], catalogue.materials)
        exposure = exposure_interval(fitting, gathered.get(fitting.id, 0.0), median_life(kind, fitting.product))
        forecast, advice, prospect = judgement.of(fitting, kind, exposure, drivers)
        parts.append(FittedPart(machine, fitting, kind, paces[fitting.id], forecast, advice, latest.get(fitting.id)))
        prospects.append(prospect)
    tubes = budgets(parts, store.fittings(only), store.removals(only), judgement.curve)
    return told(together(parts, prospects, costs), tubes)


def costs_of_machines(store: Store, now_utc: datetime) -> dict[int, CostOfMachine]:
    """What work costs on every machine, by the farm's figures and what it prints."""
    catalogue, numbers, machines = load_catalogue(), figures(store), store.machines()
    use = recent_use(store, machines, now_utc)
    return {machine.id: CostOfMachine(numbers, catalogue, machine, use[machine.id]) for machine in machines}


def latest_findings(findings: Iterable[Finding]) -> dict[int, Finding]:
    """The latest finding of each fitting."""
    latest: dict[int, Finding] = {}
    for finding in sorted(findings, key=lambda finding: (finding.found_utc, finding.id)):
        latest[finding.fitting_id] = finding
    return latest


def exposure_interval(fitting: Fitting, gathered: float, median: float) -> Interval:
    """Exposure so far: exact for a part fitted new, a band where its earlier history is reckoned or unknown."""
    had = before(fitting, median)
    return Interval(had.low + gathered, had.mid + gathered, had.high + gathered)


def group_by_machine(parts: Iterable[FittedPart]) -> dict[int, list[FittedPart]]:
    """The fitted parts of each machine."""
    grouped: dict[int, list[FittedPart]] = defaultdict(list)
    for part in parts:
        grouped[part.machine.id].append(part)
    return grouped
