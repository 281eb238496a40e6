"""``feedwright event``: what happened to a machine outside its plain printing."""

from typing import Annotated

import typer

from feedwright.cli.say import AsJson, At, FarmFolder, Limit, Note, OnlyMachine, Who, farm, out, show_time, table, when

event = typer.Typer(help="Power cuts, stalled fans and the like.", no_args_is_help=True, rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(event, name="event")


@event.command("add")
def add(
    machine: Annotated[str, typer.Argument(help="The machine's name.", show_default=False)],
    kind: Annotated[
        str, typer.Argument(help="power_cut, hot_stop, fan_stall, jam, slip, collision, stored, returned or note.")
    ],
    nozzle_c: Annotated[
        float | None, typer.Option("--nozzle-c", help="Set temperature of the nozzle in °C when it happened.")
    ] = None,
    minutes: Annotated[float | None, typer.Option("--minutes", help="How many minutes it lasted.")] = None,
    material: Annotated[str, typer.Option("--material", help="Material in the path.")] = "",
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Record what happened to a machine.

    Minutes spent hot wear the parts and are charged.
    """
    from feedwright.farm.parts.events import add_event

    with farm(folder) as store:
        made = add_event(
            store, machine, kind, at_utc=when(store, at), nozzle_c=nozzle_c, minutes=minutes, material=material,  # type: ignore[arg-type]
            note=note, person=who,
        )  # fmt: skip
    out(made, [f"Event {made.id} is on record."], as_json=as_json)


@event.command("list")
def list_(
    machine: OnlyMachine = None,
    limit: Limit = 30,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Events, latest first."""
    from feedwright.farm.machines.machines import machine_named

    with farm(folder) as store:
        names = {held.id: held.name for held in store.machines()}
        wanted = machine_named(store, machine).id if machine else None
        happened = sorted(store.events(wanted), key=lambda one: one.at_utc, reverse=True)[:limit]
        rows = [
            (str(one.id), show_time(store, one.at_utc), names[one.machine_id], one.kind, one.note) for one in happened
        ]
    out(happened, table(("event", "when", "machine", "what", "note"), rows), as_json=as_json)
