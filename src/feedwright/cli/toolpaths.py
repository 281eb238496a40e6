"""``feedwright duty`` and ``feedwright toolpath``: reading files and what is known of them."""

import sys
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from feedwright.cli.refuse import say_refusal
from feedwright.cli.say import AsJson, FarmFolder, farm, out, progress, show_time, table
from feedwright.errors import BadInput, BadToolpath

if TYPE_CHECKING:
    from feedwright.records.store import Store
    from feedwright.toolpath.values import MotionLimits, Reading

toolpath = typer.Typer(help="Toolpath files that the farm knows.", no_args_is_help=True, rich_markup_mode=None)
MEASURED = (
    "moves", "duration_s", "printing_s", "travel_s", "heating_s", "idle_s", "filament_net_mm", "filament_high_water_mm",
    "filament_forward_mm", "filament_back_mm", "reversals", "max_passes", "passes_mm", "layers", "nozzle_c_max",
    "bed_c_max", "nozzle_s", "bed_s", "nozzle_heat_ups", "bed_heat_ups", "flow_max_mm3_s", "flow_bin_mm3_s", "flow_s",
    "part_fan_s", "travel_x_mm", "travel_y_mm", "travel_z_mm", "box_low_mm", "box_high_mm",
)  # fmt: skip
"""What ``--json`` says of a filament toolpath, and has as null for a refused file."""


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
    """What toolpath files ask of a machine.

    Time, filament, heat, flow, feed reversals and travel of each file. Needs no farm; where there is one, what
    was read is kept in it. Ends with code 2 if any file was refused; the others are still reported.
    """
    from feedwright.farm.ground.house import farm_folder, has_farm
    from feedwright.farm.toolpaths.toolpaths import read_toolpaths

    faults = {path: fault for path in files if (fault := _fault_of(path)) is not None}
    good = [path for path in files if path not in faults]
    with farm(folder) if machine or has_farm(farm_folder(folder)) else nullcontext() as store:
        limits = _limits(store, machine)
        with progress("Reading", as_json=as_json, in_bytes=True) as bar:
            readings = dict(zip(good, read_toolpaths(good, limits, store=store, progress=bar), strict=True))
    found = [summary(path, readings[path]) if path in readings else _unread(path, faults[path]) for path in files]
    lines = (line for path, reading in readings.items() if reading.duty for line in duty_lines(str(path), reading))
    out(found, lines, as_json=as_json)
    faults |= {path: refusal_of(path, reading) for path, reading in readings.items() if reading.duty is None}
    if not as_json:
        sys.stdout.flush()
        for path in dict.fromkeys(files):
            if path in faults:
                say_refusal(faults[path], as_json=False)
    if faults:
        raise typer.Exit(2)


def refusal_of(path: Path, reading: "Reading") -> BadToolpath:
    """The refusal of a file that was read and is no filament toolpath."""
    return BadToolpath(
        str(path),
        place=f"read as: {reading.kind}",
        expected=reading.refused_because,
        remedy="give the G-code file that the printer prints",
    )


def _limits(store: "Store | None", machine: str | None) -> "MotionLimits":
    from feedwright.toolpath.values import MotionLimits

    if store is None or machine is None:
        return MotionLimits()
    from feedwright.farm.machines.machines import machine_named

    return machine_named(store, machine).motion


def _fault_of(path: Path) -> BadInput | None:
    """Why a path cannot be read at all; None where it can."""
    try:
        if path.is_dir():
            return BadInput(str(path), expected="it is a folder", remedy="name the files in it")
        if not path.exists():
            return BadInput(str(path), expected="there is no such file", remedy="check the path")
        if not path.is_file():
            return BadInput(str(path), expected="it is not a plain file", remedy="save it as a file first")
        path.open("rb").close()
    except OSError as error:
        said = error.strerror or "cannot be read"
        return BadInput(str(path), expected=said.lower(), remedy="check the path, and that you may read it")
    return None


def _unread(path: Path, fault: BadInput) -> dict[str, Any]:
    """The object of a file that could not be read at all."""
    held = {"file": str(path), "kind": "unreadable", "complete": False, "lines": 0, "warnings": []}
    return {**held, **dict.fromkeys(MEASURED), "refused_because": fault.expected, "remedy": fault.remedy}


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
        return {**held, **dict.fromkeys(MEASURED), "refused_because": reading.refused_because}
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
        return
    d, whole = reading.duty, reading.duty.whole
    yield f"  time      {show_duration(whole.duration_s)}: printing {show_duration(whole.printing_s)}, travel " + (
        f"{show_duration(whole.travel_s)}, heating {show_duration(whole.heating_s)}, idle {show_duration(whole.idle_s)}"
    )
    off, forward, back = (
        mm / 1000 for mm in (d.filament_high_water_mm, whole.filament_forward_mm, whole.filament_back_mm)
    )
    yield f"  filament  {off:,.2f} m off the spool ({forward:,.2f} m forward, {back:,.2f} m back)"
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
    file: Annotated[Path, typer.Argument(help="A G-code file, plain or gzip.", show_default=False)],
    name: Annotated[str | None, typer.Option("--name", help="What to call it; else its file name.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Read a file and remember it, so that runs can name it."""
    from feedwright.farm.toolpaths.toolpaths import keep_toolpath

    fault = _fault_of(file)
    if fault is not None:
        raise fault
    with farm(folder) as store:
        kept, reading = keep_toolpath(store, file, name=name)
    known = [f"This content is known already, as {kept.name}."] if name not in (None, kept.name) else []
    lines = [*duty_lines(kept.name, reading), *known]
    out({"toolpath": kept, "duty": summary(kept.name, reading)}, lines, as_json=as_json)


@toolpath.command("list")
def list_(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Every toolpath that the farm knows."""
    from feedwright.farm.toolpaths.toolpaths import known_toolpaths

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
    from feedwright.farm.machines.machines import machine_named
    from feedwright.farm.toolpaths.toolpaths import reading_for, toolpath_named

    with farm(folder) as store:
        known = toolpath_named(store, name)
        reading = reading_for(store, known, machine_named(store, machine) if machine else None)
    out(summary(known.name, reading), duty_lines(known.name, reading), as_json=as_json)
