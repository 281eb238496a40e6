"""The spool that a print begins on: the one that hangs on its machine, and whether it will last."""

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.spool_draws import HungThere
from feedwright.farm.spools import lasts, spool_sheet, title
from feedwright.records.prints_values import Print
from feedwright.records.reads import Reads
from feedwright.records.values import Machine
from feedwright.toolpath.values import Duty
from feedwright.wear.exposure import filament_kg
from feedwright.wear.values import Surroundings


def spool_of(
    records: Reads, machine: Machine, begun: Print, duty: Duty | None
) -> tuple[int | None, tuple[str, ...]]:  # fmt: skip
    """Number of the spool that hangs there as the print begins, and what is to be said of it; None where none does."""
    spool = HungThere(records, machine).at(begun.started_utc)
    if spool is None:
        return None, ()
    if spool.material != begun.material:
        return None, (f"{title(spool).capitalize()} hangs there on record: hang the one that it prints from.",)
    if duty is None:
        return spool.id, ()
    around = Surroundings(begun.material, machine.enclosure_c, machine.motion.filament_diameter_mm)
    kg = filament_kg(duty.whole.times(begun.copies), around, load_catalogue().materials[begun.material])
    enough = lasts(spool_sheet(records, spool.id), machine, max(0.0, 1000 * kg))
    return spool.id, () if enough.verdict == "enough" else (enough.words,)
