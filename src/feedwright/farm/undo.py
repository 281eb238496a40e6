"""One tap takes back the tap before it, for a minute: a void like any other, of all that its act had recorded."""

from datetime import UTC, datetime, timedelta

from feedwright.errors import Conflict, NotFound
from feedwright.farm.people import person_id
from feedwright.farm.prints import let_go
from feedwright.farm.voids import VOIDERS
from feedwright.records.prints_values import Print, PrintEnding
from feedwright.records.store import ActInHand, Store
from feedwright.records.stores_values import SpoolEntry
from feedwright.records.values import Act, Run

KINDS = ("start print", "end print", "prints", "run")
"""Acts that can be taken back so."""
UNDO_S = 60
ON_THE_WAY_S = 5
"""A tap in the last second may take so long to arrive."""


def undo_until(at_utc: datetime) -> datetime:
    """Until when an act of that moment can be taken back."""
    return at_utc + timedelta(seconds=UNDO_S)


def undo(store: Store, act_id: int, *, person: str | None = None, now_utc: datetime | None = None) -> str:
    """Take back what an act recorded of prints, within a minute of it; a print that it ended is under way again.

    Refuses what is older (void it with a reason), what others rest on, and what was taken back already. Returns what
    was done, in words.
    """
    held = store.one_act(act_id)
    if held is None or held.kind not in KINDS:
        raise NotFound("act", place=f"number {act_id}", expected="no such tap", remedy="look at the prints again")
    _refuse_late(held, now_utc or datetime.now(UTC))
    with store.act("void", person_id=person_id(store, person), reason="taken back within a minute") as act:
        runs = act.every(Run, act_id=act_id)
        begun = act.every(Print, act_id=act_id)
        if not runs and not begun:
            raise Conflict("act", place=f"number {act_id}", expected="it was taken back already", remedy="go on")
        for one in (*begun, *act.every(SpoolEntry, act_id=act_id)):
            act.void(one)
        for run in runs:
            _reopen(act, run)
    return "; ".join((*(f"the beginning of print {one.id}" for one in begun), *(f"run {run.id}" for run in runs))) + (
        " taken back."
    )


def _refuse_late(held: Act, now_utc: datetime) -> None:
    if (now_utc - held.at_utc).total_seconds() > UNDO_S + ON_THE_WAY_S:
        raise Conflict(
            "act", place=f"number {held.id}", expected="it is older than a minute",
            remedy="void the run or the print by its number, with a reason",
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
