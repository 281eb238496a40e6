"""What is to be printed: the queue, and a person's word on which machine takes what."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.ground.forms import SentBefore, act_of_key, checked_key, claim, taken_back
from feedwright.farm.ground.house import EARLIEST, moment
from feedwright.farm.ground.naming import pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.toolpaths.toolpaths import toolpath_named
from feedwright.records.prints_values import Placement, QueueEntry
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Machine, Toolpath

MOST_COPIES = 1000
LATEST = timedelta(days=3660)
"""How far ahead a print may be due."""
LONG_AGO = timedelta(days=31)
"""A print may be late already when it is queued, but a time further back than this is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class QueueLine:
    """One entry of the queue as it stands."""

    entry: QueueEntry
    toolpath: Toolpath
    done: int
    """Copies that were finished ..."""
    under_way: int
    """... and those that are under way."""
    placed: Machine | None
    """The machine that a person put it on."""
    placement: Placement | None

    @property
    def left(self) -> int:
        """Copies that wait for a machine."""
        return max(0, self.entry.copies - self.done - self.under_way)

    @property
    def complete(self) -> bool:
        """True where every copy is done."""
        return self.done >= self.entry.copies


def add_to_queue(
    store: Store, toolpath: str, *, material: str, copies: int = 1, due_utc: datetime | None = None, note: str = "",
    queued_utc: datetime | None = None, entry_key: str = "", person: str | None = None,
) -> QueueLine:  # fmt: skip
    """Queue a known toolpath, now or as of ``queued_utc``; sent twice under one key it is queued once."""
    key = checked_key(entry_key)
    before = act_of_key(store, key)
    if before is not None:
        return _queued_by(store, before)
    queued = moment(queued_utc)
    entry = QueueEntry(
        toolpath_id=toolpath_named(store, toolpath).id,
        material=pick_entry(load_catalogue().materials, material, "material").id,
        copies=int(within("copies", copies, 1, MOST_COPIES)),
        queued_utc=queued,
        due_utc=_due(due_utc, queued),
        note=text("note", note),
    )
    try:
        with store.act("queue", person_id=person_id(store, person)) as act:
            claim(act, "queue", key)
            number = act.add(entry)
    except SentBefore as again:
        return _queued_by(store, again.act_id)
    return queue_entry(store, number)


def _due(given: datetime | None, queued: datetime) -> datetime | None:
    if given is None:
        return None
    if given.tzinfo is None or not queued - LONG_AGO <= given <= queued + LATEST:
        raise BadInput(
            "due",
            place=str(given),
            expected="expected a time with its zone, no more than a month ago and within ten years",
            remedy="correct the date",
        )
    return given.astimezone(EARLIEST.tzinfo).replace(microsecond=0)


def _queued_by(store: Store, act_id: int) -> QueueLine:
    for entry in store.every(QueueEntry, act_id=act_id):
        return queue_entry(store, entry.id)
    raise taken_back("queue")


def queue_lines(store: Reads, *, complete: bool = False) -> list[QueueLine]:
    """The queue, what is due first first, then as it was queued; entries that are done only where asked for."""
    toolpaths = {toolpath.id: toolpath for toolpath in store.toolpaths()}
    machines = {machine.id: machine for machine in store.machines()}
    placements = {placement.queue_entry_id: placement for placement in store.every(Placement)}
    counts = store.queue_counts()
    lines = [
        _line(entry, toolpaths[entry.toolpath_id], counts.get(entry.id, (0, 0)), placements.get(entry.id), machines)
        for entry in store.every(QueueEntry)
        if entry.toolpath_id in toolpaths
    ]
    return sorted((line for line in lines if complete or not line.complete), key=_due_first)


def _due_first(line: QueueLine) -> tuple[bool, datetime, int]:
    due_utc = line.entry.due_utc
    return due_utc is None, due_utc or line.entry.queued_utc, line.entry.id


def _line(
    entry: QueueEntry, toolpath: Toolpath, counts: tuple[int, int], placement: Placement | None,
    machines: dict[int, Machine],
) -> QueueLine:  # fmt: skip
    placed = machines.get(placement.machine_id) if placement else None
    return QueueLine(entry, toolpath, *counts, placed, placement if placed else None)


def queue_entry(store: Reads, number: int) -> QueueLine:
    """One entry of the queue; refuses a number that is not on it."""
    for line in queue_lines(store, complete=True):
        if line.entry.id == number:
            return line
    raise NotFound(
        "queue", place=f"number {number}", expected="no such print waits, or it was taken off",
        remedy="look at the queue again",
    )  # fmt: skip


def take_off(store: Store, number: int, *, reason: str = "", person: str | None = None) -> str:
    """Take an entry off the queue; what was printed for it stays. Returns what was done, in words."""
    line = queue_entry(store, number)
    why = text("reason", reason) or "no longer wanted"
    with store.act("void", person_id=person_id(store, person), reason=why) as act:
        _void_entry(act, number)
    return f"{line.toolpath.name} is off the queue."


def _void_entry(act: ActInHand, number: int) -> None:
    entry = act.one(QueueEntry, number)
    if entry is None:
        raise Conflict("queue", place=f"number {number}", expected="it was taken off meanwhile", remedy="look again")
    for placement in act.every(Placement, queue_entry_id=number):
        act.void(placement)
    act.void(entry)


def place(
    store: Store, number: int, machine: str | None, *, note: str = "", person: str | None = None
) -> QueueLine:  # fmt: skip
    """Put a queued print on a machine, whatever is proposed; None leaves it to the proposal again."""
    line, whose = queue_entry(store, number), None if machine is None else machine_named(store, machine)
    if (line.placed and line.placed.id) == (whose and whose.id):
        return line
    why = text("note", note)
    with store.act("place print", person_id=person_id(store, person), reason=why) as act:
        queue_entry(act, number)
        for placement in act.every(Placement, queue_entry_id=number):
            act.void(placement)
        if whose is not None:
            placement = Placement(number, whose.id, moment(None), why)
            placement = replace(placement, id=act.add(placement), act_id=act.id)
    return queue_entry(store, number)
