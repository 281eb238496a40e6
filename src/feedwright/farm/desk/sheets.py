"""All that is known of the machines: a line each, or a whole sheet of one."""

from datetime import datetime

from feedwright.farm.ground.values import FittedPart, MachineLine, MachineSheet
from feedwright.farm.machines.machines import machine_named, machines
from feedwright.farm.outlook.forecasts import fitted_parts, group_by_machine
from feedwright.farm.parts.renewals import trims_left
from feedwright.farm.prints.runs import run_lines
from feedwright.records.store import Store
from feedwright.wear.exposure import filament_kg
from feedwright.wear.values import Surroundings

ORDER = {"service now": 0, "service soon": 1, "unknown": 2, "in order": 3}


def pressing(part: FittedPart) -> tuple[int, float, float]:
    """Sort key that puts the most pressing part first."""
    advice = part.advice
    return ORDER[advice.status], -float(advice.waiting_cost_week.amount), -part.outlook.share_used.mid


def machine_lines(store: Store, now_utc: datetime) -> list[MachineLine]:
    """Every machine with its most pressing part, by name."""
    grouped = group_by_machine(fitted_parts(store, now_utc))
    last = store.last_runs()
    return [
        MachineLine(
            machine=machine,
            worst=min(grouped[machine.id], key=pressing, default=None),
            last_run_utc=last.get(machine.id),
            printing_h_per_day=max((part.pace.printing_h_per_day for part in grouped[machine.id]), default=0.0),
        )
        for machine in machines(store)
    ]


def machine_sheet(store: Store, name: str, now_utc: datetime, *, runs_shown: int = 30) -> MachineSheet:
    """One machine with its parts, history and outlook."""
    from feedwright.catalogue.load import load_catalogue

    with store.snapshot() as reads:
        machine = machine_named(reads, name)
        fittings = {fitting.id: fitting for fitting in reads.fittings(machine.id)}
        removals = sorted(reads.removals(machine.id), key=lambda removal: removal.removed_utc, reverse=True)
        findings = sorted(reads.findings(list(fittings)), key=lambda finding: finding.found_utc, reverse=True)
        events = sorted(reads.events(machine.id), key=lambda event: event.at_utc, reverse=True)
        printed, left = reads.printed_on(machine.id), trims_left(reads, machine)
    around = Surroundings("", machine.enclosure_c, machine.motion.filament_diameter_mm)
    materials = load_catalogue().materials
    return MachineSheet(
        machine=machine,
        parts=tuple(sorted(fitted_parts(store, now_utc, machines=[machine]), key=pressing)),
        runs=tuple(run_lines(store, machine.name, limit=runs_shown)),
        runs_count=sum(many for *_, many in printed),
        printing_h=sum(many * stretch.duration_s for _, stretch, many in printed) / 3600,
        filament_kg=sum(
            many * filament_kg(stretch, around, materials[material]) for material, stretch, many in printed
        ),
        events=tuple(events),
        findings=tuple((finding, fittings[finding.fitting_id]) for finding in findings),
        past=tuple((fittings[removal.fitting_id], removal) for removal in removals),
        trims_left=left,
    )
