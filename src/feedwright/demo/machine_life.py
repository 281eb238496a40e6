"""Ten months of one machine, day by day: it prints, its parts wear by their hidden truth, some fail and spoil a print.

What the keepers write down is all that the program ever sees.
"""

import random
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from feedwright.catalogue.load import load_catalogue
from feedwright.demo.spool_rack import SpoolRack
from feedwright.demo.toolpath_maker import Thing
from feedwright.demo.truth import TruePart, Truth
from feedwright.demo.visits_made import Visitor, visits_of
from feedwright.demo.yard import FEED_PATH, KEEPERS, Keeping
from feedwright.farm.machines.charging import stretch_of_run
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_runs
from feedwright.farm.toolpaths.toolpaths import reading_for
from feedwright.records.store import Store
from feedwright.records.values import Machine, Run, Toolpath
from feedwright.toolpath.values import Duty, Stretch
from feedwright.wear.exposure import exposure_of
from feedwright.wear.values import Surroundings

SPOOL_DAYS = 12
"""Spools are on record for the last days only: the keepers began with it lately."""


@dataclass(frozen=True, slots=True)
class Lived:
    """What happened to one machine."""

    runs: int
    failures: int
    renewals: int


class MachineLife:
    """One machine and all its days. Runs are gathered and written together before any other act."""

    def __init__(
        self,
        store: Store,
        truth: Truth,
        keeping: Keeping,
        toolpaths: dict[str, tuple[Thing, Toolpath]],
        begun: datetime,
        days: int,
        seed: int,
    ) -> None:
        # each machine lives by a stream of its own, so that changing one leaves the others as they were
        self.store, self.keeping, self.begun, self.days = store, keeping, begun, days
        self.draw = draw = random.Random(f"{seed} days of {keeping.name}")
        self.truth = truth.of(keeping.name)
        self.machine: Machine = add_machine(
            store, keeping.name, keeping.build, history=keeping.history, at_utc=begun,
            product_changes=dict(keeping.products), person=KEEPERS[0],
        )  # fmt: skip
        self.things = {name: toolpaths[name] for name in keeping.things}
        self.duties: dict[str, Duty] = {}
        for name, (_, toolpath) in self.things.items():
            duty = reading_for(store, toolpath, self.machine).duty
            if duty is not None:
                self.duties[name] = duty
        used = 0.6 if keeping.history == "unknown" else 0.0
        self.parts = {
            (fitting.part_kind, fitting.position): self.truth.part(
                fitting.part_kind, fitting.product, used=used * draw.random()
            )
            for fitting in store.fittings(self.machine.id)
        }
        last_days = begun + timedelta(days=days - SPOOL_DAYS)
        self.rack = SpoolRack(store, keeping.name, last_days, random.Random(f"{seed} spools of {keeping.name}"))
        self.visitor = Visitor(
            store, self.machine, self.truth, self.parts, random.Random(f"{seed} visits {keeping.name}")
        )
        self.waiting: list[Run] = []
        self.runs = self.failures = self.renewals = 0

    def live(self) -> Lived:
        """All days, then what is left to write."""
        visits = visits_of(self.keeping.name, self.days)
        for day in range(self.days):
            self._happenings(day)
            if day < self.keeping.idle_after_day:
                self._print_all_day(day)
            if (
                day
                and day % self.keeping.look_every_days == 0
                and day <= min(self.keeping.last_look_day, self.keeping.idle_after_day)
            ):
                self._look(self.begun + timedelta(days=day, hours=20, minutes=30))
            if day in visits:
                self._write()
                self.renewals += self.visitor.visit(visits[day], self.begun + timedelta(days=day, hours=19))
        self._write()
        return Lived(self.runs, self.failures, self.renewals)

    def _happenings(self, day: int) -> None:
        """A stalled fan on one machine, a power cut that hit four."""
        at = self.begun + timedelta(days=day, hours=5)
        if day == 190 and self.keeping.name == "Cedar":
            self._write()
            add_event(
                self.store,
                self.keeping.name,
                "fan_stall",
                at_utc=at,
                nozzle_c=240,
                minutes=35,
                material="petg",
                note="the sink fan had a thread of plastic in it",
                person=KEEPERS[1],
            )
            self._wear_hot(240.0, 35.0)
        if day == 236 and self.keeping.name in ("Alder", "Beech", "Pine", "Rowan"):
            self._write()
            add_event(
                self.store,
                self.keeping.name,
                "power_cut",
                at_utc=at,
                nozzle_c=212,
                minutes=50,
                material="pla",
                note="the whole street was dark",
                person=KEEPERS[0],
            )

    def _wear_hot(self, nozzle_c: float, minutes: float) -> None:
        end = self.parts.get(("tube_end", 1))
        if end is not None:  # cooked without cooling: it ages as if for many hours
            end.lived += 12 * minutes / 60

    def _print_all_day(self, day: int) -> None:
        at_hour = 6.0 + 2 * self.draw.random()
        wanted = self.keeping.prints_a_day * self.draw.uniform(0.5, 1.5)
        while wanted > 0 and at_hour < 21 and self.draw.random() < min(1.0, wanted):
            name = self.draw.choice(self.keeping.things)
            at_hour += self._print(name, self.begun + timedelta(days=day, hours=at_hour)) + 0.3
            wanted -= 1

    def _print(self, name: str, at: datetime) -> float:
        """One print; a part whose true life ends within it may spoil it. Returns the hours it took."""
        thing, toolpath = self.things[name]
        duty = self.duties[name]
        run = Run(0, at.replace(microsecond=0), "complete", thing.material, toolpath.id, copies=thing.copies)
        broken, share = self._first_failure(duty, thing)
        if broken is not None and self.draw.random() < self.parts[broken].kind.spoils_frac.value:
            done, fraction = divmod(share * thing.copies, 1.0)
            run = replace(run, outcome="spoiled", copies=int(done) + 1, fraction=min(0.999, round(fraction, 3)))
        run = self.rack.printed(run, duty, self.machine)
        self.waiting.append(run)
        self.runs += 1
        for part, amount in self._amounts(stretch_of_run(run, duty), thing):
            part.lived += amount
        hours = duty.whole.duration_s / 3600 * (run.copies - 1 + run.fraction)
        if broken is not None:
            self.failures += 1
            self._renew(broken, at + timedelta(hours=hours + 0.2), "failed")
        return hours

    def _amounts(self, stretch: Stretch, thing: Thing) -> Iterable[tuple[TruePart, float]]:
        around = Surroundings(thing.material, self.machine.enclosure_c, self.machine.motion.filament_diameter_mm)
        material = load_catalogue().materials[thing.material]
        for part in self.parts.values():
            yield part, exposure_of(part.kind, stretch, around, material)

    def _first_failure(self, duty: Duty, thing: Thing) -> tuple[tuple[str, int] | None, float]:
        """The place whose part fails first within this print, and at which share of it."""
        first, at = None, 1.0
        for (place, part), (_, amount) in zip(
            self.parts.items(), self._amounts(duty.whole.times(thing.copies), thing), strict=True
        ):
            if amount > 0 and part.lived + amount >= part.life:
                share = max(0.001, (part.life - part.lived) / amount)
                if share < at:
                    first, at = place, share
        return first, at

    def _look(self, at: datetime) -> None:
        """The keepers open the machine, write down what they see, and renew what looks worn."""
        keeper = self.draw.choice(KEEPERS)
        for place in [place for place in self.parts if place[0] in FEED_PATH]:
            part = self.parts[place]
            grade = self.truth.grade(part)
            if part.share > 0.75 and self.draw.random() < 0.6:
                self._renew(place, at, "worn", grade)
            elif self.draw.random() < 0.5:
                self._write()
                add_finding(
                    self.store, self.keeping.name, place[0], position=place[1], grade=grade, found_utc=at, person=keeper
                )

    def _renew(self, place: tuple[str, int], at: datetime, reason: str, grade: str | None = None) -> None:
        self._write()
        part = self.parts[place]
        receipt = renew(
            self.store, self.keeping.name, place[0], position=place[1], reason=reason,  # type: ignore[arg-type]
            grade_found=grade or self.truth.grade(part), renewed_utc=at, person=self.draw.choice(KEEPERS),
            minutes=round(part.kind.renewal.minutes.value * self.draw.uniform(0.7, 1.5)),
        )  # fmt: skip
        self.parts[place] = self.truth.part(place[0], receipt.fitted.product)
        self.renewals += 1

    def _write(self) -> None:
        if self.waiting:
            add_runs(self.store, self.keeping.name, self.waiting, person=self.draw.choice(KEEPERS))
            self.waiting = []
