"""``feedwright run``: what was printed."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, At, FarmFolder, Limit, Note, OnlyMachine, Who, farm, out, show_time, table, when
from feedwright.errors import BadInput

if TYPE_CHECKING:
    from feedwright.farm.ground.values import RunReceipt

run = typer.Typer(help="What was printed.", no_args_is_help=True, rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(run, name="run")


@run.command("add")
def add(
    machine: Annotated[str, typer.Argument(help="The machine that printed.", show_default=False)],
    toolpath: Annotated[
        str | None, typer.Argument(help="The file, or the name of a known toolpath; leave out and give --hours.")
    ] = None,
    *,
    material: Annotated[str, typer.Option("--material", help="Material printed, such as pla or petg.")],
    hours: Annotated[
        float | None, typer.Option("--hours", help="How many hours one copy took, where there is no file.")
    ] = None,
    outcome: Annotated[str, typer.Option("--outcome", help="complete, stopped or spoiled.")] = "complete",
    fraction: Annotated[
        float | None, typer.Option("--fraction", help="Share of its time done, 0 to 1, where stopped or spoiled.")
    ] = None,
    copies: Annotated[int, typer.Option("--copies", help="How often it was printed, one after the other.")] = 1,
    nozzle_c: Annotated[
        float | None, typer.Option("--nozzle-c", help="Set temperature in °C, where it is not the file's.")
    ] = None,
    filament_g: Annotated[
        float | None, typer.Option("--filament-g", help="Filament used by one copy in g, where there is no file.")
    ] = None,
    spool: Annotated[
        int | None,
        typer.Option("--spool", help="Its spool, else the one that hung there; 0 = none."),
    ] = None,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Record one printing and see what it did to each part."""
    from feedwright.farm.prints.runs import add_run

    if outcome not in ("complete", "stopped", "spoiled"):
        raise BadInput(
            "--outcome", place=outcome, expected="expected complete, stopped or spoiled", remedy="choose one"
        )
    with farm(folder) as store:
        receipt = add_run(
            store,
            machine,
            toolpath=Path(toolpath) if toolpath and _looks_like_a_path(toolpath) else toolpath,
            hours=hours,
            material=material,
            outcome=outcome,  # type: ignore[arg-type]
            fraction=fraction,
            copies=copies,
            started_utc=when(store, at),
            nozzle_c=nozzle_c,
            filament_g=filament_g,
            note=note,
            spool=spool,
            person=who,
        )
    out(receipt, _receipt_lines(receipt), as_json=as_json)


def _looks_like_a_path(word: str) -> bool:
    return Path(word).is_file() or "/" in word or "\\" in word


def _receipt_lines(receipt: "RunReceipt") -> Iterator[str]:
    from feedwright.units import show_duration

    charge = receipt.charge
    yield f"Run {receipt.run.id} on {receipt.machine.name}: {show_duration(charge.duration_s)}, " + (
        f"{charge.filament_net_mm / 1000:.2f} m of filament, {charge.reversals:,.0f} reversals."
    )
    rows = [
        (
            c.part,
            f"{_figure(c.exposure_after - c.exposure_before)} {c.unit}",
            _figure(c.exposure_after),
            f"{c.share_after_frac - c.share_before_frac:.2%}",
        )
        for c in sorted(receipt.changes, key=lambda c: c.share_before_frac - c.share_after_frac)
        if c.exposure_after != c.exposure_before
    ]
    if rows:
        yield from table(("part", "it added", "so far on this machine", "of a usual life"), rows)
    for remark in receipt.remarks:
        yield f"note: {remark}"


def _figure(exposure: float) -> str:
    """Fine enough that one run is seen in it, and never in powers of ten."""
    return f"{exposure:,.1f}" if exposure >= 1000 else f"{exposure:.4g}"


@run.command("list")
def list_(
    machine: OnlyMachine = None,
    limit: Limit = 30,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Runs, latest first."""
    from feedwright.farm.prints.runs import run_lines

    with farm(folder) as store:
        lines = run_lines(store, machine, limit=limit)
        rows = [
            (
                str(line.run.id),
                show_time(store, line.run.started_utc),
                line.machine,
                line.toolpath.name if line.toolpath else "without a file",
                line.run.material,
                line.run.outcome + (f" at {line.run.fraction:.0%}" if line.run.fraction < 1 else ""),
                f"{line.charge.duration_s / 3600:.1f}",
            )
            for line in lines
        ]
    out(lines, table(("run", "began", "machine", "file", "material", "outcome", "hours"), rows), as_json=as_json)
