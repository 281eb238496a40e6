"""Dispatch against first free: the same queue on the demo farm, judged by the model and by the yard's hidden truth.

``python benchmarks/bench_dispatch.py [--seeds 6] [--rounds 300]``. Each seed makes the demo farm anew, at the state its
keepers left it in. The queue holds what the yard prints, in a shuffled order, some of it due; both ways get the same
queue, the same machines, and the same hold of the files against them. First free takes the prints as they wait and
gives each to the machine that can take it and is free first.

The truth is known to this judge alone: what each fitted part has really left is replayed from the yard's own seed as
the demo lived it, and a part whose life ends within a print spoils it with its part kind's share. Hours spoiled are
those printed until then; the part is then taken to be renewed and the print begun anew. Each print's spoiling is drawn
``--rounds`` times, with the same draws for both ways.
"""

import argparse
import random
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from feedwright.catalogue.load import load_catalogue
from feedwright.demo.machine_life import Lived, MachineLife
from feedwright.demo.toolpath_maker import THINGS
from feedwright.demo.truth import TruePart
from feedwright.demo.workshop import make_demo
from feedwright.farm.dispatch.dispatch import MOST_COPIES, prices_of
from feedwright.farm.dispatch.stations import Yard, duty_of, yard_of
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.charging import material_of
from feedwright.farm.prints.queue import QueueLine, add_to_queue
from feedwright.planning.dispatch import DispatchPlan, Reckoning, planned
from feedwright.planning.dispatch_search import first_free, plan
from feedwright.records.store import Store
from feedwright.wear.exposure import exposure_of
from feedwright.wear.values import Surroundings

Parts = dict[tuple[str, int], TruePart]
HORIZON_H = 30.0
QUEUES = 4
"""On each farm."""


@dataclass(frozen=True)
class Judged:
    """What one way of giving out the queue came to."""

    cost: float
    model_h: float
    true_h: float
    """Hours spoiled, the mean over the draws."""
    true_spoiled: float
    """Prints spoiled, the mean."""
    late_h: float


def with_truth(folder: Path, seed: int, now: datetime) -> dict[str, Parts]:
    """Make the demo farm, and keep what its lives really are at the end, by machine."""
    kept: dict[str, Parts] = {}
    live = MachineLife.live

    def live_and_tell(self: MachineLife) -> Lived:
        told = live(self)
        kept[self.keeping.name] = self.parts
        return told

    MachineLife.live = live_and_tell  # type: ignore[method-assign]
    try:
        make_demo(folder, seed=seed, now_utc=now)
    finally:
        MachineLife.live = live  # type: ignore[method-assign]
    return kept


def fill_queue(store: Store, draw: random.Random, now: datetime) -> list[QueueLine]:
    """What the yard prints, twice over, in the order it came in; a third of it due within a day and a quarter."""
    things = [thing for thing in THINGS for _ in range(2)]
    draw.shuffle(things)
    queued = []
    for thing in things:
        due = now + timedelta(hours=draw.uniform(6, HORIZON_H)) if draw.random() < 1 / 3 else None
        copies = max(1, thing.copies // 2)
        name = f"{thing.name}.gcode"
        queued.append(add_to_queue(store, name, material=thing.material, copies=copies, due_utc=due))
    return queued


def true_spoils(store: Store, yard: Yard, truth: dict[str, Parts], made: DispatchPlan, draws: np.ndarray) -> np.ndarray:
    """Hours spoiled in each draw, and in a second row how many prints were, (2, rounds)."""
    catalogue = load_catalogue()
    lost = np.zeros((2, draws.shape[1]))
    for station, bay in enumerate(yard.bays):
        left = {place: part.life - part.lived for place, part in truth[bay.machine.name].items()}
        for turn in (turn for turn in made.turns if turn.station == station):
            line = yard.jobs[turn.asked].line
            duty = duty_of(store, line.toolpath, bay.machine)
            assert duty is not None
            around = Surroundings(line.entry.material, bay.machine.enclosure_c, bay.machine.motion.filament_diameter_mm)
            for at, (place, part) in enumerate(truth[bay.machine.name].items()):
                asked = exposure_of(part.kind, duty.whole, around, material_of(catalogue, line.entry.material))
                if asked > 0 and left[place] <= asked:
                    share = max(0.0, left[place]) / asked
                    spoils = draws[at] < part.kind.spoils_frac.value
                    lost[0] += spoils * share * (turn.ends_h - turn.begins_h)
                    lost[1] += spoils
                    left[place] = part.life  # renewed then
                else:
                    left[place] -= asked
    return lost


def judge(store: Store, yard: Yard, truth: dict[str, Parts], made: DispatchPlan, draws: np.ndarray) -> Judged:
    """One plan by the model and by the truth."""
    lost = true_spoils(store, yard, truth, made, draws)
    late = sum(max(0.0, turn.ends_h - yard.jobs[turn.asked].asked.due_h) for turn in made.turns)
    return Judged(made.cost, made.spoiled_h, float(lost[0].mean()), float(lost[1].mean()), late)


def one_farm(seed: int, rounds: int) -> tuple[list[tuple[Judged, Judged]], float, float]:
    """Several queues on one farm: both ways of giving them out, the mean gap, seconds for one plan."""
    now = datetime.now(UTC).replace(microsecond=0)
    pairs, gaps, took = [], [], []
    with tempfile.TemporaryDirectory() as held:
        truth = with_truth(Path(held) / "farm", seed, now)
        with open_farm(Path(held) / "farm") as store:
            for number in range(QUEUES):
                draw = random.Random(f"{seed} {number}")
                waiting = [(line, line.left) for line in fill_queue(store, draw, now)]
                assert sum(copies for _, copies in waiting) <= MOST_COPIES
                yard = yard_of(store, waiting, now)
                stations, asked = [bay.station for bay in yard.bays], [job.asked for job in yard.jobs]
                reckoning = Reckoning(stations, asked, prices_of(store))
                begun = time.perf_counter()
                made = plan(reckoning)
                took.append(time.perf_counter() - begun)
                plain = planned(reckoning, first_free(reckoning))
                draws = np.random.default_rng([seed, number]).random((32, rounds))
                pairs.append((judge(store, yard, truth, made, draws), judge(store, yard, truth, plain, draws)))
                gaps.append(made.gap_frac)
    return pairs, sum(gaps) / len(gaps), sum(took) / len(took)


def main(seeds: int, rounds: int) -> None:
    pairs: list[tuple[Judged, Judged]] = []
    gaps, took = [], []
    for seed in range(1, seeds + 1):
        more, gap, seconds = one_farm(seed, rounds)
        pairs += more
        gaps.append(gap)
        took.append(seconds)
        print(f"\r{seed} of {seeds}", end="", file=sys.stderr)
    print(file=sys.stderr)
    print(f"{seeds} demo farms, {len(pairs)} queues: dispatch against first free, the same queues")
    for words, name in (
        ("expected cost", "cost"), ("expected spoiled hours, by the model", "model_h"),
        ("spoiled hours, by the hidden truth", "true_h"), ("spoiled prints, by the hidden truth", "true_spoiled"),
        ("hours late", "late_h"),
    ):  # fmt: skip
        ours, plain = (np.array([getattr(pair[way], name) for pair in pairs]) for way in (0, 1))
        ratio = ours.sum() / plain.sum() if plain.sum() else float("nan")
        spread = np.std(ours - plain, ddof=1) / np.sqrt(len(pairs))
        print(
            f"{words:38} {ours.mean():8.2f} against {plain.mean():8.2f}  ratio {ratio:.2f}  "
            f"difference {np.mean(ours - plain):+.2f} (standard error {spread:.2f})"
        )
    print(f"a plan may be bettered by at most {np.mean(gaps):.0%} of its cost; {np.mean(took):.1f} s for one plan")


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", type=int, default=6)
    asked.add_argument("--rounds", type=int, default=300)
    given = asked.parse_args()
    main(given.seeds, given.rounds)
