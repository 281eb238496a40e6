"""The machines as they stand before the queue: when each is free, what is in it, what each print would ask of it."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.dispatch.finishing import FinishingPart, finishing_parts
from feedwright.farm.dispatch.fits import sustained, troubles_by_duty
from feedwright.farm.ground.settings import figures
from feedwright.farm.machines.machines import machines
from feedwright.farm.parts.feed_paths import feed_path_of
from feedwright.farm.prints.loaded import material_in
from feedwright.farm.prints.prints import UnderWay, under_way
from feedwright.farm.prints.queue import QueueLine
from feedwright.farm.service.releases import HeldMachine, held_machines
from feedwright.farm.stores.spools import SpoolSheet, spools
from feedwright.farm.toolpaths.toolpaths import reading_for
from feedwright.planning.dispatch import Asked, PartAtRisk, Station
from feedwright.planning.fit import Trouble
from feedwright.records.rounds_values import PlannedStop, RoundPlan
from feedwright.records.store import Store
from feedwright.records.values import Machine, Toolpath
from feedwright.toolpath.values import Duty, MotionLimits, Profile
from feedwright.wear.exposure import exposure_of, filament_kg
from feedwright.wear.values import Surroundings

Floats = NDArray[np.float64]

MOST_BAYS = 40
"""So many machines are looked at closely; of a larger farm those that are free first with a wanted material in them."""
CHANGE_AS_H = 24.0
"""In choosing those, a change of material counts as so many hours of waiting (assumed)."""
LEAST_LEFT_H = 0.5
"""A print of which nobody knows when it ends takes at least so much longer (assumed)."""


@dataclass(frozen=True, slots=True)
class Job:
    """One queued print, with as many of its copies as are planned at once."""

    line: QueueLine
    asked: Asked


@dataclass(frozen=True, slots=True)
class Bay:
    """One machine, and what each job would be on it."""

    machine: Machine
    station: Station
    parts: tuple[FinishingPart, ...]
    asked: dict[int, Floats]
    """Exposure by each job, (jobs,), by fitting."""
    troubles: tuple[tuple[Trouble, ...], ...]
    """What the reading of each job's file says against it."""
    filament_g: Floats
    spool: SpoolSheet | None
    """What hangs on it."""
    busy: UnderWay | None
    """What it prints now ..."""
    busy_g: float
    """... and what that draws in all: a spool is charged when a print ends. Nought where its file is not known."""


@dataclass(frozen=True, slots=True)
class Yard:
    """The machines and the jobs that wait for them."""

    jobs: tuple[Job, ...]
    bays: tuple[Bay, ...]
    away: tuple[tuple[Machine, str], ...]
    """Machines that take nothing, and why."""

    def against(self, line: QueueLine) -> tuple[str, ...]:
        """Why no machine can take a queued print, machine by machine."""
        if line.placed is not None:
            out = next((why for machine, why in self.away if machine.id == line.placed.id), "it is no longer there")
            return (f"You put it on {line.placed.name}: {out}.",)
        number = next(at for at, job in enumerate(self.jobs) if job.line.entry.id == line.entry.id)
        fails = [
            f"{bay.machine.name}: {trouble.words}"
            for bay in self.bays
            for trouble in bay.troubles[number][:1]
        ]  # fmt: skip
        return (*fails, *(f"{machine.name}: {why}." for machine, why in self.away))


def yard_of(store: Store, waiting: Sequence[tuple[QueueLine, int]], now_utc: datetime) -> Yard:
    """The farm as it stands, and so many copies of these queued prints held against each machine."""
    held = {one.machine.id: one for one in held_machines(store)}
    standings = _standings(store, [machine for machine in machines(store) if machine.id not in held], now_utc)
    ordered = sorted(standings, key=lambda one: _first(one, [line for line, _ in waiting]))
    looked_at = sorted(ordered[:MOST_BAYS], key=lambda one: one.machine.name.casefold())
    away = [(one.machine, _in_service(one)) for one in held.values()]
    away += [(one.machine, "others are free sooner or hold the material") for one in ordered[MOST_BAYS:]]
    asking, stops = _Asking(store, waiting), _planned_stops(store, now_utc)
    parts = finishing_parts(store, [one.machine for one in looked_at])
    bays = [
        asking.bay(one, tuple(parts[one.machine.id]), stops.get(one.machine.id, []), now_utc) for one in looked_at
    ]  # fmt: skip
    return Yard(asking.jobs(now_utc), tuple(bays), tuple(away))


@dataclass(frozen=True, slots=True)
class _Standing:
    """One machine as it stands, before anything is held against it."""

    machine: Machine
    free_h: float
    material: str
    busy: UnderWay | None
    spool: SpoolSheet | None


def _standings(store: Store, able: Sequence[Machine], now_utc: datetime) -> list[_Standing]:
    busy = {one.machine.id: one for one in under_way(store)}
    hung = {sheet.machine.id: sheet for sheet in spools(store) if sheet.machine is not None}
    usual_h = figures(store).numbers["usual_run_h"].value
    found = []
    for machine in able:
        running, spool = busy.get(machine.id), hung.get(machine.id)
        free_h = _free_h(running, now_utc, usual_h)
        printed = running.held.material if running else ""
        material = material_in(store, machine, printed, spool.spool.material if spool else "")
        found.append(_Standing(machine, free_h, material, running, spool))
    return found


def _first(one: _Standing, lines: Sequence[QueueLine]) -> tuple[bool, float, str]:
    """Sort key: what a person put something on, then what is free first with a wanted material in it."""
    placed = any(line.placed is not None and line.placed.id == one.machine.id for line in lines)
    change = one.material != "" and all(line.entry.material != one.material for line in lines)
    return not placed, one.free_h + (CHANGE_AS_H if change else 0.0), one.machine.name


def _in_service(one: HeldMachine) -> str:
    return f"{'in service' if one.under_way else 'serviced and not released'}, visit {one.visit.id}"


def _free_h(busy: UnderWay | None, now_utc: datetime, usual_h: float) -> float:
    """Hours until a machine is free; a print whose end nobody knows lasts as long as prints usually do."""
    if busy is None:
        return 0.0
    if busy.ends_utc is not None:
        return max(0.0, (busy.ends_utc - now_utc).total_seconds() / 3600)
    return max(LEAST_LEFT_H, usual_h - (now_utc - busy.held.started_utc).total_seconds() / 3600)


def _planned_stops(store: Store, now_utc: datetime) -> dict[int, list[PlannedStop]]:
    """The visits still to come of the latest plan of rounds, by machine, in order."""
    found: dict[int, list[PlannedStop]] = defaultdict(list)
    plan = store.latest(RoundPlan)
    stops = () if plan is None else store.every(PlannedStop, round_plan_id=plan.id)
    for stop in sorted(stops, key=lambda one: one.begins_utc):
        if stop.begins_utc + timedelta(minutes=stop.minutes) > now_utc:
            found[stop.machine_id].append(stop)
    return found


class _Asking:
    """What the queued prints ask of machines, each distinct thing worked out once."""

    def __init__(self, store: Store, waiting: Sequence[tuple[QueueLine, int]]) -> None:
        self._store, self._waiting = store, waiting
        self._lines = [line for line, _ in waiting]
        self._counts = np.array([copies for _, copies in waiting], dtype=np.float64)
        self._materials = load_catalogue().materials
        self._exposures: dict[tuple[object, ...], float] = {}
        self._filament_per_kg = figures(store).numbers["filament_per_kg"].value

    def jobs(self, now_utc: datetime) -> tuple[Job, ...]:
        """One for each."""
        made = []
        for line, copies in self._waiting:
            due_utc = line.entry.due_utc
            due_h = np.inf if due_utc is None else (due_utc - now_utc).total_seconds() / 3600
            kg = self._kg(line.toolpath, line.entry.material, None)
            made.append(Job(line, Asked(line.entry.material, due_h, kg * self._filament_per_kg, copies)))
        return tuple(made)

    def bay(
        self, standing: _Standing, parts: tuple[FinishingPart, ...], stops: list[PlannedStop], now_utc: datetime
    ) -> Bay:
        """One machine with all that is asked of it."""
        machine = standing.machine
        duties = [self._duty(line.toolpath, machine) for line in self._lines]
        troubles = tuple(self._troubles(machine, duties))
        asked = {
            part.fitting.id: np.array([self._exposure(part, machine, line) for line in self._lines]) for part in parts
        }
        at_risk = tuple(
            PartAtRisk(part.kind.spoils_frac.value, *part.alive(float(asked[part.fitting.id] @ self._counts)),
                       asked[part.fitting.id])
            for part in parts
        )  # fmt: skip
        station = Station(
            machine.name, standing.free_h, standing.material,
            tuple(_hours_of(stop, now_utc) for stop in stops), at_risk,
            np.array([0.0 if duty is None else duty.whole.duration_s / 3600 for duty in duties]),
            np.array([self._may(machine, line, said) for line, said in zip(self._lines, troubles, strict=True)], bool),
        )  # fmt: skip
        grams = np.array([1000 * self._kg(line.toolpath, line.entry.material, machine) for line in self._lines])
        busy_g = self._busy_g(standing.busy, machine)
        return Bay(machine, station, parts, asked, troubles, grams, standing.spool, standing.busy, busy_g)

    def _busy_g(self, busy: UnderWay | None, machine: Machine) -> float:
        if busy is None or busy.toolpath is None:
            return 0.0
        return 1000 * busy.held.copies * self._kg(busy.toolpath, busy.held.material, machine)

    def _duty(self, toolpath: Toolpath, machine: Machine | None) -> Duty | None:
        return duty_of(self._store, toolpath, machine)

    def _kg(self, toolpath: Toolpath, material_id: str, machine: Machine | None) -> float:
        """What one copy draws."""
        duty, material = self._duty(toolpath, machine), self._materials[material_id]
        motion = machine.motion if machine else MotionLimits()
        around = Surroundings(material.id, filament_diameter_mm=motion.filament_diameter_mm)
        return 0.0 if duty is None else max(0.0, filament_kg(duty.whole, around, material))

    def _exposure(self, part: FinishingPart, machine: Machine, line: QueueLine) -> float:
        """What one copy asks of a part; machines of a build ask the same of their parts."""
        around = Surroundings(line.entry.material, machine.enclosure_c, machine.motion.filament_diameter_mm)
        key = (part.kind.id, line.toolpath.id, machine.motion, around)
        if key not in self._exposures:
            duty = self._duty(line.toolpath, machine)
            material = self._materials[line.entry.material]
            asked = 0.0 if duty is None else exposure_of(part.kind, duty.whole, around, material)
            self._exposures[key] = asked
        return self._exposures[key]

    def _troubles(self, machine: Machine, duties: Sequence[Duty | None]) -> Iterator[tuple[Trouble, ...]]:
        """What the reading of each copy's file says against the machine, the grave first."""
        feed, fitted = feed_path_of(self._store, machine), self._store.fittings(machine.id, open_only=True)
        seen: dict[tuple[int, str], tuple[Trouble, ...]] = {}
        for line, duty in zip(self._lines, duties, strict=True):
            key, material = (line.toolpath.id, line.entry.material), self._materials[line.entry.material]
            if key not in seen and duty is not None:
                limit = sustained(feed, material, (material.nozzle_c.value,), machine.enclosure_c)
                said = troubles_by_duty(machine, fitted, feed, limit, material, duty)
                seen[key] = tuple(sorted(said, key=lambda one: not one.grave))
            yield seen.get(key, (Trouble("limits", True, "It holds no printing for this machine."),))

    @staticmethod
    def _may(machine: Machine, line: QueueLine, troubles: tuple[Trouble, ...]) -> bool:
        """A person's word goes before what the file's reading says against it."""
        if line.placed is not None:
            return line.placed.id == machine.id
        return not any(trouble.grave for trouble in troubles)


def _hours_of(stop: PlannedStop, now_utc: datetime) -> tuple[float, float]:
    begins_h = (stop.begins_utc - now_utc).total_seconds() / 3600
    return begins_h, begins_h + stop.minutes / 60


_DUTIES: dict[tuple[str, str, MotionLimits], Duty | None] = {}
MOST_DUTIES = 2000


def duty_of(store: Store, toolpath: Toolpath, machine: Machine | None) -> Duty | None:
    """What a file asks as a machine moves, or as any would where none is named, without its course over the print.

    None where it holds no printing. Kept: it hangs on the content and the limits alone.
    """
    from feedwright.toolpath.read import READER_VERSION

    key = (toolpath.sha256, READER_VERSION, machine.motion if machine else MotionLimits())
    if key not in _DUTIES:
        if len(_DUTIES) >= MOST_DUTIES:
            _DUTIES.clear()
        duty = reading_for(store, toolpath, machine).duty
        _DUTIES[key] = duty and replace(duty, profile=Profile(duty.profile.slice_s, (), (), (), (), (), ()))
    return _DUTIES[key]
