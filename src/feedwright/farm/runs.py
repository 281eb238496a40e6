"""Recording what was printed, and charging it to the parts that did it."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, NotFound
from feedwright.farm.charging import NANO, Charge, apply_charge, fitted_at, nano_of, stretch_of_run
from feedwright.farm.house import moment
from feedwright.farm.machines import machine_named
from feedwright.farm.naming import pick_entry, within
from feedwright.farm.people import person_id
from feedwright.farm.settings import figures
from feedwright.farm.toolpaths import keep_toolpath, reading_for, toolpath_named
from feedwright.farm.totals import exposures
from feedwright.farm.values import Change, RunLine, RunReceipt
from feedwright.records.store import Store
from feedwright.records.values import Fitting, Machine, Run, RunOutcome, Toolpath
from feedwright.toolpath.values import Reading, Stretch
from feedwright.wear.exposure import law_key
from feedwright.wear.typical import typical_stretch

USUAL_FIGURES = "usual figures"
"""Stands for the reader where a run was charged without a file."""


def add_run(
    store: Store,
    machine: str,
    *,
    material: str,
    toolpath: Path | str | None = None,
    hours: float | None = None,
    outcome: RunOutcome = "complete",
    fraction: float | None = None,
    copies: int = 1,
    started_utc: datetime | None = None,
    nozzle_c: float | None = None,
    filament_g: float | None = None,
    note: str = "",
    person: str | None = None,
) -> RunReceipt:
    """Record one printing and charge it to every part that was fitted when it began.

    Give a ``toolpath`` (a file to read, or the name or content hash of a known one) or plain ``hours``.
    A stopped or spoiled run needs ``fraction``, the share of the toolpath's time that was done.
    """
    whose = machine_named(store, machine)
    stuff = pick_entry(load_catalogue().materials, material, "material")
    done = _fraction(outcome, fraction, hours)
    within("copies", copies, 1, 10_000)
    known, reading = _toolpath(store, toolpath, whose, hours)
    run = Run(
        machine_id=whose.id,
        started_utc=moment(started_utc),
        outcome=outcome,
        material=stuff.id,
        toolpath_id=known.id if known else None,
        fraction=done,
        copies=copies,
        hours=hours,
        nozzle_c=None if nozzle_c is None else within("nozzle temperature", nozzle_c, 0, 500, "°C"),
        filament_g=None if filament_g is None else within("filament", filament_g, 0, 100_000, "g"),
        note=note,
    )
    return _record(store, whose, run, reading, person_id(store, person))


def _fraction(outcome: RunOutcome, fraction: float | None, hours: float | None) -> float:
    if outcome == "complete" or (hours is not None and fraction is None):
        if fraction not in (None, 1.0):
            raise BadInput(
                "fraction",
                place=f"{fraction:g}",
                expected="a complete run has done all of it",
                remedy="leave the fraction out, or say that the run was stopped or spoiled",
            )
        return 1.0
    if fraction is None:
        raise BadInput(
            "fraction",
            expected=f"a {outcome} run needs the share that was done",
            remedy="give a number from 0 to 1, such as 0.37",
        )
    return within("fraction", fraction, 0.0, 1.0)


def _toolpath(
    store: Store, toolpath: Path | str | None, machine: Machine, hours: float | None
) -> tuple[Toolpath | None, Reading | None]:
    if (toolpath is None) == (hours is None):
        raise BadInput(
            "run",
            expected="expected a toolpath file, or the hours it printed, and not both",
            remedy="name the file that was printed, or give the hours",
        )
    if toolpath is None:
        within("hours", hours or 0.0, 0.0, 10_000, "h")
        return None, None
    if isinstance(toolpath, Path) or Path(toolpath).is_file():
        return keep_toolpath(store, Path(toolpath), machine=machine)
    known = toolpath_named(store, toolpath)
    return known, reading_for(store, known, machine)


def _charge(store: Store, run: Run, reading: Reading | None) -> Stretch:
    if reading is not None and reading.duty is not None:
        return stretch_of_run(run, reading.duty)
    numbers = figures(store)
    stuff = load_catalogue().materials[run.material]
    at_c = run.nozzle_c if run.nozzle_c is not None else stuff.nozzle_c.value
    return typical_stretch((run.hours or 0.0) * run.copies, at_c, stuff, run.filament_g, numbers)


def _record(store: Store, machine: Machine, run: Run, reading: Reading | None, who: int | None) -> RunReceipt:
    catalogue = load_catalogue()
    removals = {removal.fitting_id: removal for removal in store.removals(machine.id)}
    fittings = fitted_at(store.fittings(machine.id), removals, run.started_utc)
    exposures(store, [machine])
    stretch = _charge(store, run, reading)
    charge = Charge(run.started_utc, stretch, run.material)
    with store.act("run", person_id=who) as act:
        run_id = act.add(run)
        act.put_charge(run_id, stretch, reading.reader if reading else USUAL_FIGURES)
        apply_charge(act, catalogue, machine, fittings, charge, 1)
    return _receipt(store, machine, replace(run, id=run_id), stretch, reading, fittings)


def run_receipt(store: Store, number: int) -> RunReceipt:
    """What a recorded run did to each part, told again; voided runs are not found."""
    charged = next(((run, stretch) for run, stretch in store.charged_runs() if run.id == number), None)
    if charged is None:
        raise NotFound("run", place=str(number), expected="there is no such run", remedy="see `feedwright run list`")
    run, stretch = charged
    machine = next(held for held in store.machines() if held.id == run.machine_id)
    toolpath = next((held for held in store.toolpaths() if held.id == run.toolpath_id), None)
    reading = reading_for(store, toolpath, machine) if toolpath else None
    removals = {removal.fitting_id: removal for removal in store.removals(machine.id)}
    fittings = fitted_at(store.fittings(machine.id), removals, run.started_utc)
    return _receipt(store, machine, run, stretch, reading, fittings)


def _receipt(
    store: Store, machine: Machine, run: Run, stretch: Stretch, reading: Reading | None, fittings: Sequence[Fitting]
) -> RunReceipt:
    charge, totals = Charge(run.started_utc, stretch, run.material), exposures(store, [machine])
    remarks = tuple(f"line {remark.line}: {remark.text}" for remark in reading.warnings) if reading else ()
    changes = tuple(_change(machine, fitting, charge, totals.get(fitting.id, 0.0)) for fitting in fittings)
    return RunReceipt(run, machine, stretch, changes, remarks)


def _change(machine: Machine, fitting: Fitting, charge: Charge, total: float) -> Change:
    catalogue = load_catalogue()
    kind = catalogue.parts[fitting.part_kind]
    product = kind.product(fitting.product)
    life = kind.life.median.value * (product.life_ratio.value if product else 1.0)
    after = fitting.exposure_before + total
    before = after - nano_of(catalogue, machine, kind, charge) / NANO
    title = kind.title if fitting.position == 1 else f"{kind.title} {fitting.position}"
    return Change(title, kind.exposure.unit, before, after, before / life, after / life)


def add_runs(store: Store, machine: str, runs: Sequence[Run], *, person: str | None = None) -> list[int]:
    """Record many runs of one machine in one act, such as a week entered at once; returns their numbers.

    Each run names a known toolpath or hours, and is checked as a single one is. Totals are written once.
    """
    whose = machine_named(store, machine)
    catalogue = load_catalogue()
    toolpaths = {held.id: held for held in store.toolpaths()}
    readings = {
        run.toolpath_id: reading_for(store, toolpaths[run.toolpath_id], whose) for run in runs if run.toolpath_id
    }
    removals = {removal.fitting_id: removal for removal in store.removals(whose.id)}
    fittings = store.fittings(whose.id)
    exposures(store, [whose])
    gathered: dict[int, tuple[int, int]] = {}
    numbers: list[int] = []
    with store.act("runs", person_id=person_id(store, person)) as act:
        for given in runs:
            run = replace(given, machine_id=whose.id)
            _fraction(run.outcome, None if run.outcome == "complete" else run.fraction, run.hours)
            reading = readings.get(run.toolpath_id or 0)
            stretch = _charge(store, run, reading)
            numbers.append(act.add(run))
            act.put_charge(numbers[-1], stretch, reading.reader if reading else USUAL_FIGURES)
            charge = Charge(run.started_utc, stretch, run.material)
            for fitting in fitted_at(fittings, removals, run.started_utc):
                nano, count = gathered.get(fitting.id, (0, 0))
                kind = catalogue.parts[fitting.part_kind]
                gathered[fitting.id] = (nano + nano_of(catalogue, whose, kind, charge), count + 1)
        for fitting in fittings:
            if fitting.id in gathered:
                key = law_key(catalogue.parts[fitting.part_kind], catalogue)
                act.add_exposure(fitting.id, key, *gathered[fitting.id])
    return numbers


def run_lines(store: Store, machine: str | None = None, *, limit: int = 50) -> list[RunLine]:
    """Runs with their machine, toolpath and charge, latest first."""
    names = {held.id: held.name for held in store.machines()}
    toolpaths = {held.id: held for held in store.toolpaths()}
    wanted = None if machine is None else machine_named(store, machine).id
    return [
        RunLine(run, names[run.machine_id], toolpaths.get(run.toolpath_id or 0), stretch)
        for run, stretch in store.charged_runs(wanted, latest=limit)
    ]
