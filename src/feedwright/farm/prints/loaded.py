"""The material in a machine's feed path."""

from feedwright.records.reads import Reads
from feedwright.records.values import Machine


def material_in(records: Reads, machine: Machine, printed: str, hung: str) -> str:
    """What is in the feed path once the machine is free: of what is ``printed`` or ``hung`` there, or of the last run.

    Empty, as either may be given, where that is not known.
    """
    return printed or hung or next((run.material for run, _ in records.charged_runs(machine.id, latest=1)), "")
