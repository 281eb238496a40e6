"""The exposure totals in force: kept as runs are recorded, counted again where they no longer hold."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from feedwright.catalogue.entry import Catalogue
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.machines.charging import NANO, Charge, charges_of, charges_on, fitted_at, nano_of
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Fitting, Machine
from feedwright.wear.exposure import law_key


def exposures(store: Store, machines: Sequence[Machine]) -> dict[int, float]:
    """Exposure gathered on these machines by every fitting, in its own unit, by fitting id."""
    count_stale_again(store, machines)
    return totals_kept(store, machines)


def totals_kept(records: Reads, machines: Sequence[Machine]) -> dict[int, float]:
    """The same as it was kept."""
    only = machines[0].id if len(machines) == 1 else None
    return {fitting_id: total.exposure_nano / NANO for fitting_id, total in records.exposures(only).items()}


def count_stale_again(store: Store, machines: Sequence[Machine]) -> None:
    """Count totals again that were kept under another catalogue's laws, and keep them."""
    catalogue = load_catalogue()
    only = machines[0].id if len(machines) == 1 else None
    stale = _stale(store, catalogue, only) & {machine.id for machine in machines}
    if stale:
        with store.act("count again", reason="the catalogue's wear laws changed") as act:
            for machine_id in sorted(stale):
                recount(act, catalogue, machine_id)


def _stale(records: Reads, catalogue: Catalogue, machine_id: int | None) -> set[int]:
    """Machines with a total that was kept under other wear laws than the catalogue's."""
    laws = {kind.id: law_key(kind, catalogue) for kind in catalogue.parts.values()}
    held = records.exposures(machine_id)
    return {
        fitting.machine_id
        for fitting in records.fittings(machine_id)
        if fitting.id in held and held[fitting.id].law_key != laws[fitting.part_kind]
    }


def apply_charges(
    act: ActInHand, catalogue: Catalogue, machine: Machine, charges: Iterable[Charge], *, sign: int = 1
) -> dict[int, Fitting]:
    """Add charges to the totals of the parts that were fitted then; returns those, by id.

    Called before the records that bring the charges are written, or with ``sign`` -1, which takes back what had been
    added, before they are voided: a machine whose totals are stale is counted again here from what is on record.
    """
    if _stale(act, catalogue, machine.id):
        recount(act, catalogue, machine.id)
    fittings = act.fittings(machine.id)
    removals = {removal.fitting_id: removal for removal in act.removals(machine.id)}
    gathered: dict[int, list[int]] = defaultdict(list)
    for charge in charges:
        for fitting in fitted_at(fittings, removals, charge.at_utc):
            gathered[fitting.id].append(nano_of(catalogue, catalogue.parts[fitting.part_kind], charge))
    worn = {fitting.id: fitting for fitting in fittings if fitting.id in gathered}
    for fitting in worn.values():
        amounts = gathered[fitting.id]
        key = law_key(catalogue.parts[fitting.part_kind], catalogue)
        act.add_exposure(fitting.id, key, sign * sum(amounts), sign * len(amounts))
    return worn


def recount(
    act: ActInHand,
    catalogue: Catalogue,
    machine_id: int,
    fitting_ids: Iterable[int] | None = None,
) -> None:
    """Count a machine's totals again from all that was charged to it, within an act."""
    wanted = None if fitting_ids is None else set(fitting_ids)
    removals = {removal.fitting_id: removal for removal in act.removals(machine_id)}
    charges = charges_of(act, machine_id)
    for fitting in act.fittings(machine_id):
        if wanted is None or fitting.id in wanted:
            kind = catalogue.parts[fitting.part_kind]
            own = charges_on(fitting, removals.get(fitting.id), charges)
            nano = sum(nano_of(catalogue, kind, charge) for charge in own)
            act.put_exposure(fitting.id, law_key(kind, catalogue), nano, len(own))
