"""``feedwright print``: a print begun, finished, stopped or spoiled, and taken back within a minute."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, At, FarmFolder, Note, Who, farm, now, out, show_time, table, when

if TYPE_CHECKING:
    from feedwright.farm.prints.prints import TapReceipt
    from feedwright.records.store import Store

prints = typer.Typer(help="Prints as they happen.", no_args_is_help=True, rich_markup_mode=None)
Machine = Annotated[str, typer.Argument(help="The machine's name.", show_default=False)]
Fraction = Annotated[
    float | None,
    typer.Option("--fraction", help="Share of it done, 0 to 1, all copies together; by the clock where left out."),
]
Key = Annotated[str, typer.Option("--key", help="Any text: a command sent twice under it counts once.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(prints, name="print")


@prints.command("start")
def start(
    machine: Machine,
    toolpath: Annotated[
        str | None, typer.Argument(help="The file, or the name of a known toolpath; may be left out.")
    ] = None,
    *,
    material: Annotated[str, typer.Option("--material", help="Material; needed unless --queued is given.")] = "",
    queued: Annotated[int | None, typer.Option("--queued", help="Number of the queue entry it is for.")] = None,
    hours: Annotated[
        float | None, typer.Option("--hours", help="Without a file: how many hours one copy should take, if known.")
    ] = None,
    copies: Annotated[int, typer.Option("--copies", help="How often it is printed, one after the other.")] = 1,
    nozzle_c: Annotated[
        float | None, typer.Option("--nozzle-c", help="Set temperature in °C, where it is not the file's.")
    ] = None,
    spool: Annotated[
        int | None, typer.Option("--spool", help="Hang this spool for it, by number; else the one that hangs there.")
    ] = None,
    key: Key = "",
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """A print was begun."""
    from feedwright.farm.prints.prints import start as begin

    with farm(folder) as store:
        told = begin(
            store, machine, toolpath=_file_or_name(toolpath), material=material, queue_entry=queued, hours=hours,
            copies=copies, nozzle_c=nozzle_c, spool=spool, started_utc=when(store, at), note=note, entry_key=key,
            person=who,
        )  # fmt: skip
        out(told, _said(store, told), as_json=as_json)


def _file_or_name(word: str | None) -> Path | str | None:
    if word is None:
        return None
    return Path(word) if Path(word).is_file() or "/" in word or "\\" in word else word


@prints.command("finish")
def finish(
    machine: Machine, key: Key = "", at: At = None, note: Note = "", who: Who = None, as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:  # fmt: skip
    """The machine's print is finished; it becomes a complete run."""
    from feedwright.farm.prints.prints import finish as end

    with farm(folder) as store:
        told = end(store, machine, ended_utc=when(store, at), note=note, entry_key=key, person=who)
        out(told, _said(store, told), as_json=as_json)


@prints.command("stop")
def stop(
    machine: Machine, fraction: Fraction = None, key: Key = "", at: At = None, note: Note = "", who: Who = None,
    as_json: AsJson = False, folder: FarmFolder = None,
) -> None:  # fmt: skip
    """Somebody stopped the machine's print."""
    from feedwright.farm.prints.prints import stop as end

    with farm(folder) as store:
        told = end(store, machine, fraction=fraction, ended_utc=when(store, at), note=note, entry_key=key, person=who)
        out(told, _said(store, told), as_json=as_json)


@prints.command("spoil")
def spoil(
    machine: Machine,
    fraction: Fraction = None,
    looks: Annotated[
        list[str] | None, typer.Option("--look", help="How it looked, such as strings; may be given several times.")
    ] = None,
    key: Key = "",
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """The machine's print went wrong."""
    from feedwright.farm.prints.prints import spoil as end

    with farm(folder) as store:
        told = end(
            store, machine, fraction=fraction, looks=looks or [], ended_utc=when(store, at), note=note, entry_key=key,
            person=who,
        )  # fmt: skip
        lines = [*_said(store, told), *_find_fault(told)]
        out(told, lines, as_json=as_json)


def _find_fault(told: "TapReceipt") -> Iterator[str]:
    """The command that opens a case with what was seen."""
    seen = " ".join(f"--saw {look}" for look in told.looks)
    words = f"feedwright case open --machine {told.machine.name!r} --material {told.held.material} {seen}".rstrip()
    yield f"To find the part at fault: `{words}`"


@prints.command("undo")
def undo(
    act: Annotated[int, typer.Argument(help="Number of the act, as the command before it said.", show_default=False)],
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Take back the tap of a moment ago, within a minute."""
    from feedwright.farm.prints.undo import undo as take_back

    with farm(folder) as store:
        done = take_back(store, act, person=who).words
    out({"done": done}, [done], as_json=as_json)


@prints.command("under-way")
def under_way(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Prints that are under way, the first to end first."""
    from feedwright.farm.prints.prints import under_way as running

    with farm(folder) as store:
        held = running(store)
        rows = [
            (
                one.machine.name,
                one.toolpath.name if one.toolpath else "without a file",
                one.held.material,
                str(one.held.copies),
                show_time(store, one.held.started_utc),
                show_time(store, one.ends_utc) if one.ends_utc else "nobody knows",
                _far(one.done_frac(now())),
            )
            for one in held
        ]
    headings = ("machine", "file", "material", "copies", "since", "should end", "by the clock")
    out(held, table(headings, rows) if rows else ["Nothing is under way."], as_json=as_json)


def _far(done_frac: float | None) -> str:
    return "" if done_frac is None else f"{done_frac:.0%}"


@prints.command("looks")
def looks(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """What a spoiled print may look like, for --look."""
    from feedwright.farm.prints.prints import looks_to_choose

    seen = looks_to_choose()
    out(seen, table(("look", "what it is"), [(one.id, one.title) for one in seen]), as_json=as_json)


WORDS = {"start": "began", "finish": "is finished", "stop": "was stopped", "spoil": "is spoiled"}


def _said(store: "Store", told: "TapReceipt") -> Iterator[str]:
    from feedwright.farm.prints.prints import ends_utc

    line = f"Print {told.held.id} on {told.machine.name} {WORDS[told.kind]}"
    should_end = ends_utc(told.held)
    if told.run is not None:
        far = f" at {told.run.fraction:.0%} of copy {told.run.copies}" if told.run.fraction < 1 else ""
        yield f"{line}{far}: run {told.run.id} is on record."
    elif should_end is not None:
        yield f"{line}; it should end {show_time(store, should_end)}."
    else:
        yield f"{line}."
    for remark in told.remarks:
        yield f"note: {remark}"
    yield f"Within a minute `feedwright print undo {told.act_id}` takes it back."
