"""Charging what was printed to the parts that did it.

A run is charged with a stretch of its toolpath; every part fitted when the run began takes its own
exposure from it, in the surroundings the machine had then. Totals are whole billionths of the part's unit,
so that adding, voiding and counting again from scratch agree to the last digit, in any order.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from feedwright.catalogue.entry import Catalogue, Material, PartKind
from feedwright.errors import Conflict
from feedwright.records.reads import Reads
from feedwright.records.values import Event, Fitting, Machine, Removal, Run
from feedwright.toolpath.values import Duty, Stretch
from feedwright.wear.exposure import exposure_of
from feedwright.wear.values import Surroundings

NANO = 1_000_000_000
COLDEST_C, HOTTEST_C = 15.0, 500.0
"""Between these a nozzle prints; the laws of wear are asked of no others."""
HOT_EVENTS = ("hot_stop", "fan_stall")
"""Events during which the nozzle stays hot, so that their minutes wear what heat wears."""

States = Sequence[tuple[datetime, Machine]]
"""A machine as it was described from each moment on, oldest first."""


@dataclass(frozen=True, slots=True)
class Charge:
    """One thing that wore the parts of a machine: a run, or an event that kept it hot."""

    at_utc: datetime
    stretch: Stretch
    around: Surroundings


def states_of(records: Reads, machine: Machine) -> States:
    """How the machine was described over time; raises Conflict where it was voided meanwhile."""
    states = records.states(machine.id)
    if not states:
        raise Conflict(machine.name, expected="this machine was voided meanwhile", remedy="look at the machines again")
    return states


def surroundings_at(states: States, at_utc: datetime, material: str) -> Surroundings:
    """What was around the parts at that moment, by the description that held then."""
    machine = next((machine for since, machine in reversed(states) if since <= at_utc), states[0][1])
    return Surroundings(material, machine.enclosure_c, machine.motion.filament_diameter_mm)


def stretch_of_run(run: Run, duty: Duty) -> Stretch:
    """What a run of a toolpath is charged with: all copies but the last whole, the last to its fraction.

    ``nozzle_c`` of the run takes the place of the file's main temperature, or of none where the file sets none.
    """
    last = duty.share(run.fraction) if run.fraction < 1.0 else duty.whole
    done = last + duty.whole.times(run.copies - 1) if run.copies > 1 else last
    if run.nozzle_c is None:
        return done
    if not duty.whole.nozzle_s:
        return _hot_throughout(done, run.nozzle_c)
    main_c = max(duty.whole.nozzle_s, key=lambda level: level[1])[0]
    return _shifted(done, run.nozzle_c - main_c)


def _shifted(stretch: Stretch, by_dk: float) -> Stretch:
    """The stretch with its nozzle temperatures set otherwise, none colder than a room and none beyond any heater."""
    held: dict[float, float] = defaultdict(float)
    for at_c, seconds in stretch.nozzle_s:
        held[min(max(at_c + by_dk, COLDEST_C), HOTTEST_C)] += seconds
    return replace(stretch, nozzle_s=tuple(sorted(held.items())))


def _hot_throughout(stretch: Stretch, nozzle_c: float) -> Stretch:
    seconds = stretch.printing_s + stretch.travel_s
    return replace(stretch, nozzle_s=((nozzle_c, seconds),)) if seconds else stretch


def charge_of_run(run: Run, stretch: Stretch, states: States) -> Charge:
    """What a run adds."""
    return Charge(run.started_utc, stretch, surroundings_at(states, run.started_utc, run.material))


def charge_of_event(event: Event, states: States) -> Charge | None:
    """What an event adds: its heat as reckoned; or, of one recorded before that, the minutes the machine stood hot."""
    if event.stretch is not None:
        return Charge(event.at_utc, event.stretch, surroundings_at(states, event.at_utc, event.material))
    if event.kind not in HOT_EVENTS or event.nozzle_c is None or event.minutes is None:
        return None
    seconds = event.minutes * 60
    stood = Stretch(idle_s=seconds, nozzle_s=((event.nozzle_c, seconds),))
    return Charge(event.at_utc, stood, surroundings_at(states, event.at_utc, event.material))


def fitted_at(fittings: Iterable[Fitting], removals: dict[int, Removal], at_utc: datetime) -> list[Fitting]:
    """The fittings that were on the machine at that moment."""
    return [
        fitting
        for fitting in fittings
        if fitting.fitted_utc <= at_utc and (fitting.id not in removals or at_utc < removals[fitting.id].removed_utc)
    ]


def nano_of(catalogue: Catalogue, kind: PartKind, charge: Charge) -> int:
    """Exposure of one part kind by one charge, in whole billionths of its unit."""
    material = material_of(catalogue, charge.around.material)
    return round(exposure_of(kind, charge.stretch, charge.around, material) * NANO)


def nanos_of(catalogue: Catalogue, kind: PartKind, charges: Iterable[Charge]) -> list[int]:
    """The same of each of many charges; what was printed over and over is weighed once."""
    weighed: dict[tuple[int, Surroundings], int] = {}
    nanos = []
    for charge in charges:
        same = id(charge.stretch), charge.around  # records hand out one object for one text
        if same not in weighed:
            weighed[same] = nano_of(catalogue, kind, charge)
        nanos.append(weighed[same])
    return nanos


def material_of(catalogue: Catalogue, material_id: str) -> Material:
    """The material of that id; events without one count as the plainest polymer."""
    return catalogue.materials.get(material_id) or next(iter(catalogue.materials.values()))


def charges_of(records: Reads, machine_id: int) -> list[Charge]:
    """All that wore a machine's parts, oldest first."""
    states = records.states(machine_id)
    runs = [
        Charge(at_utc, stretch, surroundings_at(states, at_utc, material))
        for at_utc, material, _, stretch in records.wearing_runs(machine_id)
    ]
    events = [charge for event in records.events(machine_id) if (charge := charge_of_event(event, states))]
    return sorted([*runs, *events], key=_moment)


def charges_on(fitting: Fitting, removal: Removal | None, charges: Sequence[Charge]) -> Sequence[Charge]:
    """Those of the charges, oldest first, that fell in a fitting's time on the machine."""
    start = bisect_left(charges, fitting.fitted_utc, key=_moment)
    return charges[start : None if removal is None else bisect_left(charges, removal.removed_utc, key=_moment)]


def _moment(charge: Charge) -> datetime:
    return charge.at_utc
