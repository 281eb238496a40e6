"""What runs draw from the spools: each run from the one that hung on its machine when it began, or the one named."""

from bisect import bisect_right
from collections.abc import Iterable
from datetime import datetime

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.naming import with_capital
from feedwright.farm.stores.spools import PLACES, in_order, material_title, spool_numbered, spool_sheet, title
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand
from feedwright.records.stores_values import Spool, SpoolEntry, SpoolUse
from feedwright.records.values import Machine, Run
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import filament_kg
from feedwright.wear.values import Surroundings

NO_SPOOL = 0
"""Names no spool on purpose."""


class HungThere:
    """Which spool hung on one machine at which time."""

    def __init__(self, records: Reads, machine: Machine) -> None:
        self._records = records
        self._hung = in_order(records.every(SpoolEntry, machine_id=machine.id, kind="hung"))
        self._times = [one.at_utc for one in self._hung]
        self._places: dict[int, list[SpoolEntry]] = {}

    def at(self, at_utc: datetime) -> Spool | None:
        """The spool at a moment: hung there last, and put nowhere else since; None where none on record did."""
        place = bisect_right(self._times, at_utc)
        if not place:
            return None
        hung = self._hung[place - 1]
        if hung.spool_id not in self._places:
            entries = self._records.every(SpoolEntry, spool_id=hung.spool_id)
            self._places[hung.spool_id] = [one for one in in_order(entries) if one.kind in PLACES]
        last = [one for one in self._places[hung.spool_id] if one.at_utc <= at_utc][-1]
        return self._records.one(Spool, hung.spool_id) if last.id == hung.id else None


def used_g(run: Run, stretch: Stretch, machine: Machine) -> float:
    """What a run drew by its charge: all copies together."""
    around = Surroundings(run.material, machine.enclosure_c, machine.motion.filament_diameter_mm)
    return 1000.0 * max(0.0, filament_kg(stretch, around, load_catalogue().materials[run.material]))


def draw(act: ActInHand, run: Run, stretch: Stretch, machine: Machine, *, spool: int | None = None) -> tuple[str, ...]:
    """Charge a stored run to its spool, within the run's own act: the one named, else the one that hung there.

    Nothing where none hung there, or one of another material did; ``NO_SPOOL`` names none on purpose. Returns remarks.
    """
    grams = used_g(run, stretch, machine)
    if spool == NO_SPOOL or grams == 0:
        return ()
    held = HungThere(act, machine).at(run.started_utc) if spool is None else spool_numbered(act, spool, run.started_utc)
    if held is None:
        return ()
    if held.material != run.material:
        printed = material_title(run.material)
        if spool is None:
            return (f"{with_capital(title(held))} hung there, but the run was of {printed}: not charged to it.",)
        raise BadInput(
            "spool", place=title(held), expected=f"the run was of {printed}",
            remedy="name its own spool, or correct the material",
        )  # fmt: skip
    act.add(SpoolUse(held.id, run.id, run.started_utc, grams))
    left = spool_sheet(act, held.id).left.interval
    return (f"{with_capital(title(held))}: {grams:.0f} g drawn, {left.mid:.0f} g left.",)


def draw_all(act: ActInHand, runs: Iterable[tuple[Run, Stretch]], machine: Machine) -> None:
    """The same for many stored runs of one machine, each from the spool that hung there."""
    hung = HungThere(act, machine)
    for run, stretch in runs:
        held, grams = hung.at(run.started_utc), used_g(run, stretch, machine)
        if held is not None and held.material == run.material and grams > 0:
            act.add(SpoolUse(held.id, run.id, run.started_utc, grams))


def put_back(act: ActInHand, run_id: int) -> None:
    """Void what a run drew, before the run is voided itself."""
    for use in act.every(SpoolUse, run_id=run_id):
        act.void(use)
