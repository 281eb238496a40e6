"""From the records to the outlook and advice of every fitted part."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from threading import Lock

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import StillWorking
from feedwright.farm.ground.settings import figures
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.machines.totals import count_stale_again, totals_kept
from feedwright.farm.outlook.costs import CostOfMachine
from feedwright.farm.outlook.judgement import Done, Judgement
from feedwright.farm.outlook.learning import FarmLives, farm_lives, is_large, learned_anew
from feedwright.farm.outlook.stories import before, median_life
from feedwright.farm.outlook.trims import budgets, told
from feedwright.farm.outlook.use import pace_of, recent_use
from feedwright.farm.outlook.visits import together
from feedwright.planning.prospect import Prospect
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import Finding, Fitting, Machine
from feedwright.wear.exposure import drivers_of
from feedwright.wear.values import Interval, Surroundings

KEPT_S, MOST_KEPT = 600, 2
"""Outlooks move by days: what was worked out holds so long, unless something is recorded."""
LARGE_RENEWED_S, LARGE_KEPT_S = 3600, 86400
"""A large farm is worked out anew behind its pages, by ``refresh``, once an hour; a page shows what was worked out
within the day, but for machines of which something was recorded since."""
ASK_AGAIN_S = 4.0
FEW = 60
"""So many machines are worked out within a few seconds."""


@dataclass(frozen=True, slots=True)
class _Kept:
    """What was worked out last: up to which act, when, from what belief, and the parts by machine."""

    act_id: int
    at_utc: datetime
    lives: FarmLives
    of_machine: dict[int, list[FittedPart]]

    def holds(self, now_utc: datetime) -> bool:
        """True while it is not too old to show."""
        longest = LARGE_KEPT_S if self.lives.is_large else KEPT_S
        return 0 <= (now_utc - self.at_utc).total_seconds() < longest


_KEPT: dict[tuple[str, str], _Kept] = {}
"""By farm and catalogue."""
_TURN = Lock()
"""Two who ask for the same wait for one working out."""
_WORKING: dict[tuple[str, str], tuple[int, int]] = {}
"""For how many kinds of part of how many it is done, of farms of which much is being worked out."""


def fitted_parts(store: Store, now_utc: datetime, *, machines: Sequence[Machine] | None = None) -> list[FittedPart]:
    """Every open fitting of these machines, or of all, with outlook and advice; all as of one moment of the records.

    Raises StillWorking where that takes long and whoever asks does not wait.
    """
    refuse_to_wait(store)
    key = _key(store)
    with _TURN:
        missing = _missing(store, now_utc, machines)
        if missing:
            count_stale_again(store, missing)
        with store.snapshot() as reads:
            kept = _up_to_date(reads, now_utc)
            wanted = reads.machines() if machines is None else machines
            missing = [machine for machine in wanted if machine.id not in kept.of_machine]
            if len(missing) > FEW and kept.lives.is_large and not store.waits:
                _refuse(key)
            try:
                if missing:
                    done = partial(_WORKING.__setitem__, key) if len(missing) > FEW else None
                    kept.of_machine.update(_worked_out(reads, now_utc, missing, kept.lives, done))
            finally:
                _WORKING.pop(key, None)
    return [part for machine in wanted for part in kept.of_machine[machine.id]]


def refuse_to_wait(store: Store) -> None:
    """Raise StillWorking where most of a large farm must be worked out first, and whoever asks does not wait."""
    if store.waits:
        return
    key, kept = _key(store), _KEPT.get(_key(store))
    large = is_large(store) if kept is None else kept.lives.is_large
    if large and (kept is None or key in _WORKING or store.machines_touched(kept.act_id) is None):
        _refuse(key)


def _refuse(key: tuple[str, str]) -> None:
    done, kinds = _WORKING.get(key, (0, 0))
    place = f"{done} of {kinds} kinds of part" if kinds else "its records are being read"
    raise StillWorking("the outlook of every part", place=place, wait_s=ASK_AGAIN_S)


def _missing(store: Store, now_utc: datetime, machines: Sequence[Machine] | None) -> list[Machine]:
    """The machines that must be worked out."""
    with store.snapshot() as reads:
        kept = _up_to_date(reads, now_utc)
        wanted = reads.machines() if machines is None else machines
    return [machine for machine in wanted if machine.id not in kept.of_machine]


def refresh(store: Store, now_utc: datetime) -> bool:
    """Work everything out anew where that was last done a while ago, while pages show what they have.

    For a large farm, which is worked out behind its pages; returns whether it did.
    """
    key, kept = _key(store), _KEPT.get(_key(store))
    if kept is None:
        fitted_parts(store, now_utc)
        return True
    if not kept.lives.is_large:
        return False
    if (now_utc - kept.at_utc).total_seconds() < LARGE_RENEWED_S:
        fitted_parts(store, now_utc)  # a figure of the farm may have touched every machine
        return False
    count_stale_again(store, store.machines())
    with store.snapshot() as reads:
        act_id, lives = reads.latest_act_id(), farm_lives(reads).afresh()
        worked_out = _worked_out(reads, now_utc, reads.machines(), lives)
    with _TURN:
        learned_anew(store, lives)
        _KEPT[key] = _Kept(act_id, now_utc, lives, worked_out)
    return True


def _key(store: Reads) -> tuple[str, str]:
    return str(store.folder.resolve()), load_catalogue().digest


def _up_to_date(store: Reads, now_utc: datetime) -> _Kept:
    """What is kept, without the machines that something was recorded of since."""
    key, latest = _key(store), store.latest_act_id()
    kept = _KEPT.get(key)
    if kept is not None and kept.act_id == latest and kept.holds(now_utc):
        return kept
    lives = farm_lives(store)
    if kept is not None and not kept.holds(now_utc):
        kept, lives = None, lives.afresh()
        learned_anew(store, lives)
    touched = None if kept is None else store.machines_touched(kept.act_id)
    if kept is None or touched is None or not lives.believes_as(kept.lives):
        made = _Kept(latest, now_utc, lives, {})
    else:
        rest = {machine: parts for machine, parts in kept.of_machine.items() if machine not in touched}
        made = _Kept(latest, kept.at_utc, lives, rest)
    while len(_KEPT) >= MOST_KEPT and key not in _KEPT:
        _KEPT.pop(next(iter(_KEPT)))
    _KEPT[key] = made
    return made


def _worked_out(
    store: Reads, now_utc: datetime, looked_at: Sequence[Machine], lives: FarmLives, done: Done | None = None
) -> dict[int, list[FittedPart]]:
    """The parts of these machines, by machine; ``done`` is told how many kinds of part are, and of how many."""
    catalogue, numbers = load_catalogue(), figures(store)
    gathered = totals_kept(store, looked_at)
    use = recent_use(store, looked_at, now_utc)
    by_id = {machine.id: machine for machine in looked_at}
    only = looked_at[0].id if len(looked_at) == 1 else None
    costs = {machine.id: CostOfMachine(numbers, catalogue, machine, use[machine.id]) for machine in looked_at}
    fittings = [fitting for fitting in store.fittings(only, open_only=True) if fitting.machine_id in by_id]
    latest = latest_findings(store.findings([fitting.id for fitting in fittings]))
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
        lives, fittings, paces, lambda fitting: costs[fitting.machine_id].of(catalogue.parts[fitting.part_kind]), done
    )
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
    grouped = group_by_machine(told(together(parts, prospects, costs), tubes))
    return {machine.id: grouped.get(machine.id, []) for machine in looked_at}


def costs_of_machines(store: Reads, now_utc: datetime) -> dict[int, CostOfMachine]:
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
