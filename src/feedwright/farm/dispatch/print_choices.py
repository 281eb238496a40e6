"""What a machine is likeliest to print next, to be begun with one tap; and what was recorded a moment ago."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import Conflict
from feedwright.farm.dispatch.dispatch import last_proposals
from feedwright.farm.dispatch.stations import duty_of
from feedwright.farm.ground.house import moment
from feedwright.farm.machines.machines import machines
from feedwright.farm.prints.loaded import material_in
from feedwright.farm.prints.print_spools import spool_of
from feedwright.farm.prints.prints import TapReceipt, UnderWay, receipts_of, under_way
from feedwright.farm.prints.queue import queue_lines
from feedwright.farm.prints.runs import run_lines
from feedwright.farm.prints.undo import KINDS, OF_PARTS, UNDO_S, what_it_recorded
from feedwright.farm.service.releases import HeldMachine, held_machines
from feedwright.farm.stores.spool_draws import HungThere
from feedwright.records.store import Store
from feedwright.records.values import Machine, Toolpath

MOST, LOOKED_BACK = 6, 30
"""So many choices are offered, from so many of the machine's latest runs."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One print that may be begun."""

    toolpath: Toolpath
    material: str
    copies: int
    queue_entry: int | None
    why: str
    """'proposed', 'you put it here', 'printed here before'."""


@dataclass(frozen=True, slots=True)
class ShelfRow:
    """One machine among many: what it prints, and what is likeliest to be begun on it."""

    machine: Machine
    running: UnderWay | None
    material: str
    """What is in it; empty = not known."""
    held: HeldMachine | None
    """Set while it is in service, or serviced and not released."""


@dataclass(frozen=True, slots=True)
class UndoOffer:
    """What an act recorded a moment ago, and may still be taken back."""

    act_id: int
    words: str
    remarks: tuple[str, ...] = ()
    """What is to be minded of a print that was begun."""


def shelf_rows(store: Store) -> list[ShelfRow]:
    """Every machine as it stands."""
    running = {one.machine.id: one for one in under_way(store)}
    hung, held = store.hung_materials(), {one.machine.id: one for one in held_machines(store)}
    rows = []
    for machine in machines(store):
        busy = running.get(machine.id)
        material = material_in(store, machine, busy.held.material if busy else "", hung.get(machine.id, ""))
        rows.append(ShelfRow(machine, busy, material, held.get(machine.id)))
    return rows


def likely_material(store: Store, machine: Machine) -> str:
    """The material in a machine, which is likeliest to be printed on it next; empty where that is not known."""
    busy, spool = store.open_prints(machine.id), HungThere(store, machine).at(moment(None))
    return material_in(store, machine, busy[0].material if busy else "", spool.material if spool else "")


def choices_for(store: Store, machine: Machine) -> list[Choice]:
    """What a machine is likeliest to print next: what was put on it or is proposed for it, then what it printed."""
    found: dict[tuple[int, str], Choice] = {}
    for choice in (*_queued(store, machine), *_printed(store, machine)):
        found.setdefault((choice.toolpath.id, choice.material), choice)
    return list(found.values())[:MOST]


def _queued(store: Store, machine: Machine) -> Iterator[Choice]:
    lines = {line.entry.id: line for line in queue_lines(store) if line.left}
    for line in lines.values():
        if line.placed is not None and line.placed.id == machine.id:
            yield Choice(line.toolpath, line.entry.material, line.left, line.entry.id, "you put it here")
    for one in last_proposals(store):
        waits = lines.get(one.line.entry.id)  # gone where it was begun a moment ago
        if one.machine.id == machine.id and waits is not None and waits.placed is None:
            copies = min(one.copies, waits.left)
            yield Choice(waits.toolpath, waits.entry.material, copies, waits.entry.id, "proposed")


def _printed(store: Store, machine: Machine) -> Iterator[Choice]:
    for line in run_lines(store, machine.name, limit=LOOKED_BACK):
        if line.toolpath is not None:
            yield Choice(line.toolpath, line.run.material, line.run.copies, None, "printed here before")


MOST_TOLD = 4
WORDS = {"start": "began", "finish": "is finished", "stop": "was stopped", "spoil": "is spoiled"}


def undo_offer(store: Store, act_id: int | None) -> UndoOffer | None:
    """What may be taken back with one tap; None where there is nothing, or it is older than a minute."""
    held = None if act_id is None else store.one_act(act_id)
    if held is None or held.kind not in KINDS or (datetime.now(UTC) - held.at_utc).total_seconds() > UNDO_S:
        return None
    if held.kind == "run":
        return UndoOffer(held.id, "The run is on record.")
    try:
        if held.kind in OF_PARTS:
            words = what_it_recorded(store, held.id)
            return UndoOffer(held.id, f"{words[0].upper()}{words[1:]} is on record.")
        receipts = receipts_of(store, held.id)
    except Conflict:  # taken back already
        return None
    files = {toolpath.id: toolpath for toolpath in store.toolpaths()}
    told = "; ".join(_said(one, files) for one in receipts[:MOST_TOLD])
    more = f"; and {len(receipts) - MOST_TOLD} more." if receipts[MOST_TOLD:] else "."
    return UndoOffer(held.id, told + more, tuple(_to_mind(store, receipts[:MOST_TOLD], files)))


def _to_mind(store: Store, receipts: Iterable[TapReceipt], files: Mapping[int, Toolpath]) -> Iterator[str]:
    """Of prints that were begun: that the machine is held, that the spool may run out."""
    for one in receipts:
        if one.kind == "start":
            file = None if one.held.toolpath_id is None else files[one.held.toolpath_id]
            duty = None if file is None else duty_of(store, file, one.machine)
            yield from (*one.remarks, *spool_of(store, one.machine, one.held, duty)[1])


def _said(one: TapReceipt, files: Mapping[int, Toolpath]) -> str:
    """'Larch: the print of hook.gcode began in PLA'."""
    file, material = one.held.toolpath_id, load_catalogue().materials[one.held.material].title
    what = "the print without a file" if file is None else f"the print of {files[file].name}"
    return f"{one.machine.name}: {what} {WORDS[one.kind]}" + (f" in {material}" if one.kind == "start" else "")
