"""One tap takes back the tap before it, for a minute: a void like any other, of all that its act had recorded."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import Conflict, NotFound
from feedwright.farm.ground.people import person_id
from feedwright.farm.prints.prints import let_go
from feedwright.farm.prints.voids import VOIDERS
from feedwright.records.exchange_values import ArrivalAnswer
from feedwright.records.photo_values import Photo
from feedwright.records.prints_values import Print, PrintEnding
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.stores_values import SpoolEntry
from feedwright.records.values import Act, Finding, Fitting, Removal, Run, Toolpath

OF_PARTS = ("finding", "renew")
KINDS = ("start print", "end print", "prints", "run", *OF_PARTS)
"""Acts that can be taken back so."""
UNDO_S = 60
ON_THE_WAY_S = 5
"""A tap in the last second may take so long to arrive."""
WHY = "taken back within a minute: "
"""What such a void begins its reason with; then comes what was taken back."""
MOST_NAMED = 4


@dataclass(frozen=True, slots=True)
class TakenBack:
    """What was taken back, and the act that did it."""

    act_id: int
    words: str


def undo_until(at_utc: datetime) -> datetime:
    """Until when an act of that moment can be taken back."""
    return at_utc + timedelta(seconds=UNDO_S)


def undo(store: Store, act_id: int, *, person: str | None = None, now_utc: datetime | None = None) -> TakenBack:
    """Take back what an act recorded of prints or of a part, within a minute of it; a print that it ended goes on.

    Refuses what is older (void it with a reason), what others rest on, and what was taken back already.
    """
    held = store.one_act(act_id)
    if held is None or held.kind not in KINDS:
        raise NotFound("act", place=f"number {act_id}", expected="no such tap", remedy="look at the page again")
    words = what_it_recorded(store, act_id)
    _refuse_late(held, words, now_utc or datetime.now(UTC))
    with store.act("void", person_id=person_id(store, person), reason=WHY + words) as act:
        what_it_recorded(act, act_id)  # once more: another tap may have taken it back meanwhile
        if held.kind in OF_PARTS:
            _part_as_before(act, act_id)
        else:
            _prints_as_before(act, act_id)
    return TakenBack(act.id, f"{words} taken back.")


def taken_back(store: Store, act_id: int) -> str:
    """What an act took back, for one line of a page; empty where it took nothing back so."""
    held = store.one_act(act_id)
    return f"Taken back: {held.reason.removeprefix(WHY)}." if held and held.reason.startswith(WHY) else ""


def what_it_recorded(records: Reads, act_id: int) -> str:
    """What an act recorded, by machine with its part or file; refuses where it is all void by now."""
    named = [*_prints_named(records, act_id), *_parts_named(records, act_id)]
    if not named:
        raise Conflict("act", place=f"number {act_id}", expected="it was taken back already", remedy="go on")
    more = len(named) - MOST_NAMED
    return "; ".join(named[:MOST_NAMED]) + (f"; {more} more" if more > 0 else "")


def _prints_named(records: Reads, act_id: int) -> Iterator[str]:
    for one in records.every(Print, act_id=act_id):
        yield f"the beginning of print {one.id}{_file(records, one.toolpath_id)} on {_machine(records, one.machine_id)}"
    for run in records.every(Run, act_id=act_id):
        yield f"run {run.id}{_file(records, run.toolpath_id)} on {_machine(records, run.machine_id)}"


def _parts_named(records: Reads, act_id: int) -> Iterator[str]:
    """What was found of a part that was renewed is said with its renewal."""
    removals = records.every(Removal, act_id=act_id)
    found = () if removals else records.every(Finding, act_id=act_id)
    what = "the renewal of" if removals else "the look at"
    for one in (*removals, *found):
        fitting = records.one(Fitting, one.fitting_id)
        if fitting is not None:
            number = f" {fitting.position}" if fitting.position > 1 else ""
            title = load_catalogue().parts[fitting.part_kind].title.lower()
            yield f"{what} the {title}{number} of {_machine(records, fitting.machine_id)}"


def _machine(records: Reads, number: int) -> str:
    machine = records.machine(number)
    return "a machine that is void" if machine is None else machine.name


def _file(records: Reads, number: int | None) -> str:
    toolpath = None if number is None else records.one(Toolpath, number)
    return "" if toolpath is None else f" of {toolpath.name}"


def _prints_as_before(act: ActInHand, act_id: int) -> None:
    for kind in (Print, SpoolEntry, ArrivalAnswer):  # a new file that was begun is offered again
        for one in act.every(kind, act_id=act_id):
            act.void(one)
    for run in act.every(Run, act_id=act_id):
        _reopen(act, run)


def _part_as_before(act: ActInHand, act_id: int) -> None:
    """Void a look with the photo of it, or a renewal with all that it brought; its tube's end comes back with it."""
    for photo in act.every(Photo, act_id=act_id):
        VOIDERS["photo"](act, photo.id)
    for removal in act.every(Removal, act_id=act_id)[:1]:
        VOIDERS["renewal"](act, removal.id)
    for finding in act.every(Finding, act_id=act_id):
        VOIDERS["finding"](act, finding.id)


def _refuse_late(held: Act, words: str, now_utc: datetime) -> None:
    if (now_utc - held.at_utc).total_seconds() > UNDO_S + ON_THE_WAY_S:
        raise Conflict(
            "act", place=f"number {held.id}", expected="it is older than a minute",
            remedy=f"void it by its number, with a reason: {words}",
        )  # fmt: skip


def _reopen(act: ActInHand, run: Run) -> None:
    """Void a run; the print that it ended goes on, unless the machine has begun something else since."""
    ended = act.every(PrintEnding, run_id=run.id)
    begun = act.every(Print, machine_id=run.machine_id) if ended else ()
    if any(one.id > ending.print_id for ending in ended for one in begun):
        raise Conflict(
            f"run {run.id}", expected="the machine has begun another print since", remedy="take that back first"
        )
    let_go(act, run.id, with_print=False)
    VOIDERS["run"](act, run.id)
