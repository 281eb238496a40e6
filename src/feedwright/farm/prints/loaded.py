"""The material in a machine's feed path."""

from feedwright.farm.prints.prints import UnderWay
from feedwright.records.reads import Reads
from feedwright.records.values import Machine


def material_in(records: Reads, machine: Machine, busy: UnderWay | None, hung: str) -> str:
    """What is in the feed path once the machine is free: of its print, of the spool ``hung`` there, or of its last run.

    Empty where that is not known.
    """
    if busy is not None:
        return busy.held.material
    if hung:
        return hung
    return next((run.material for run, _ in records.charged_runs(machine.id, latest=1)), "")
