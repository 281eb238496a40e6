"""A large farm to time the pages on: by default 300 machines with 500,000 runs over five years.

``python benchmarks/big_farm.py FOLDER [--machines 300] [--runs 500000] [--seed 1]``. Machines of every build print the
demo's toolpaths; each is opened every six weeks, when its feed path is looked at and part of it renewed. Lives are
drawn from the catalogue's rules of thumb, so that grades and failures are of a likely kind. Records are written in
bulk, one act a machine, and totals are counted once. Runs of the last year and a half draw from spools, and around them
stand stores, a queue, prints under way, visits, cases and new files (``big_farm_around.py``). About five minutes.
"""

import argparse
import random
import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from big_farm_around import SPOOLS_SINCE_DAYS, Rack, furnish
from feedwright.catalogue.load import load_catalogue
from feedwright.demo.toolpath_maker import THINGS, Thing, toolpath_of
from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.settings import set_farm_name
from feedwright.farm.machines.charging import stretch_of_run
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.machines.totals import recount
from feedwright.farm.toolpaths.toolpaths import keep_toolpath, reading_for
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Finding, Fitting, Machine, Removal, Run, Toolpath
from feedwright.wear.findings import wear_grades

DAYS = 5 * 365
LOOK_EVERY_DAYS = 42
LOOKED_AT = ("tube_end", "nozzle", "drive_gear", "sink_fan", "tube_coupler", "part_fan", "idler", "bed_surface")


def make_big_farm(folder: Path, machines: int, runs: int, seed: int) -> None:
    """Make it; says every tenth machine how far it is."""
    draw = random.Random(seed)
    now = datetime.now(UTC).replace(microsecond=0)
    begun = now - timedelta(days=DAYS)
    builds = list(load_catalogue().builds)
    with open_farm(folder, create=True) as store:
        set_farm_name(store, "Broad Field (a farm to time)")
        toolpaths = _toolpaths(store)
        for number in range(machines):
            name = f"Row {number // 20 + 1:02d} place {number % 20 + 1:02d}"
            machine = add_machine(store, name, builds[number % len(builds)], history="new", at_utc=begun)
            _live(store, machine, toolpaths, runs // machines, begun, draw)
            if number % 10 == 9:
                print(f"{number + 1} of {machines} machines", flush=True)
        furnish(store, [(toolpath, thing.material) for thing, toolpath in toolpaths], begun, now, seed)


def _toolpaths(store: Store) -> list[tuple[Thing, Toolpath]]:
    with tempfile.TemporaryDirectory() as held:
        kept = []
        for thing in THINGS:
            path = Path(held) / f"{thing.name}.gcode"
            path.write_text(toolpath_of(thing))
            kept.append((thing, keep_toolpath(store, path)[0]))
        return kept


def _live(
    store: Store, machine: Machine, toolpaths: list[tuple[Thing, Toolpath]], runs: int, begun: datetime,
    draw: random.Random,
) -> None:  # fmt: skip
    """Five years of one machine, in one act."""
    printed = draw.sample(toolpaths, 3)
    duties = {}
    for _, toolpath in printed:
        reading = reading_for(store, toolpath, machine)
        if reading.duty is not None:
            duties[toolpath.id] = (reading.duty, reading.reader)
    with store.act("a farm to time") as act:
        rack = Rack(act, machine, begun + timedelta(days=DAYS - SPOOLS_SINCE_DAYS), draw)
        for at in sorted(draw.uniform(0, DAYS) for _ in range(runs)):
            thing, toolpath = draw.choice(printed)
            run = Run(machine.id, begun + timedelta(days=at), "complete", thing.material, toolpath.id)
            if draw.random() < 0.04:
                run = replace(run, outcome="spoiled", fraction=round(draw.random(), 2))
            duty, reader = duties[toolpath.id]
            number, stretch = act.add(run), stretch_of_run(run, duty)
            act.put_charge(number, stretch, reader)
            rack.printed(run, number, stretch)
        fitted = {(one.part_kind, one.position): one for one in act.fittings(machine.id) if one.part_kind in LOOKED_AT}
        for day in range(LOOK_EVERY_DAYS, DAYS, LOOK_EVERY_DAYS):
            _look(act, fitted, begun + timedelta(days=day), draw)
        recount(act, load_catalogue(), machine.id)


def _look(act: ActInHand, fitted: dict[tuple[str, int], Fitting], at: datetime, draw: random.Random) -> None:
    """What a keeper sees of some parts and renews; the grade follows the days it has been on, about a life of 200."""
    for place, old in fitted.items():
        grades = wear_grades(load_catalogue().parts[place[0]])
        share = (at - old.fitted_utc).days / (200.0 * draw.lognormvariate(0.0, 0.3))
        seen = [grade for grade in grades if grade.life_low_frac <= share]
        grade = max(seen, key=lambda one: one.life_low_frac, default=grades[0])
        if draw.random() < 0.5:
            act.add(Finding(old.id, at, grade.id))
        if share > 0.9:
            new = replace(old, fitted_utc=at + timedelta(seconds=1), history="new", exposure_before=0.0)
            new = replace(new, id=act.add(new))
            act.add(Removal(old.id, at + timedelta(seconds=1), "failed" if grade.failed else "worn", new.id))
            fitted[place] = new


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("folder", type=Path)
    words.add_argument("--machines", type=int, default=300)
    words.add_argument("--runs", type=int, default=500_000)
    words.add_argument("--seed", type=int, default=1)
    given = words.parse_args()
    make_big_farm(given.folder, given.machines, given.runs, given.seed)


if __name__ == "__main__":
    main()
