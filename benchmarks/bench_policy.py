"""The policy simulation beside the same model in a general-purpose discrete-event library.

``python benchmarks/bench_policy.py [--machines 100] [--farms 200] [--years 5]``; needs the discrete-event library
``simpy`` of the check group. Both live the same kind of farm week by week: every part gathers its week's work, fails
once its life is used up, and is renewed at an age. An event is one part's week. One thread each; the library lives one
farm.
"""

import argparse
import math
import time
from dataclasses import replace

import numpy as np

from feedwright.planning.policy import PartInPlace, PartRule, Policy, simulate
from feedwright.planning.values import RenewalCosts

PARTS, ETA, SHAPE, UNEVEN = 5, 1000.0, 2.5, 0.4
COSTS = RenewalCosts(planned=5.2, failure=17.0, look=2.5, currency="EUR")


def farm_of(machines: int, farms: int) -> list[PartInPlace]:
    one = PartInPlace(
        machine=0, pace_per_day=5.0, gathered=0.0, medians=np.full(farms, ETA * math.log(2) ** (1 / SHAPE)),
        shapes=np.full(farms, SHAPE), lognormal=False, costs=COSTS, parts_cost=0.5, minutes=12.0,
        unplanned_minutes=20.0, spoils_frac=0.7, look_minutes=6.0, worn_from_frac=0.8, heat_minutes=0.0,
        tram_minutes=0.0, lost_print_h=2.5,
    )  # fmt: skip
    return [replace(one, machine=machine) for machine in range(machines) for _ in range(PARTS)]


def with_library(machines: int, weeks: int, age_limit: float, seed: int) -> float:
    """Cost of one farm lived through in the library."""
    import simpy

    draw = np.random.default_rng(seed)
    spent = [0.0]

    def work_of(environment: simpy.Environment, share: list[float]):
        while True:
            share[0] = 7.0 * math.exp(UNEVEN * draw.standard_normal() - 0.5 * UNEVEN**2)
            yield environment.timeout(1)

    def part(environment: simpy.Environment, share: list[float]):
        age, lasts = 0.0, ETA * draw.weibull(SHAPE)
        while True:
            yield environment.timeout(1)
            age += 5.0 * share[0]
            if age >= lasts or age >= age_limit:
                spent[0] += COSTS.failure if age >= lasts else COSTS.planned
                age, lasts = 0.0, ETA * draw.weibull(SHAPE)

    environment = simpy.Environment()
    for _ in range(machines):
        share = [7.0]
        environment.process(work_of(environment, share))
        for _ in range(PARTS):
            environment.process(part(environment, share))
    environment.run(until=weeks + 0.5)
    return spent[0]


def main(machines: int, farms: int, years: float) -> None:
    weeks = round(years * 365.25 / 7)
    parts = farm_of(machines, farms)
    policy = [Policy("by age", (PartRule(age=500.0),) * len(parts))]
    simulate(farm_of(1, 2), [Policy("warm", (PartRule(),) * PARTS)], years=1.0, farms=2)
    begun = time.perf_counter()
    ours = simulate(parts, policy, years=years, farms=farms, uneven=UNEVEN)[0]
    took = time.perf_counter() - begun
    begun = time.perf_counter()
    theirs = with_library(machines, weeks, 500.0, 1) / (weeks * 7 / 365.25)
    library = time.perf_counter() - begun
    rate, library_rate = len(parts) * weeks * farms / took, len(parts) * weeks / library
    print(f"{machines} machines of {PARTS} parts, {weeks} weeks; one thread each, in one run")
    print(f"ours:    {farms} farms in {took:.3f} s, {rate / 1e6:9.2f} million part-weeks a second")
    print(f"library: 1 farm in {library:.3f} s, {library_rate / 1e6:9.4f} million part-weeks a second")
    print(f"ratio:   {rate / library_rate:.0f} (asked for: at least 100)")
    print(
        f"cost a year: {ours.mean['cost']:.0f} (nine in ten farms {ours.per_year['cost'].low:.0f} to "
        f"{ours.per_year['cost'].high:.0f}); the library's one farm {theirs:.0f}"
    )


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--machines", type=int, default=100)
    asked.add_argument("--farms", type=int, default=200)
    asked.add_argument("--years", type=float, default=5.0)
    given = asked.parse_args()
    main(given.machines, given.farms, given.years)
