"""Recording what was printed, and charging it to the parts that did it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import get_args

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, NotFound
from feedwright.farm.ground.forms import SentBefore, act_of_key, checked_key, claim, taken_back
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import one_of, pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.settings import figures
from feedwright.farm.ground.values import Change, RunLine, RunReceipt
from feedwright.farm.machines.charging import (
    COLDEST_C,
    HOTTEST_C,
    NANO,
    Charge,
    charge_of_run,
    fitted_at,
    nano_of,
    states_of,
    stretch_of_run,
)
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.machines.totals import apply_charges, exposures
from feedwright.farm.service.releases import held
from feedwright.farm.stores.spool_draws import draw, draw_all
from feedwright.farm.toolpaths.arrivals import spoken_for
from feedwright.farm.toolpaths.toolpaths import reading_for, record_toolpath, take_in, toolpath_named
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Fitting, Machine, Run, RunOutcome
from feedwright.toolpath.values import Reading, Stretch
from feedwright.units import show_duration
from feedwright.wear.typical import typical_stretch

USUAL_FIGURES = "usual figures"
"""Stands for the reader where a run was charged without a file."""
MOST_HOURS = 100_000
MOST_FILAMENT_KM = 10_000
"""What one run may ask of a machine with all its copies: beyond it, totals would no longer fit their whole numbers."""
A_LITTLE_S = 900.0
"""A run that ends so much later than now is no slip of the clock (assumed)."""


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
    spool: int | None = None,
    entry_key: str = "",
    person: str | None = None,
) -> RunReceipt:
    """Record one printing and charge it to every part that was fitted when it began.

    Give a ``toolpath`` (the path of a file to read, or as text the name or content hash of a known one) or
    plain ``hours``, and ``filament_g`` where it was weighed: both of one copy. A stopped or spoiled run needs
    ``fraction``, the share of the toolpath's time that was done. What it used is drawn from the ``spool`` of that
    number, else from the one that hung there; 0 names none. Sent twice under one ``entry_key`` it counts once.
    """
    key = checked_key(entry_key)
    before = act_of_key(store, key)
    if before is not None:
        return _recorded_by(store, before)
    whose = machine_named(store, machine)
    if (toolpath is None) == (hours is None):
        raise BadInput(
            "run",
            expected="expected a toolpath file, or the hours it printed, and not both",
            remedy="name the file that was printed, or give the hours",
        )
    run = _checked(
        Run(
            machine_id=whose.id,
            started_utc=moment(started_utc),
            outcome=outcome,
            material=material,
            fraction=_fraction(outcome, fraction, hours),
            copies=copies,
            hours=hours,
            nozzle_c=nozzle_c,
            filament_g=filament_g,
            note=note,
        )
    )
    reading = _reading(store, toolpath, whose)
    stretch = _stretch(store, whose, run, reading)
    try:
        with store.act("run", person_id=person_id(store, person)) as act:
            claim(act, "run", key)
            charge = charge_of_run(run, stretch, states_of(act, whose))
            worn = apply_charges(act, load_catalogue(), whose, [charge])
            if reading is not None:
                run = replace(run, toolpath_id=record_toolpath(act, reading).id)
            run = replace(run, id=_write(act, run, stretch, reading), act_id=act.id)
            drawn = draw(act, run, stretch, whose, spool=spool)
            spoken_for(act, run.toolpath_id, "printed")
    except SentBefore as again:
        return _recorded_by(store, again.act_id)
    receipt = _receipt(store, whose, run, charge, reading, list(worn.values()))
    return replace(receipt, remarks=(*receipt.remarks, *drawn))


def _recorded_by(store: Store, act_id: int) -> RunReceipt:
    """The receipt of the run that an act recorded."""
    for run in store.every(Run, act_id=act_id):
        return run_receipt(store, run.id)
    raise taken_back("run")


def _fraction(outcome: RunOutcome, fraction: float | None, hours: float | None) -> float:
    """The share that was done where it need not be said; else the one given."""
    if fraction is not None:
        return fraction
    if outcome == "complete" or hours is not None:
        return 1.0
    raise BadInput(
        "fraction",
        expected=f"a {outcome} run needs the share that was done",
        remedy="give a number from 0 to 1, such as 0.37",
    )


def _checked(run: Run) -> Run:
    """The run with its words spelt as the catalogue does and its numbers in range, or a refusal."""
    one_of("outcome", run.outcome, get_args(RunOutcome))
    within("fraction", run.fraction, 0.0, 1.0)
    if run.outcome == "complete" and run.fraction != 1.0:
        raise BadInput(
            "fraction",
            place=f"{run.fraction:g}",
            expected="a complete run has done all of it",
            remedy="leave the fraction out, or say that the run was stopped or spoiled",
        )
    within("copies", run.copies, 1, 10_000)
    for quantity, value, low, high, unit in (
        ("hours", run.hours, 0, 10_000, "h"),
        ("nozzle temperature", run.nozzle_c, COLDEST_C, HOTTEST_C, "°C"),
        ("filament", run.filament_g, 0, 100_000, "g"),
    ):
        if value is not None:
            within(quantity, value, low, high, unit)
    material = pick_entry(load_catalogue().materials, run.material, "material").id
    return replace(run, material=material, started_utc=moment(run.started_utc), note=text("note", run.note))


def _reading(store: Store, toolpath: Path | str | None, machine: Machine) -> Reading | None:
    """The reading of a file (which is kept), or of a known toolpath by its name: text never opens a file."""
    if toolpath is None:
        return None
    if isinstance(toolpath, Path):
        return take_in(store, toolpath, machine=machine)
    return reading_for(store, toolpath_named(store, toolpath), machine)


def _stretch(store: Store, machine: Machine, run: Run, reading: Reading | None) -> Stretch:
    """What the run is charged with, all copies together; refuses what nobody prints in one run."""
    stretch = _charged(store, machine, run, reading)
    within("hours of all copies", stretch.duration_s / 3600, 0, MOST_HOURS, "h")
    hottest_c = max((at_c for at_c, _ in stretch.nozzle_s), default=COLDEST_C)
    within("hottest nozzle temperature", hottest_c, 0, HOTTEST_C, "°C")
    within("filament of all copies", stretch.filament_forward_mm / 1e6, 0, MOST_FILAMENT_KM, "km")
    return stretch


def _charged(store: Store, machine: Machine, run: Run, reading: Reading | None) -> Stretch:
    """The same by the file or the hours; where neither file nor person said how hot, at the material's usual heat."""
    stuff = load_catalogue().materials[run.material]
    at_c = run.nozzle_c if run.nozzle_c is not None else stuff.nozzle_c.value
    if reading is not None and reading.duty is not None:
        return stretch_of_run(replace(run, nozzle_c=at_c) if _sets_no_heat(reading) else run, reading.duty)
    one = typical_stretch(
        run.hours or 0.0,
        at_c,
        stuff,
        run.filament_g,
        figures(store),
        filament_diameter_mm=machine.motion.filament_diameter_mm,
    )
    return one.times(run.copies)


def _sets_no_heat(reading: Reading) -> bool:
    return reading.duty is not None and not reading.duty.whole.nozzle_s


def _write(act: ActInHand, run: Run, stretch: Stretch, reading: Reading | None) -> int:
    number = act.add(run)
    act.put_charge(number, stretch, reading.reader if reading else USUAL_FIGURES)
    return number


def run_receipt(store: Store, number: int) -> RunReceipt:
    """What a recorded run did to each part, told again; void runs are not found."""
    run, stretch = store.charged_run(number) or (None, None)
    machine = None if run is None else store.machine(run.machine_id)
    if run is None or stretch is None or machine is None:
        raise NotFound("run", place=f"number {number}", expected="no such run, or void already", remedy="list the runs")
    removals = {removal.fitting_id: removal for removal in store.removals(machine.id)}
    worn = fitted_at(store.fittings(machine.id), removals, run.started_utc)
    charge = charge_of_run(run, stretch, states_of(store, machine))
    return _receipt(store, machine, run, charge, _reading_of(store, run, machine), worn)


def _reading_of(store: Store, run: Run, machine: Machine) -> Reading | None:
    toolpath = next((known for known in store.toolpaths() if known.id == run.toolpath_id), None)
    try:
        return reading_for(store, toolpath, machine) if toolpath else None
    except NotFound:  # the kept copy is gone; the charge stands without its remarks
        return None


def _receipt(
    store: Store, machine: Machine, run: Run, charge: Charge, reading: Reading | None, worn: Sequence[Fitting]
) -> RunReceipt:
    totals = exposures(store, [machine])
    remarks = [f"line {remark.line}: {remark.text}" for remark in reading.warnings] if reading else []
    if reading is not None and _sets_no_heat(reading) and charge.stretch.nozzle_s:
        at_c = charge.stretch.nozzle_s[0][0]
        remarks.append(f"the file sets no nozzle temperature: charged as printed at {at_c:.0f} °C throughout")
    if not worn:
        since = f"{machine.registered_utc:%Y-%m-%d %H:%M} UTC"
        told = f"{machine.name} is described from {since} on"
        remarks.append(f"No part is on record as fitted at that time, so none is charged: {told}.")
    to_come_s = charge.stretch.duration_s - (moment(None) - run.started_utc).total_seconds()
    if to_come_s > A_LITTLE_S:
        told = "take it back, and give the time when it began, where it is over"
        remarks.append(f"By its hours it goes on for {show_duration(to_come_s)} more: {told}.")
    changes = tuple(_change(fitting, charge, totals[fitting.id]) for fitting in worn)
    visit = held(store, machine)
    if visit is not None:
        told = f"{machine.name} is held by visit {visit.id} and not released"
        remarks.append(f"{told}: prove it good first, or release it with a reason.")
    return RunReceipt(run, machine, charge.stretch, changes, tuple(remarks))


def _change(fitting: Fitting, charge: Charge, total: float) -> Change:
    catalogue = load_catalogue()
    kind = catalogue.parts[fitting.part_kind]
    product = kind.product(fitting.product)
    life = kind.life.median.value * (product.life_ratio.value if product else 1.0)
    after = fitting.exposure_before + total
    before = after - nano_of(catalogue, kind, charge) / NANO
    title = kind.title if fitting.position == 1 else f"{kind.title} {fitting.position}"
    return Change(title, kind.exposure.unit, before, after, before / life, after / life)


def add_runs(store: Store, machine: str, runs: Sequence[Run], *, person: str | None = None) -> list[int]:
    """Record many runs of one machine in one act, such as a week entered at once; returns their numbers.

    Each run names a known toolpath or hours, and is checked as a single one is. Totals are written once.
    """
    whose = machine_named(store, machine)
    ready = ready_runs(store, whose, runs, [f"run {number}" for number in range(1, len(runs) + 1)])
    with store.act("runs", person_id=person_id(store, person)) as act:
        return write_runs(act, whose, ready)


@dataclass(frozen=True, slots=True)
class ReadyRun:
    """A run that was checked, with what it will be charged with."""

    run: Run
    stretch: Stretch
    reading: Reading | None


def ready_runs(store: Store, machine: Machine, runs: Sequence[Run], places: Sequence[str]) -> list[ReadyRun]:
    """Runs of one machine, checked and read, for an act that writes them; ``places`` name each in a refusal."""
    toolpaths = {held.id: held for held in store.toolpaths()}
    readings: dict[int | None, Reading | None] = {None: None}
    ready = []
    for given, where in zip(runs, places, strict=True):
        try:
            if (given.toolpath_id in toolpaths) == (given.hours is not None):
                expected, remedy = "expected a known toolpath, or hours, and not both", "correct the run"
                raise BadInput("run", expected=expected, remedy=remedy)
            run = _checked(replace(given, machine_id=machine.id))
            if run.toolpath_id not in readings:
                readings[run.toolpath_id] = reading_for(store, toolpaths[run.toolpath_id or 0], machine)
            reading = readings[run.toolpath_id]
            ready.append(ReadyRun(run, _stretch(store, machine, run, reading), reading))
        except BadInput as error:
            place = f"{where}: {error.place}".removesuffix(": ")
            raise BadInput(error.subject, place=place, expected=error.expected, remedy=error.remedy) from error
    return ready


def write_runs(act: ActInHand, machine: Machine, ready: Sequence[ReadyRun]) -> list[int]:
    """Write runs of one machine and charge them, within an act that may write more; returns their numbers."""
    states = states_of(act, machine)
    apply_charges(act, load_catalogue(), machine, [charge_of_run(one.run, one.stretch, states) for one in ready])
    numbers = [_write(act, one.run, one.stretch, one.reading) for one in ready]
    stored = [(replace(one.run, id=number), one.stretch) for one, number in zip(ready, numbers, strict=True)]
    draw_all(act, stored, machine)
    for toolpath_id in {run.toolpath_id for run, _ in stored}:
        spoken_for(act, toolpath_id, "printed")
    return numbers


def run_lines(store: Store, machine: str | None = None, *, limit: int = 50, skip: int = 0) -> list[RunLine]:
    """Runs with their machine, toolpath and charge, latest first; ``skip`` passes over so many of them."""
    with store.snapshot() as reads:
        names = {held.id: held.name for held in reads.machines()}
        toolpaths = {held.id: held for held in reads.toolpaths()}
        wanted = None if machine is None else machine_named(reads, machine).id
        return [
            RunLine(run, names[run.machine_id], toolpaths.get(run.toolpath_id or 0), stretch)
            for run, stretch in reads.charged_runs(wanted, latest=limit, skip=skip)
        ]
