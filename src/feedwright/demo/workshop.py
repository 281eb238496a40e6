"""The invented workshop "Larkspur Yard": a dozen machines that print invented things for ten months.

Days are lived through one by one: machines print, parts wear by their hidden truth, some fail and spoil a
print, the two keepers look and renew. What they write down is all the program ever sees.
"""

import random
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from feedwright.catalogue.load import load_catalogue
from feedwright.demo.toolpath_maker import THINGS, Thing, toolpath_of
from feedwright.demo.truth import TruePart, Truth
from feedwright.farm.charging import stretch_of_run
from feedwright.farm.events import add_event
from feedwright.farm.findings import add_finding
from feedwright.farm.house import open_farm
from feedwright.farm.machines import add_machine
from feedwright.farm.people import add_person
from feedwright.farm.renewals import renew
from feedwright.farm.runs import add_runs
from feedwright.farm.settings import set_farm_name, set_zone
from feedwright.farm.toolpaths import keep_toolpath, reading_for
from feedwright.records.store import Store
from feedwright.records.values import History, Machine, Run, Toolpath
from feedwright.records.whole_folder import whole_folder
from feedwright.toolpath.values import Duty, Stretch
from feedwright.wear.exposure import exposure_of
from feedwright.wear.values import Surroundings

DEFAULT_SEED = 2
DAYS = 304
KEEPERS = ("Ines", "Tobias")
FEED_PATH = ("tube_end", "nozzle", "drive_gear", "sink_fan", "tube_coupler", "part_fan", "idler")
"""What the keepers look at; the rest is renewed when it fails."""


@dataclass(frozen=True, slots=True)
class Keeping:
    """One machine of the workshop and how it is used and kept."""

    name: str
    build: str
    prints_a_day: float
    things: tuple[str, ...]
    history: History = "new"
    products: tuple[tuple[str, str], ...] = ()
    look_every_days: int = 30
    last_look_day: int = DAYS - 75
    """The keepers have been busy lately: most machines were last opened about two months ago."""
    idle_after_day: int = DAYS


MACHINES = (
    Keeping("Alder", "moving_bed_remote", 3.0, ("planter_vase", "drawer_tray", "bird_house_wall"), look_every_days=28),
    Keeping("Beech", "moving_bed_remote", 2.0, ("cable_clips", "lamp_lattice", "bird_house_wall"), look_every_days=45),
    Keeping("Cedar", "moving_bed_remote", 1.9, ("hose_bracket", "rain_gutter_hook", "drawer_tray")),
    Keeping("Elm", "moving_bed_remote", 1.3, ("planter_vase", "cable_clips"), history="unknown", look_every_days=60),
    Keeping("Fir", "crossed_gantry_remote", 2.4, ("bird_house_wall", "drawer_tray", "hose_bracket"),
            products=(("tube_end", "higher_temperature"),)),
    Keeping("Hazel", "crossed_gantry_enclosed", 2.0, ("switch_housing", "gear_cover"), look_every_days=40),
    Keeping("Hornbeam", "moving_bed_all_metal", 1.8, ("bearing_seat", "drone_arm", "hose_bracket"),
            products=(("nozzle", "hardened_steel"),)),
    Keeping("Larch", "moving_bed_direct", 1.6, ("door_wedge", "cable_clips", "planter_vase")),
    Keeping("Maple", "large_remote", 1.6, ("planter_vase", "drawer_tray"), look_every_days=50, idle_after_day=262),
    Keeping("Pine", "three_tower_remote", 1.8, ("planter_vase", "lamp_lattice"), look_every_days=35),
    Keeping("Rowan", "moving_bed_remote", 1.8, ("planter_vase", "hose_bracket", "cable_clips")),
    Keeping("Willow", "moving_bed_remote", 1.8, ("bearing_seat", "drone_arm", "cable_clips")),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class DemoReport:
    """What was made."""

    machines: int
    runs: int
    failures: int
    renewals: int


def make_demo(
    folder: Path,
    *,
    seed: int = DEFAULT_SEED,
    progress: Callable[[float, float], None] | None = None,
    now_utc: datetime | None = None,
) -> DemoReport:
    """Make the demo farm in a new or empty folder; the same seed and day give the same records.

    It is made beside and takes its place when whole, so that breaking off leaves no half farm. ``progress`` is told
    machines done and all. Raises BadInput where the folder holds something, Conflict where another was first.
    """
    today = (now_utc or datetime.now(UTC)).replace(hour=0, minute=0, second=0, microsecond=0)
    with whole_folder(folder) as aside:
        return _live_ten_months(aside, seed, today - timedelta(days=DAYS), progress)


def _live_ten_months(
    folder: Path, seed: int, begun: datetime, progress: Callable[[float, float], None] | None
) -> DemoReport:
    truth = Truth(load_catalogue(), seed)
    with open_farm(folder, create=True) as store:
        set_farm_name(store, "Larkspur Yard (demo)")
        set_zone(store, "Europe/Vienna")
        for keeper in KEEPERS:
            add_person(store, keeper)
        toolpaths = _keep_toolpaths(store)
        total = DemoReport(0, 0, 0, 0)
        for index, keeping in enumerate(MACHINES):
            # each machine lives by a stream of its own, so that changing one leaves the others as they were
            life = _MachineLife(
                store, truth, keeping, toolpaths, begun, random.Random(f"{seed} days of {keeping.name}")
            )
            total = _sum(total, life.live())
            if progress is not None:
                progress(index + 1, len(MACHINES))
    return total


def _sum(one: DemoReport, other: DemoReport) -> DemoReport:
    return DemoReport(
        one.machines + other.machines,
        one.runs + other.runs,
        one.failures + other.failures,
        one.renewals + other.renewals,
    )


def _keep_toolpaths(store: Store) -> dict[str, tuple[Thing, Toolpath]]:
    kept = {}
    with tempfile.TemporaryDirectory() as held:
        for thing in THINGS:
            path = Path(held) / f"{thing.name}.gcode"
            path.write_text(toolpath_of(thing))
            kept[thing.name] = (thing, keep_toolpath(store, path)[0])
    return kept


class _MachineLife:
    """Ten months of one machine, day by day. Runs are gathered and written together before any other act."""

    def __init__(
        self,
        store: Store,
        truth: Truth,
        keeping: Keeping,
        toolpaths: dict[str, tuple[Thing, Toolpath]],
        begun: datetime,
        draw: random.Random,
    ) -> None:
        self.store, self.keeping, self.draw, self.begun = store, keeping, draw, begun
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
        self.waiting: list[Run] = []
        self.runs = self.failures = self.renewals = 0

    def live(self) -> DemoReport:
        """All days, then what is left to write."""
        for day in range(DAYS):
            self._happenings(day)
            if day < self.keeping.idle_after_day:
                self._print_all_day(day)
            if (
                day
                and day % self.keeping.look_every_days == 0
                and day <= min(self.keeping.last_look_day, self.keeping.idle_after_day)
            ):
                self._look(self.begun + timedelta(days=day, hours=20, minutes=30))
        self._write()
        return DemoReport(1, self.runs, self.failures, self.renewals)

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
