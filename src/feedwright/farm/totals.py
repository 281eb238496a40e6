"""The exposure totals in force: kept as runs are recorded, counted again where they no longer hold."""

from collections.abc import Iterable

from feedwright.catalogue.entry import Catalogue
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.charging import NANO, charges_of, count_again
from feedwright.records.store import ActInHand, ExposureTotal, Store
from feedwright.records.values import Machine
from feedwright.wear.exposure import law_key


def exposures(store: Store, machines: Iterable[Machine]) -> dict[int, float]:
    """Exposure gathered on the machine by every open fitting, in its own unit, by fitting id.

    Totals kept under another catalogue are counted again first, and kept.
    """
    catalogue = load_catalogue()
    held = store.exposures()
    stale = [machine for machine in machines if _stale(store, catalogue, machine, held)]
    if stale:
        with store.act("count again", reason="the catalogue's wear laws changed") as act:
            for machine in stale:
                recount(act, catalogue, machine)
        held = store.exposures()
    return {fitting_id: total.exposure_nano / NANO for fitting_id, total in held.items()}


def _stale(store: Store, catalogue: Catalogue, machine: Machine, held: dict[int, ExposureTotal]) -> bool:
    return any(
        fitting.id in held and held[fitting.id].law_key != law_key(catalogue.parts[fitting.part_kind], catalogue)
        for fitting in store.fittings(machine.id, open_only=True)
    )


def recount(
    act: ActInHand,
    catalogue: Catalogue,
    machine: Machine,
    fitting_ids: Iterable[int] | None = None,
) -> None:
    """Count a machine's totals again from all that was charged to it, within an act."""
    wanted = None if fitting_ids is None else set(fitting_ids)
    removals = {removal.fitting_id: removal for removal in act.removals(machine.id)}
    charges = charges_of(act, machine.id)
    for fitting in act.fittings(machine.id):
        if wanted is not None and fitting.id not in wanted:
            continue
        nano, count = count_again(catalogue, machine, fitting, removals.get(fitting.id), charges)
        act.put_exposure(fitting.id, law_key(catalogue.parts[fitting.part_kind], catalogue), nano, count)
