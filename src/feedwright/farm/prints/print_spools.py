"""The spool that a print begins on: the one that hangs on its machine or is hung for it, and whether it will last."""

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.naming import with_capital
from feedwright.farm.stores.spool_draws import HungThere
from feedwright.farm.stores.spools import hang_within, lasts, material_title, spool_numbered, spool_sheet, title
from feedwright.records.prints_values import Print
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand
from feedwright.records.values import Machine
from feedwright.toolpath.values import Duty
from feedwright.wear.exposure import filament_kg
from feedwright.wear.values import Surroundings


def hang_chosen(act: ActInHand, machine: Machine, begun: Print) -> None:
    """Hang the spool that the print names, unless it hangs there already; refuses one of another material."""
    if begun.spool_id is None:
        return
    spool = spool_numbered(act, begun.spool_id, begun.started_utc)
    if spool.material != begun.material:
        raise BadInput(
            "spool", place=title(spool), expected=f"the print is of {material_title(begun.material)}",
            remedy="choose another spool, or correct the material",
        )  # fmt: skip
    hung = HungThere(act, machine).at(begun.started_utc)
    if hung is None or hung.id != spool.id:
        hang_within(act, spool.id, machine, begun.started_utc)


def spool_of(
    records: Reads, machine: Machine, begun: Print, duty: Duty | None
) -> tuple[int | None, tuple[str, ...]]:  # fmt: skip
    """Number of the spool that hangs there as the print begins, and what is to be said of it; None where none does."""
    spool = HungThere(records, machine).at(begun.started_utc)
    if spool is None:
        return None, ()
    if spool.material != begun.material:
        return None, (f"{with_capital(title(spool))} hangs there on record: hang the one that it prints from.",)
    if duty is None:
        return spool.id, ()
    around = Surroundings(begun.material, machine.enclosure_c, machine.motion.filament_diameter_mm)
    kg = filament_kg(duty.whole.times(begun.copies), around, load_catalogue().materials[begun.material])
    enough = lasts(spool_sheet(records, spool.id), machine, max(0.0, 1000 * kg))
    return spool.id, () if enough.verdict == "enough" else (enough.words,)
