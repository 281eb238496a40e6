"""Lots of filament, and whether one of them goes with trouble on several machines."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from feedwright.farm.outlook.kept import Kept
from feedwright.planning.lots import LotRuns, LotVerdict, Tally, judge_lots
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.stores_values import Spool

CASE_AFTER = timedelta(days=2)
"""A case opened so soon after a run began, before the next one on that machine, is that run's trouble (assumed)."""


@dataclass(frozen=True, slots=True)
class LotLine:
    """One lot with its spools and what its runs say of it."""

    material: str
    lot: str
    spools: tuple[int, ...]
    verdict: LotVerdict


_KEPT = Kept[list[LotLine]]("lots")


def lots_shown(store: Store, now_utc: datetime) -> list[LotLine]:
    """The lots for a page; of a large farm the last that were worked out, until the keeper has done so anew."""
    return _KEPT.of(store, now_utc, lambda: lots(store), stamp=store.latest_act_id())


def lots(records: Reads) -> list[LotLine]:
    """Every lot that runs were drawn from, the suspect ones first."""
    spools = {spool.id: spool for spool in records.every(Spool)}
    names = {machine.id: machine.name for machine in records.machines()}
    drawn: dict[str, dict[str, dict[str, Tally]]] = defaultdict(lambda: defaultdict(dict))
    for number, machine_id, many, wrong in records.spool_tallies(followed_by_a_case(records)):
        spool, name = spools[number], names[machine_id]
        had = drawn[spool.material][spool.lot].get(name, Tally(0, 0))
        drawn[spool.material][spool.lot][name] = Tally(had.runs + many, had.wrong + wrong)
    lines = []
    for material, tallies in drawn.items():
        asked = [LotRuns(lot, tallies[lot], _others(tallies, lot)) for lot in sorted(tallies) if lot]
        lines += [
            LotLine(material, verdict.lot, _spools_of(spools, material, verdict.lot), verdict)
            for verdict in judge_lots(asked)
        ]
    return sorted(lines, key=lambda line: (not line.verdict.suspect, line.verdict.over_all_lots_frac, line.lot))


def followed_by_a_case(records: Reads) -> set[int]:
    """Runs after which a case was opened on their machine, before the next one and soon."""
    found = set()
    for case in records.cases():
        run = None if case.machine_id is None else records.run_before(case.machine_id, case.opened_utc)
        if run is not None and case.opened_utc - run.started_utc <= CASE_AFTER:
            found.add(run.id)
    return found


def _others(tallies: dict[str, dict[str, Tally]], lot: str) -> dict[str, Tally]:
    """The runs of all other lots by machine, those of spools whose lot nobody noted among them."""
    found: dict[str, Tally] = {}
    for other, machines in tallies.items():
        for name, tally in machines.items():
            if other != lot:
                had = found.get(name, Tally(0, 0))
                found[name] = Tally(had.runs + tally.runs, had.wrong + tally.wrong)
    return found


def _spools_of(spools: dict[int, Spool], material: str, lot: str) -> tuple[int, ...]:
    return tuple(sorted(one.id for one in spools.values() if (one.material, one.lot) == (material, lot)))
