"""``feedwright visit`` and ``feedwright release``: the service done on one machine, from what is due to its release."""

import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import (
    AsJson,
    At,
    FarmFolder,
    Note,
    PhotoFile,
    Position,
    Who,
    farm,
    now,
    out,
    photo_of,
    show_time,
    table,
    when,
)
from feedwright.units import show_duration

if TYPE_CHECKING:
    from feedwright.farm.service.releases import HeldMachine
    from feedwright.farm.service.service_visits import VisitSheet
    from feedwright.service.merging import Merged

visit = typer.Typer(help="The service done on one machine in one go.", no_args_is_help=True, rich_markup_mode=None)
WIDTH = 78
Machine = Annotated[str, typer.Argument(help="The machine's name.", show_default=False)]
Jobs = Annotated[list[str] | None, typer.Argument(help="Procedures, such as trim_tube; left out: what is due.")]
Number = Annotated[int, typer.Argument(help="Number of the visit.", show_default=False)]
Material = Annotated[str, typer.Option("--material", help="Material in the path: it sets the temperatures.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(visit, name="visit")
    app.command("release")(release)


@visit.command("plan")
def plan(
    machine: Machine, jobs: Jobs = None, material: Material = "pla", as_json: AsJson = False, folder: FarmFolder = None
) -> None:
    """What a visit would take; begins nothing.

    Its order, heat-ups, minutes, tools and parts, against doing the jobs one by one.
    """
    from feedwright.catalogue.load import load_catalogue
    from feedwright.farm.ground.naming import pick_entry
    from feedwright.farm.machines.machines import machine_named
    from feedwright.farm.service.visit_plan import chosen, due_procedures, merged_for, screens

    with farm(folder) as store:
        whose = machine_named(store, machine)
        stuff = pick_entry(load_catalogue().materials, material, "material")
        held = chosen(store, whose, jobs or due_procedures(store, whose, now()))
        merged, heat = merged_for(whose, held, stuff.id)
    out(merged, _plan_lines(merged, [(one.number, one.do) for one in screens(merged, heat)]), as_json=as_json)


def _plan_lines(merged: "Merged", steps: list[tuple[int, str]]) -> Iterator[str]:
    yield ", ".join(one.title for one in merged.procedures)
    yield (
        f"  {show_duration(merged.minutes * 60)}, heat-ups: {merged.heat_ups}; one by one "
        f"{show_duration(merged.apart_minutes * 60)}, heat-ups: {merged.apart_heat_ups}"
    )
    yield from _wrapped(f"  tools: {', '.join(merged.tools)}")
    yield from _wrapped(f"  parts: {', '.join(merged.parts) or 'none'}")
    for number, do in steps:
        yield from _wrapped(f"{number:>3}. {do}", "     ")


def _wrapped(text: str, indent: str = "     ") -> Iterator[str]:
    yield from textwrap.wrap(text, WIDTH, subsequent_indent=indent)


@visit.command("begin")
def begin(
    machine: Machine, jobs: Jobs = None, material: Material = "pla", at: At = None, note: Note = "", who: Who = None,
    as_json: AsJson = False, folder: FarmFolder = None,
) -> None:  # fmt: skip
    """Begin a visit; the machine is held from then on."""
    from feedwright.farm.machines.machines import machine_named
    from feedwright.farm.service.service_visits import begin_visit
    from feedwright.farm.service.visit_plan import due_procedures

    with farm(folder) as store:
        ids = jobs or due_procedures(store, machine_named(store, machine), now())
        made = begin_visit(
            store, machine, ids, material=material, note=note, begun_utc=when(store, at), person=who
        )  # fmt: skip
    out(
        made,
        [f"Visit {made.id} is begun: `feedwright visit show {made.id}`, or its page on the phone."],
        as_json=as_json,
    )


@visit.command("show")
def show(number: Number, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """One visit step by step, with what was done."""
    from feedwright.farm.service.service_visits import visit_sheet

    with farm(folder) as store:
        sheet = visit_sheet(store, number)
        begun = show_time(store, sheet.visit.begun_utc)
    out(sheet, _sheet_lines(sheet, begun), as_json=as_json)


def _sheet_lines(sheet: "VisitSheet", begun: str) -> Iterator[str]:
    from feedwright.catalogue.procedures import load_procedures

    standing = sheet.ending.outcome.replace("_", " ") if sheet.ending else "paused" if sheet.paused else "under way"
    yield f"Visit {sheet.visit.id} to {sheet.machine.name}, begun {begun}, {standing}"
    closed = sheet.closed
    for screen in sheet.screens:
        mark = {"done": "x", "skipped": "-"}.get(closed[screen.step.id].kind, " ") if screen.step.id in closed else " "
        yield from _wrapped(f"[{mark}] {screen.number:>2}. {screen.step.id}: {screen.do}", "         ")
        if mark == " ":
            for key in screen.step.cautions:
                yield from _wrapped(f"      !! {load_procedures().cautions[key]}", "         ")


@visit.command("list")
def list_(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Machines in service, and those held until their release."""
    from feedwright.farm.service.releases import held_machines

    with farm(folder) as store:
        held = held_machines(store)
        rows = [_held_row(one, show_time(store, one.visit.begun_utc)) for one in held]
    out(held, table(("visit", "machine", "begun", "stands", "to prove"), rows), as_json=as_json)


def _held_row(one: "HeldMachine", begun: str) -> tuple[str, ...]:
    missing = ", ".join(state.proof.id for state in one.proofs if not state.good)
    stands = "under way" if one.under_way else "to be released"
    return str(one.visit.id), one.machine.name, begun, stands, missing or "nothing"


@visit.command("enter")
def enter(
    number: Number,
    step: Annotated[str, typer.Argument(help="Id of the step, as `visit show` tells it.", show_default=False)],
    *,
    cautions_read: Annotated[bool, typer.Option("--cautions-read", help="Its cautions were read.")] = False,
    skip: Annotated[bool, typer.Option("--skip", help="It is left out.")] = False,
    grade: Annotated[str, typer.Option("--grade", help="What was seen, where it asks for a look.")] = "",
    product: Annotated[str, typer.Option("--product", help="What was fitted, where it differs.")] = "",
    trim_mm: Annotated[float | None, typer.Option("--trim-mm", help="How much was cut off the tube, in mm.")] = None,
    length_mm: Annotated[float | None, typer.Option("--length-mm", help="Length of the new tube in mm.")] = None,
    value: Annotated[float | None, typer.Option("--value", help="The reading, where it asks for one.")] = None,
    position: Position = 1,
    photo: PhotoFile = None,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Enter that a step was done; entered twice it counts once."""
    from feedwright.farm.service.service_visits import enter as enter_step

    held = {"grade": grade, "product": product, "trimmed_mm": trim_mm, "length_mm": length_mm, "value": value}
    if position > 1:
        held["position"] = position
    with farm(folder) as store:
        made = enter_step(
            store, number, step, entry_key=f"command {step}", kind="skipped" if skip else "done",
            value={name: given for name, given in held.items() if given not in ("", None)},
            cautions_read=cautions_read, note=note, photo=photo_of(photo), entered_utc=when(store, at), person=who,
        )  # fmt: skip
    out(made, [f"{step}: {made.kind}."], as_json=as_json)


@visit.command("end")
def end(
    number: Number,
    give_up: Annotated[bool, typer.Option("--give-up", help="Steps are left; keep what was done.")] = False,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """End a visit: what it renewed, saw and read is written together."""
    from feedwright.farm.service.service_visits import end_visit

    with farm(folder) as store:
        receipt = end_visit(
            store, number, outcome="given_up" if give_up else "done", note=note, ended_utc=when(store, at), person=who
        )
    said = f"Visit {number} is ended: renewed {', '.join(receipt.renewed).lower() or 'nothing'}; " + (
        f"{receipt.found} findings, {receipt.measured} readings."
    )
    out(receipt, [said, *receipt.also], as_json=as_json)


def release(
    number: Number,
    override: Annotated[str, typer.Option("--override", help="Why it is released without its proofs.")] = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Release the machine of a visit, once it is proved good."""
    from feedwright.farm.service.releases import release as release_machine

    with farm(folder) as store:
        made = release_machine(store, number, override=override, released_utc=when(store, at), person=who)
    out(made, [f"Release {made.id} is on record: the machine may take work again."], as_json=as_json)
