"""``feedwright machine``: describing machines and looking at them."""

import json
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Annotated, Any

import typer

from feedwright.cli.bench import share_words
from feedwright.cli.say import AsJson, At, FarmFolder, Note, Position, Who, farm, now, out, show_time, table, when
from feedwright.errors import BadInput

if TYPE_CHECKING:
    from feedwright.farm.ground.values import MachineSheet
    from feedwright.records.store import Store
    from feedwright.records.values import Machine

machine = typer.Typer(help="The machines and the parts fitted to them.", no_args_is_help=True, rich_markup_mode=None)
Name = Annotated[str, typer.Argument(help="The machine's name.", show_default=False)]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(machine, name="machine")


def _pairs(given: list[str], what: str, example: str) -> dict[str, Any]:
    """NAME=VALUE words; a value is read as JSON where it is that, else taken as text, as a note always is."""
    pairs: dict[str, Any] = {}
    for word in given:
        name, sign, value = word.partition("=")
        if not sign or not name:
            raise BadInput(what, place=f"“{word}”", expected="expected NAME=VALUE", remedy=f"write it like {example}")
        try:
            pairs[name.strip()] = value if name.strip() == "note" else json.loads(value)
        except ValueError:  # no JSON, or a whole number of thousands of digits
            pairs[name.strip()] = value.strip()
    return pairs


@machine.command("add")
def add(
    name: Name,
    build: Annotated[str, typer.Argument(help="How it is built; `feedwright catalogue list` shows the builds.")],
    history: Annotated[str, typer.Option("--history", help="Its parts are: new, used or unknown.")] = "unknown",
    since: Annotated[
        str | None, typer.Option("--since", help="Needed with --history used: in service since, such as 2025-06-01.")
    ] = None,
    product: Annotated[
        list[str], typer.Option("--product", help="PART=PRODUCT that differs, such as nozzle=brass; may repeat.")
    ] = [],  # noqa: B006
    limit: Annotated[
        list[str],
        typer.Option("--limit", help="LIMIT=VALUE that differs, such as corner_deviation_mm=0.05; may repeat."),
    ] = [],  # noqa: B006
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Describe a machine and the parts fitted to it.

    Its build says which parts it comes with. Makes the farm where there is none yet.
    """
    from feedwright.farm.ground.house import farm_folder, has_farm, open_farm
    from feedwright.farm.machines.machines import add_machine

    if history not in ("new", "used", "unknown"):
        raise BadInput("--history", place=history, expected="expected new, used or unknown", remedy="choose one")
    if (since is None) == (history == "used"):
        raise BadInput(
            "--since",
            expected="used parts need it, and only they",
            remedy="give it with --history used, such as --since 2025-06-01; or leave both out",
        )

    def describe(store: "Store") -> "tuple[Machine, int]":
        made = add_machine(
            store,
            name,
            build,
            history=history,  # type: ignore[arg-type]
            in_service_since=when(store, since, "--since"),
            product_changes={
                key: str(value) for key, value in _pairs(product, "--product", "--product nozzle=brass").items()
            },
            motion_changes=_pairs(limit, "--limit", "--limit corner_deviation_mm=0.05"),
            at_utc=when(store, at),
            note=note,
            person=who,
        )
        return made, len(store.fittings(made.id, open_only=True))

    where = farm_folder(folder)
    if not has_farm(where):  # tried in a farm for once only, so that a refusal leaves no empty farm behind
        with TemporaryDirectory() as scratch, open_farm(Path(scratch), create=True) as store:
            describe(store)
    with open_farm(where, create=True) as store:
        made, count = describe(store)
    said = f"{made.name} is on record as {made.build.replace('_', ' ')}, with {count} fitted parts."
    out(made, [said, f"Next: feedwright run add {made.name} FILE --material pla"], as_json=as_json)


@machine.command("list")
def list_(
    outlook: Annotated[bool, typer.Option("--outlook", help="With the most pressing part of each.")] = False,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Every machine; with its most pressing part where asked."""
    if not outlook:
        _list_plainly(folder, as_json=as_json)
        return
    from feedwright.farm.desk.sheets import machine_lines

    with farm(folder) as store:
        lines = machine_lines(store, now())
        rows = [
            (
                line.machine.name,
                line.machine.build.replace("_", " "),
                f"{line.printing_h_per_day:.1f} h/day",
                line.worst.advice.status if line.worst else "in order",
                f"{line.worst.title}, used {share_words(line.worst)}" if line.worst else "",
            )
            for line in lines
        ]
    out(lines, table(("machine", "build", "prints", "status", "most pressing"), rows), as_json=as_json)


def _list_plainly(folder: FarmFolder, *, as_json: bool) -> None:
    """Without working out what wears: that takes its time."""
    from feedwright.farm.machines.machines import machines_in_use

    with farm(folder) as store:
        held = machines_in_use(store)
        rows = [
            (
                one.machine.name, one.machine.build.replace("_", " "), f"{one.runs:,}",
                show_time(store, one.last_run_utc) if one.last_run_utc else "",
            )
            for one in held
        ]  # fmt: skip
    out(held, table(("machine", "build", "runs", "latest run"), rows), as_json=as_json)


@machine.command("show")
def show(name: Name, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """One machine, its parts with their outlook and its runs."""
    from feedwright.farm.desk.sheets import machine_sheet

    with farm(folder) as store:
        sheet = machine_sheet(store, name, now(), runs_shown=10)
        lines = list(_sheet_lines(store, sheet)) if not as_json else []
    out(sheet, lines, as_json=as_json)


def _sheet_lines(store: "Store", sheet: "MachineSheet") -> Iterator[str]:
    from feedwright.units import show_rounded

    it = sheet.machine
    box = " × ".join(f"{length:g}" for length in it.box_mm)
    hot_end = it.hot_end.replace("_", " ")
    yield f"{it.name}: {it.build.replace('_', ' ')}, box {box} mm, {it.drive} drive, {hot_end} hot end"
    printed = f"{sheet.printing_h:,.0f} h of printing, {sheet.filament_kg:.2f} kg of filament"
    left = "" if sheet.trims_left is None else f"; the tube can be trimmed {sheet.trims_left} more times"
    yield f"{sheet.runs_count} runs on record, {printed}{left}"
    rows = [
        (
            part.title,
            part.fitting.product,
            part.advice.status,
            share_words(part),
            f"{show_rounded(part.outlook.exposure.mid)} {part.outlook.unit}",
            f"{part.outlook.failure_frac_month:.0%}",
        )
        for part in sheet.parts
    ]
    yield from table(("part", "product", "status", "life used", "exposure", "fails in a month"), rows)
    if sheet.runs:
        yield ""
        yield "Latest runs"
        yield from table(
            ("run", "began", "file", "material", "outcome", "hours"),
            [
                (
                    str(line.run.id),
                    show_time(store, line.run.started_utc),
                    line.toolpath.name if line.toolpath else "without a file",
                    line.run.material,
                    line.run.outcome,
                    f"{line.charge.duration_s / 3600:.1f}",
                )
                for line in sheet.runs
            ],
        )


@machine.command("change")
def change(
    name: Name,
    field: Annotated[
        list[str], typer.Argument(help="FIELD=VALUE: a motion limit, box_mm, tube_needed_mm, enclosure_c or note.")
    ],
    reason: Annotated[str, typer.Option("--reason", help="Why it is described anew.")],
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Describe a machine anew from now on.

    Earlier runs keep what they were charged.
    """
    from feedwright.farm.machines.machines import change_machine

    with farm(folder) as store:
        changed = change_machine(store, name, _pairs(field, "field", "enclosure_c=45"), reason=reason, person=who)
    out(changed, [f"{changed.name} is described anew."], as_json=as_json)


@machine.command("history")
def history(
    name: Name,
    part: Annotated[str, typer.Argument(help="The part kind, such as tube_end.")],
    position: Position = 1,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """How the exposure of a part grew, fitting by fitting."""
    from feedwright.farm.machines.history import exposure_over_time

    with farm(folder) as store:
        series = exposure_over_time(store, name, part, position)
        rows = [
            (show_time(store, points[0].at_utc), str(len(points) - 1), f"{points[-1].exposure:,.3f}")
            for points in series
        ]
    out(series, table(("fitted", "charges", "exposure"), rows), as_json=as_json)
