"""Following the advice from the first day on, its mistakes while learning included, against knowing the truth.

``python benchmarks/follow_advice.py [--farms 200] [--years 3] [--seed 1]``. The farms of ``calibration.py``, new and
with nothing on record. Every four weeks the lives are learned anew; each part is renewed when its own best moment has
come, or when it fails; its grade is written down as it comes off, and nobody looks in between. All ways of keeping meet
the very same lives: the all-knowing one renews at each machine's true best age, the calendar is the best of thirty in
hindsight.
"""

import argparse
import math
import sys
import time
from dataclasses import dataclass, field
from statistics import fmean

import numpy as np

from calibration import COSTS, KINDS, PRODUCT, Truth, farm_of, true_rate
from feedwright.catalogue.load import load_catalogue
from feedwright.planning.prospect import age_policy, prospect, weighed
from feedwright.wear.findings import Look, Story
from feedwright.wear.pooled import PooledLife, learn, table_of, without
from feedwright.wear.standing import Standing
from feedwright.wear.values import Interval

STEP_DAYS = 28.0
LIVES = 600
NEW = Interval(0.0, 0.0, 0.0)


@dataclass
class Place:
    """One place on one machine, and what was written down of it."""

    machine: int
    lives: list[float]
    age: float = 0.0
    count: int = 0
    spent: float = 0.0
    told: list[Story] = field(default_factory=list)

    def live(self, gathers: float, first: float, later: float, truth: Truth, draw: np.random.Generator) -> None:
        """Gather so much; renew this part at ``first`` and those after it at ``later``, or when they fail."""
        limit = first
        while True:
            life = self.lives[self.count]
            end = min(life, max(limit, self.age))
            if self.age + gathers < end:
                self.age += gathers
                return
            gathers -= end - self.age
            failed = life <= end
            self.spent += COSTS.failure if failed else COSTS.planned
            grade = truth.grade(1.0 if failed else end / life, draw)
            kind, sound = ("failed", 0.98 * end) if failed else ("renewed", 0.0)
            product = PRODUCT[truth.kind.id]
            self.told.append(Story(self.machine, product, NEW, end, kind, (Look(end, grade),), sound))
            self.age, self.count, limit = 0.0, self.count + 1, later

    def open_story(self, product: str) -> Story:
        return Story(self.machine, product, NEW, self.age, "open")


def advised(truth: Truth, life: PooledLife, places: list[Place]) -> list[tuple[float, float]]:
    """For each place the age at which its part, and then the next ones, are to be renewed."""
    product, table = PRODUCT[truth.kind.id], table_of(life)
    weights = table.of(np.stack([life.weight_of(p.machine, product).sum(axis=0) for p in places]))
    policies = [age_policy(table, curve.rates, COSTS) for curve in table.curves(weights, "")]
    stories = [place.open_story(product) for place in places]
    own = table.of(np.stack([without(life, story).sum(axis=0) for story in stories]))
    surviving, earning = weighed(table, own, policies)
    ages = []
    for at, (place, policy) in enumerate(zip(places, policies, strict=True)):
        if math.isinf(policy.optimum.exposure):
            ages.append((math.inf, math.inf))
            continue
        standing = Standing.of(Interval(place.age, place.age, place.age))
        left = prospect(table.exposure, surviving[:, at], earning[:, at], COSTS, standing).left
        ages.append((place.age + left, policy.optimum.exposure))
    return ages


def follow(truth: Truth, lives: list[list[float]], years: float, draw: np.random.Generator) -> float:
    places = [Place(machine, held) for machine, held in enumerate(lives)]
    product = PRODUCT[truth.kind.id]
    for _ in range(round(years * 365.25 / STEP_DAYS)):
        told = [story for place in places for story in place.told]
        told += [place.open_story(product) for place in places if place.age > 0]
        life = learn(truth.kind, told)
        for place, (first, later) in zip(places, advised(truth, life, places), strict=True):
            place.live(STEP_DAYS * truth.pace[place.machine], first, later, truth, draw)
    return sum(place.spent for place in places)


def keep(truth: Truth, lives: list[list[float]], years: float, ages: np.ndarray) -> float:
    """Cost of renewing at a fixed age on each machine."""
    days = STEP_DAYS * round(years * 365.25 / STEP_DAYS)
    draw, spent = np.random.default_rng(0), 0.0
    for machine, held in enumerate(lives):
        place = Place(machine, held)
        place.live(days * truth.pace[machine], float(ages[machine]), float(ages[machine]), truth, draw)
        spent += place.spent
    return spent


def main(farms: int, years: float, seed: int) -> None:
    known, ratios = load_catalogue().parts, []
    for farm in range(farms):
        draw = np.random.default_rng([seed, farm])
        truth = farm_of(known[KINDS[farm % len(KINDS)]], draw)
        lives = [[truth.life(machine, draw) for _ in range(LIVES)] for machine in range(truth.pace.size)]
        grid = np.geomspace(0.02, 60.0, 2000)
        medians = truth.median * truth.frailty
        best = np.array([m * grid[int(np.argmin(true_rate(truth, i, m * grid)))] for i, m in enumerate(medians)])
        knowing = keep(truth, lives, years, best)
        calendars = [keep(truth, lives, years, day * truth.pace) for day in np.geomspace(7.0, 1000.0, 30)]
        never = keep(truth, lives, years, np.full(medians.size, np.inf))
        ratios.append((follow(truth, lives, years, draw), knowing, min(calendars), never))
        print(f"\r{farm + 1} of {farms}", end="", file=sys.stderr)
    followed, knowing, calendar, never = (np.array(column) for column in zip(*ratios, strict=True))
    print(file=sys.stderr)
    print(f"{farms} farms, {years:g} years each, from the first day on")
    print(f"following the advice / all-knowing, all farms together: {followed.sum() / knowing.sum():.3f}")
    print(f"following the advice / all-knowing, mean over farms:    {fmean(followed / knowing):.3f}")
    print(f"best calendar in hindsight / all-knowing, mean:         {fmean(calendar / knowing):.3f}")
    print(f"run to failure / all-knowing, mean:                     {fmean(never / knowing):.3f}")
    print(f"farms where the advice costs less than that calendar:   {fmean(followed < calendar):.3f}")


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--farms", type=int, default=200)
    asked.add_argument("--years", type=float, default=3.0)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    begun = time.perf_counter()
    main(given.farms, given.years, given.seed)
    print(f"{time.perf_counter() - begun:.0f} s", file=sys.stderr)
