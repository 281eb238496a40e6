"""Simulated farms whose truth is known: do the intervals hold it, and what does following the advice cost?

``python benchmarks/calibration.py [--farms 200] [--days 500] [--seed 1] [--lognormal]``. Every farm draws the true life
of one part kind, its shape, where its grade edges sit and how much its machines differ; keepers look now and then,
write down what they see (a few times wrongly), renew what looks worn, and note failures. What they wrote is learned
from as on a real farm. docs/calibration.md keeps the recorded run; tests/outside/test_calibration.py runs a small one.
"""

import argparse
import math
import sys
import time
from dataclasses import dataclass, replace
from statistics import fmean

import numpy as np

from feedwright.catalogue.entry import PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.planning.prospect import age_optimum, cost_rate
from feedwright.planning.values import RenewalCosts
from feedwright.wear.findings import EDGES, Look, Story, edges_of, wear_grades
from feedwright.wear.life import RenewalRates, life_table
from feedwright.wear.pooled import PooledLife, learn
from feedwright.wear.posterior import normal_of, quantiles
from feedwright.wear.values import Interval

KINDS = ("tube_end", "nozzle", "tube_coupler", "drive_gear", "sink_fan")
MISREAD, JITTER_SD = 0.03, 0.04
CHECKED = (0.05, 0.95)
PRODUCT = {kind: load_catalogue().parts[kind].products[0].id for kind in KINDS}


@dataclass(frozen=True)
class Truth:
    """What is really so on one farm."""

    kind: PartKind
    median: float
    shape: float
    edge: float
    frailty: np.ndarray
    """Factor of each machine's lives."""
    pace: np.ndarray
    """Exposure a day of each machine."""

    lognormal: bool = False
    """Lives follow another law than the one that is fitted, with 1/shape for the standard deviation of their log."""

    def life(self, machine: int, draw: np.random.Generator) -> float:
        if self.lognormal:
            spread = math.exp(draw.standard_normal() / self.shape)
        else:
            spread = draw.weibull(self.shape) / math.log(2.0) ** (1 / self.shape)
        return float(self.median * self.frailty[machine] * spread)

    def grade(self, used: float, draw: np.random.Generator) -> str:
        """What a look shows at that share of life used."""
        grades = [g for g in wear_grades(self.kind) if not g.failed]
        if used >= 1:
            return next(g.id for g in wear_grades(self.kind) if g.failed)
        seen = used * math.exp(JITTER_SD * draw.standard_normal())
        lower = [float(np.interp(self.edge, EDGES, edges_of(self.kind, g)[0])) for g in grades]
        shown = max(at for at in range(len(grades)) if lower[at] <= seen)
        if draw.random() < MISREAD:
            shown = int(draw.integers(len(grades)))
        return grades[shown].id


def farm_of(kind: PartKind, draw: np.random.Generator) -> Truth:
    """A farm drawn from what the catalogue believes."""
    life, machines = kind.life, int(draw.integers(4, 15))
    spread = draw.choice([0.08, 0.25, 0.6], p=[0.35, 0.45, 0.2])
    median = life.median.value * math.exp(normal_of(life.median.low, life.median.high) * draw.standard_normal())
    return Truth(
        kind, median,
        life.shape.value * math.exp(normal_of(life.shape.low, life.shape.high) * draw.standard_normal()),
        float(np.clip(draw.standard_normal(), -2.2, 2.2)),
        np.exp(spread * draw.standard_normal(machines)),
        # parts of a farm last a season or so, whatever their life: keepers choose what they can keep up with
        median / 90.0 * np.exp(0.5 * draw.standard_normal(machines)),
    )  # fmt: skip


def stories(truth: Truth, days: float, draw: np.random.Generator) -> list[Story]:
    """What the keepers of the farm have on record after so many days."""
    told = []
    for machine, pace in enumerate(truth.pace):
        day, every = 0.0, draw.uniform(14, 60)
        first = True
        while day < days:
            life = truth.life(machine, draw)
            had = 0.0
            if first and draw.random() < 0.4:  # met in mid-life, its history unknown
                had = life * draw.random()
            story, lasted = _one_part(truth, machine, pace, life, had, every, days - day, draw)
            rule = truth.kind.life.median.value
            before = Interval(0.0, 0.4 * rule, 0.9 * rule) if had else Interval(0.0, 0.0, 0.0)
            told.append(replace(story, before=before))
            day, first = day + lasted, False
    return told


def _one_part(
    truth: Truth, machine: int, pace: float, life: float, had: float, every: float, days: float,
    draw: np.random.Generator,
) -> tuple[Story, float]:  # fmt: skip
    looks: list[Look] = []
    fails = (life - had) / pace
    day = 0.0
    new = Interval(0.0, 0.0, 0.0)
    while True:
        day += every * draw.uniform(0.7, 1.3)
        if fails <= min(day, days):
            gathered = pace * (fails + draw.random() * 0.5)  # noticed within half a day
            return Story(
                machine, PRODUCT[truth.kind.id], new, gathered, "failed", tuple(looks), pace * max(0.0, fails - 0.5)
            ), fails
        if day >= days:
            return Story(machine, PRODUCT[truth.kind.id], new, pace * days, "open", tuple(looks)), days
        if draw.random() < 0.3:
            continue  # no time to look
        grade = truth.grade((had + pace * day) / life, draw)
        looks.append(Look(pace * day, grade))
        worst = [g.id for g in wear_grades(truth.kind) if not g.failed][-1]
        if (grade == worst and draw.random() < 0.6) or draw.random() < 0.03:
            return Story(machine, PRODUCT[truth.kind.id], new, pace * day, "renewed", tuple(looks)), day


COSTS = RenewalCosts(planned=5.2, failure=17.0, look=2.5, currency="EUR")


def true_rate(truth: Truth, machine: int, ages: np.ndarray) -> np.ndarray:
    """Long-run cost per day on one machine of renewing at these ages (exposure), by the true life."""
    table = life_table(
        "lognormal" if truth.lognormal else "weibull",
        np.log([truth.median * truth.frailty[machine]]),
        np.log([truth.shape]),
        np.ones((1, 1)),
    )
    rates = table.curves(np.ones((1, 1)), "")[0].rates
    return truth.pace[machine] * np.interp(ages, rates.exposure, cost_rate(rates, COSTS))


def rates_of(life: PooledLife, machine: int) -> RenewalRates:
    weight = life.weight_of(machine, PRODUCT[life.kind.id]).sum(axis=0)
    table = life_table(life.kind.life.distribution, life.grid.log_median, life.grid.log_shape, weight)
    return table.curves(table.of(weight)[None], "")[0].rates


@dataclass
class Tally:
    """What one farm showed."""

    median_held: bool
    shape_held: bool
    machines_held: list[bool]
    lives_held: list[bool]
    advised: float
    knowing: float
    calendar: float
    never: float
    prior: float


def judged(truth: Truth, told: list[Story], draw: np.random.Generator) -> Tally:
    """Learn from the stories, and hold what was learned against the truth."""
    life = learn(truth.kind, told)
    x, s = life.grid.log_median, life.grid.log_shape
    low, high = quantiles(x, life.kind_weight.sum(axis=1), CHECKED)
    low_s, high_s = quantiles(s, life.kind_weight.sum(axis=0), CHECKED)
    machines, lives = [], []
    knowing = advised = never = prior = 0.0
    days = np.geomspace(3.0, 2000.0, 300)
    calendar = np.zeros(days.size)
    start = learn(truth.kind, [])
    for machine, factor in enumerate(truth.frailty):
        own = life.weight_of(machine, PRODUCT[life.kind.id]).sum(axis=0)
        a, b = quantiles(x, own.sum(axis=1), CHECKED)
        machines.append(a <= math.log(truth.median * factor) <= b)
        table = life_table("weibull", x, s, own)
        curve = table.curves(table.of(own)[None], "")[0]
        lives += [curve.quantile(0.05) <= truth.life(machine, draw) <= curve.quantile(0.95) for _ in range(5)]
        grid = truth.median * factor * np.geomspace(0.02, 60.0, 2000)
        knowing += float(true_rate(truth, machine, grid).min())
        never += float(true_rate(truth, machine, grid[-1:])[0])
        advised += float(true_rate(truth, machine, np.array([_finite(age_optimum(curve.rates, COSTS).exposure)]))[0])
        best = age_optimum(rates_of(start, machine), COSTS).exposure
        prior += float(true_rate(truth, machine, np.array([_finite(best)]))[0])
        calendar += true_rate(truth, machine, days * truth.pace[machine])
    held = low <= math.log(truth.median) <= high
    held_s = low_s <= math.log(truth.shape) <= high_s
    return Tally(held, held_s, machines, lives, advised, knowing, float(calendar.min()), never, prior)


def _finite(age: float) -> float:
    return age if math.isfinite(age) else 1e30


def run(farms: int, days: float, seed: int, *, lognormal: bool = False) -> dict[str, float]:
    """The numbers over many farms."""
    known, tallies = load_catalogue().parts, []
    for farm in range(farms):
        draw = np.random.default_rng([seed, farm])
        truth = replace(farm_of(known[KINDS[farm % len(KINDS)]], draw), lognormal=lognormal)
        tallies.append(judged(truth, stories(truth, days, draw), draw))
    return {
        "farms": farms,
        "90 % interval holds the kind's median": fmean(t.median_held for t in tallies),
        "90 % interval holds the kind's shape": fmean(t.shape_held for t in tallies),
        "90 % interval holds a machine's median": fmean(held for t in tallies for held in t.machines_held),
        "90 % interval holds the next part's life": fmean(held for t in tallies for held in t.lives_held),
        "advised / all-knowing, mean over farms": fmean(t.advised / t.knowing for t in tallies),
        "rule of thumb alone / all-knowing": fmean(t.prior / t.knowing for t in tallies),
        "best fixed calendar / all-knowing": fmean(t.calendar / t.knowing for t in tallies),
        "run to failure / all-knowing": fmean(t.never / t.knowing for t in tallies),
        "farms where advised costs less than best calendar": fmean(t.advised < t.calendar for t in tallies),
    }


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--farms", type=int, default=200)
    asked.add_argument("--days", type=float, default=500.0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--lognormal", action="store_true", help="true lives follow a law that is not the one fitted")
    given = asked.parse_args()
    begun = time.perf_counter()
    for name, value in run(given.farms, given.days, given.seed, lognormal=given.lognormal).items():
        print(f"{name:<52} {value:.3f}")
    print(f"{'seconds':<52} {time.perf_counter() - begun:.0f}", file=sys.stderr)


if __name__ == "__main__":
    main()
