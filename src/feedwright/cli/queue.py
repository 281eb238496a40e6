"""``feedwright queue``: what is to be printed, which machine should take it and why, and a word that overrules."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, Note, Who, farm, now, out, show_time, table
from feedwright.errors import BadInput

if TYPE_CHECKING:
    from datetime import datetime

    from feedwright.farm.dispatch.dispatch import Dispatch, Proposal
    from feedwright.records.store import Store

queue = typer.Typer(help="What is to be printed, and on which machine.", no_args_is_help=True, rich_markup_mode=None)
Entry = Annotated[int, typer.Argument(help="Number of the queue entry.", show_default=False)]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(queue, name="queue")


@queue.command("add")
def add(
    toolpath: Annotated[str, typer.Argument(help="Name or hash of a known toolpath.", show_default=False)],
    *,
    material: Annotated[str, typer.Option("--material", help="Material it is to be printed in.")],
    copies: Annotated[int, typer.Option("--copies", help="How many.")] = 1,
    due: Annotated[
        str | None, typer.Option("--due", help="Until when, such as 2026-03-01T14:00, in the farm's zone.")
    ] = None,
    key: Annotated[str, typer.Option("--key", help="Any text: a command sent twice under it counts once.")] = "",
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Queue a known toolpath."""
    from feedwright.farm.prints.queue import add_to_queue

    with farm(folder) as store:
        line = add_to_queue(
            store, toolpath, material=material, copies=copies, due_utc=_due(store, due), note=note, entry_key=key,
            person=who,
        )  # fmt: skip
    out(line, [f"Number {line.entry.id} of the queue: {line.toolpath.name}, {line.left} to print."], as_json=as_json)


def _due(store: "Store", given: str | None) -> "datetime | None":
    """A time to come as typed, in the farm's zone where it names none."""
    from datetime import datetime

    from feedwright.farm.ground.settings import zone

    if given is None:
        return None
    try:
        at = datetime.fromisoformat(given)
    except ValueError as error:
        raise BadInput(
            "--due", place=f"“{given}”", expected="expected a date and time", remedy="write it like 2026-03-01T14:00"
        ) from error
    return at if at.tzinfo else at.replace(tzinfo=zone(store))


@queue.command("list")
def list_(
    complete: Annotated[bool, typer.Option("--complete", help="Also what is done.")] = False,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """The queue, what is due first first."""
    from feedwright.farm.prints.queue import queue_lines

    with farm(folder) as store:
        lines = queue_lines(store, complete=complete)
        rows = [
            (
                str(line.entry.id), line.toolpath.name, line.entry.material, str(line.left), str(line.under_way),
                str(line.done), show_time(store, line.entry.due_utc) if line.entry.due_utc else "",
                line.placed.name if line.placed else "", line.entry.note,
            )
            for line in lines
        ]  # fmt: skip
    headings = ("number", "file", "material", "waiting", "under way", "done", "due", "put on", "note")
    out(lines, table(headings, rows) if rows else ["Nothing waits."], as_json=as_json)


@queue.command("take-off")
def take_off(
    number: Entry,
    reason: Annotated[str, typer.Option("--reason", help="Why.")] = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Take an entry off the queue."""
    from feedwright.farm.prints.queue import take_off as take

    with farm(folder) as store:
        done = take(store, number, reason=reason, person=who)
    out({"done": done}, [done], as_json=as_json)


@queue.command("place")
def place(
    number: Entry,
    machine: Annotated[str | None, typer.Argument(help="The machine; leave out to follow the proposal again.")] = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Put a queued print on a machine, whatever is proposed."""
    from feedwright.farm.prints.queue import place as put

    with farm(folder) as store:
        line = put(store, number, machine, note=note, person=who)
    where = f"is put on {line.placed.name}" if line.placed else "goes where it is proposed"
    out(line, [f"{line.toolpath.name} {where}."], as_json=as_json)


@queue.command("propose")
def propose(
    why: Annotated[
        bool, typer.Option("--why", help="Also the reasons, and what servicing first would change.")
    ] = False,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Which machine should take which print."""
    from feedwright.farm.dispatch.dispatch import dispatch

    with farm(folder) as store:
        made = dispatch(store, now())
        out(made, _proposed(store, made, why), as_json=as_json)


def _proposed(store: "Store", made: "Dispatch", why: bool) -> Iterator[str]:
    if not made.proposals and not made.left_over:
        yield "Nothing waits for a machine."
        return
    rows = [_row(store, one) for one in made.proposals]
    yield from table(("machine", "file", "copies", "from", "until", "finishes", "late", "next best"), rows)
    for left in made.left_over:
        yield f"No machine can take {left.line.toolpath.name}: " + " ".join(left.why)
    if made.unplanned:
        yield f"{made.unplanned} more copies wait beyond those that are planned at once."
    yield (
        f"Expected cost {made.cost}, {made.spoiled_h:.2f} h spoiled; no plan costs less than "
        f"{1 - made.gap_frac:.0%} of that."
    )
    for one in made.proposals:
        warned = one.spool.verdict in ("short", "doubtful")
        if why or warned or one.troubles:
            yield f"{one.machine.name}, {one.line.toolpath.name}:"
            said = one.why if why else ()
            more = (one.other.words,) if why and one.other else ()
            gains = tuple(gain.words for gain in one.serviced) if why else ()
            for words in (*said, *more, *gains, *(trouble.words for trouble in one.troubles), one.spool.words):
                yield f"  {words}"


def _chance(one: "Proposal") -> str:
    return f"{one.finish.mid:.1%} ({one.finish.low:.1%} to {one.finish.high:.1%})"


def _row(store: "Store", one: "Proposal") -> tuple[str, ...]:
    begins = "now" if one.now else show_time(store, one.begins_utc)
    late = f"{one.late_h:.1f} h" if one.late_h else ""
    other = one.other.machine if one.other else ""
    ends = show_time(store, one.ends_utc)
    return one.machine.name, one.line.toolpath.name, str(one.copies), begins, ends, _chance(one), late, other
