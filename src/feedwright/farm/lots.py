"""Lots of filament, and whether one of them goes with trouble on several machines."""

from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from feedwright.planning.lots import LotRuns, LotVerdict, Tally, judge_lots
from feedwright.records.reads import Reads
from feedwright.records.stores_values import Spool, SpoolUse
from feedwright.records.values import Run

CASE_AFTER = timedelta(days=2)
"""A case opened so soon after a run began, before the next one on that machine, is that run's trouble (assumed)."""


@dataclass(frozen=True, slots=True)
class LotLine:
    """One lot with its spools and what its runs say of it."""

    material: str
    lot: str
    spools: tuple[int, ...]
    verdict: LotVerdict


def lots(records: Reads) -> list[LotLine]:
    """Every lot that runs were drawn from, the suspect ones first."""
    spools = {spool.id: spool for spool in records.every(Spool)}
    runs = {run.id: run for run in records.runs()}
    names = {machine.id: machine.name for machine in records.machines()}
    wrong = troubled(records, list(runs.values()))
    drawn: dict[str, dict[str, dict[str, list[bool]]]] = defaultdict(lambda: defaultdict(lambda: defaultdict(list)))
    for use in records.every(SpoolUse):
        run, spool = runs.get(use.run_id), spools.get(use.spool_id)
        if run is not None and spool is not None:
            drawn[spool.material][spool.lot][names[run.machine_id]].append(run.id in wrong)
    lines = []
    for material, by_lot in drawn.items():
        tallies = {lot: {name: _tally(held) for name, held in machines.items()} for lot, machines in by_lot.items()}
        asked = [LotRuns(lot, tallies[lot], _others(tallies, lot)) for lot in sorted(tallies) if lot]
        lines += [
            LotLine(material, verdict.lot, _spools_of(spools, material, verdict.lot), verdict)
            for verdict in judge_lots(asked)
        ]
    return sorted(lines, key=lambda line: (not line.verdict.suspect, line.verdict.over_all_lots_frac, line.lot))


def troubled(records: Reads, runs: list[Run]) -> set[int]:
    """Runs that were spoiled, or after which a case was opened on their machine."""
    wrong = {run.id for run in runs if run.outcome == "spoiled"}
    by_machine: dict[int, list[tuple[datetime, int]]] = defaultdict(list)
    for run in runs:
        by_machine[run.machine_id].append((run.started_utc, run.id))
    for held in by_machine.values():
        held.sort()
    for case in records.cases():
        before = by_machine.get(case.machine_id or 0, [])
        place = bisect_right(before, (case.opened_utc, 2**63))
        if place and case.opened_utc - before[place - 1][0] <= CASE_AFTER:
            wrong.add(before[place - 1][1])
    return wrong


def _tally(wrong: list[bool]) -> Tally:
    return Tally(len(wrong), sum(wrong))


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
