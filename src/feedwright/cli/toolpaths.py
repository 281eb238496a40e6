"""``feedwright duty`` and ``feedwright toolpath``: reading files and what is known of them."""

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from feedwright.cli.say import AsJson, FarmFolder, farm, out, show_time, table

if TYPE_CHECKING:
    from feedwright.records.store import Store
    from feedwright.toolpath.values import MotionLimits, Reading

toolpath = typer.Typer(help="Toolpath files that the farm knows.", no_args_is_help=True, rich_markup_mode=None)
PROGRESS_FROM_BYTES = 20_000_000


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("duty")(duty)
    app.add_typer(toolpath, name="toolpath")


def duty(
    files: Annotated[list[Path], typer.Argument(help="G-code files, plain or gzip.", show_default=False)],
    machine: Annotated[str | None, typer.Option("--machine", help="Time them as this machine would.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What files ask of a machine: time, filament, heat, flow, reversals, travel. Code 2 if any is refused."""
    from feedwright.errors import BadInput
    from feedwright.farm.house import farm_folder, has_farm, open_farm
    from feedwright.farm.toolpaths import read_toolpaths

    where = farm_folder(folder)
    known = has_farm(where)
    refused: list[dict[str, Any]] = []
    readings: list[Reading] = []
    with open_farm(where) if known or machine else nullcontext() as store:
        limits = _limits(store, machine)
        good = []
        for path in files:
            try:
                _check(path)
                good.append(path)
            except BadInput as error:
                refused.append({"file": str(path), "kind": "unreadable", "complete": False, **error.as_dict()})
        with _progress(good) as progress:
            readings = read_toolpaths(good, limits, store=store, progress=progress)
    summaries = [summary(path, reading) for path, reading in zip(good, readings, strict=True)]
    if as_json:
        print(json.dumps([*summaries, *refused], indent=2, ensure_ascii=False))
    else:
        for path, reading in zip(good, readings, strict=True):
            for line in duty_lines(str(path), reading):
                print(line)
        for fault in refused:
            print(f"{fault['file']}: {fault['expected']}: {fault['remedy']}", file=sys.stderr)
    if refused or any(reading.duty is None for reading in readings):
        raise typer.Exit(2)


def _limits(store: "Store | None", machine: str | None) -> "MotionLimits":
    from feedwright.toolpath.values import MotionLimits

    if store is None or machine is None:
        return MotionLimits()
    from feedwright.farm.machines import machine_named

    return machine_named(store, machine).motion


def _check(path: Path) -> None:
    from feedwright.errors import BadInput

    if path.is_dir():
        raise BadInput(str(path), expected="it is a folder", remedy="name the files in it")
    if not path.is_file():
        raise BadInput(str(path), expected="there is no such file", remedy="check the path")
    try:
        path.open("rb").close()
    except OSError as error:
        raise BadInput(str(path), expected=error.strerror or "cannot be read", remedy="check that you may") from error


@contextmanager
def _progress(paths: list[Path]) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on the terminal where there is much to read."""
    if not sys.stderr.isatty() or sum(path.stat().st_size for path in paths) < PROGRESS_FROM_BYTES:
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, DownloadColumn, Progress, TimeRemainingColumn

    bar = Progress("reading", BarColumn(), DownloadColumn(), TimeRemainingColumn(), console=Console(stderr=True))
    with bar:
        task = bar.add_task("reading")
        yield lambda done, total: bar.update(task, completed=done, total=total)


def summary(path: Path | str, reading: "Reading") -> dict[str, Any]:
    """One file's reading as the flat object that ``--json`` prints."""
    held: dict[str, Any] = {
        "file": str(path),
        "kind": reading.kind,
        "complete": reading.complete,
        "lines": reading.lines,
        "warnings": [f"line {w.line}: {w.text}" if w.line else w.text for w in reading.warnings],
    }
    if reading.duty is None:
        return {**held, "refused_because": reading.refused_because}
    d, whole = reading.duty, reading.duty.whole
    return {
        **held,
        "moves": d.moves,
        "duration_s": whole.duration_s,
        "printing_s": whole.printing_s,
        "travel_s": whole.travel_s,
        "heating_s": whole.heating_s,
        "idle_s": whole.idle_s,
        "filament_net_mm": whole.filament_net_mm,
        "filament_high_water_mm": d.filament_high_water_mm,
        "filament_forward_mm": whole.filament_forward_mm,
        "filament_back_mm": whole.filament_back_mm,
        "reversals": round(whole.reversals),
        "max_passes": d.max_passes,
        "passes_mm": list(d.passes_mm),
        "layers": d.layers,
        "nozzle_c_max": d.nozzle_c_max,
        "bed_c_max": d.bed_c_max,
        "nozzle_s": [list(pair) for pair in whole.nozzle_s],
        "bed_s": [list(pair) for pair in whole.bed_s],
        "nozzle_heat_ups": round(whole.nozzle_heat_ups),
        "bed_heat_ups": round(whole.bed_heat_ups),
        "flow_max_mm3_s": d.flow_max_mm3_s,
        "flow_bin_mm3_s": d.flow_bin_mm3_s,
        "flow_s": list(d.flow_s),
        "part_fan_s": whole.part_fan_s,
        "travel_x_mm": whole.travel_x_mm,
        "travel_y_mm": whole.travel_y_mm,
        "travel_z_mm": whole.travel_z_mm,
        "box_low_mm": list(d.box_low_mm),
        "box_high_mm": list(d.box_high_mm),
        "sha256": reading.sha256,
    }


def duty_lines(name: str, reading: "Reading") -> Iterator[str]:
    """One file's reading in words."""
    from feedwright.units import show_duration

    yield name
    if reading.duty is None:
        yield f"  refused: {reading.refused_because}"
        return
    d, whole = reading.duty, reading.duty.whole
    yield f"  time      {show_duration(whole.duration_s)}: printing {show_duration(whole.printing_s)}, travel " + (
        f"{show_duration(whole.travel_s)}, heating {show_duration(whole.heating_s)}, idle {show_duration(whole.idle_s)}"
    )
    yield (
        f"  filament  {d.filament_high_water_mm / 1000:,.2f} m off the spool ({whole.filament_forward_mm / 1000:,.2f} m "
        + (f"forward, {whole.filament_back_mm / 1000:,.2f} m back)")
    )
    worked = sum(mm for passes, mm in enumerate(d.passes_mm) if passes > 3)
    yield f"  drive     {whole.reversals:,.0f} reversals; a millimetre passes up to {d.max_passes} times; " + (
        f"{worked:,.0f} mm pass more than 3 times"
    )
    held = ", ".join(f"{show_duration(s)} at {c:.0f} °C" for c, s in whole.nozzle_s) or "none set"
    yield f"  nozzle    {held}"
    yield f"  flow      up to {d.flow_max_mm3_s:.1f} mm³/s"
    low, high = d.box_low_mm, d.box_high_mm
    yield (
        f"  print     {d.layers} layers, {d.moves:,} moves, box "
        + " × ".join(f"{b - a:.1f}" for a, b in zip(low, high, strict=True))
        + " mm"
    )
    if not reading.complete:
        yield "  INCOMPLETE: only what could be read is counted"
    for warning in reading.warnings:
        yield f"  note      {f'line {warning.line}: ' if warning.line else ''}{warning.text}"


@toolpath.command("add")
def add(
    file: Annotated[Path, typer.Argument(help="A G-code file.", show_default=False)],
    name: Annotated[str | None, typer.Option("--name", help="What to call it; else its file name.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Read a file and remember it, so that runs can name it."""
    from feedwright.farm.toolpaths import keep_toolpath

    _check(file)
    with farm(folder, create=True) as store:
        kept, reading = keep_toolpath(store, file, name=name)
    out({"toolpath": kept, "duty": summary(kept.name, reading)}, duty_lines(kept.name, reading), as_json=as_json)


@toolpath.command("list")
def list_(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Every toolpath that the farm knows."""
    from feedwright.farm.toolpaths import known_toolpaths

    with farm(folder) as store:
        known = known_toolpaths(store)
        rows = [(t.name, t.sha256[:10], f"{t.bytes_count:,}", show_time(store, t.read_utc)) for t in known]
    out(known, table(("toolpath", "content", "bytes", "first read"), rows), as_json=as_json)


@toolpath.command("show")
def show(
    name: Annotated[str, typer.Argument(help="Its name, or the first letters of its content hash.")],
    machine: Annotated[str | None, typer.Option("--machine", help="Timed as this machine would.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What a known toolpath asks of a machine."""
    from feedwright.farm.machines import machine_named
    from feedwright.farm.toolpaths import reading_for, toolpath_named

    with farm(folder) as store:
        known = toolpath_named(store, name)
        reading = reading_for(store, known, machine_named(store, machine) if machine else None)
    out(summary(known.name, reading), duty_lines(known.name, reading), as_json=as_json)
