"""The material in a machine's feed path."""

from feedwright.farm.prints import UnderWay
from feedwright.farm.spools import SpoolSheet
from feedwright.records.reads import Reads
from feedwright.records.values import Machine


def material_in(records: Reads, machine: Machine, busy: UnderWay | None, spool: SpoolSheet | None) -> str:
    """What is in the feed path once the machine is free: of its print, its spool or its last run; empty = not known."""
    if busy is not None:
        return busy.held.material
    if spool is not None:
        return spool.spool.material
    return next((run.material for run, _ in records.charged_runs(machine.id, latest=1)), "")
