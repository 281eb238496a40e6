"""Merging procedures into a visit: heat-ups and minutes against doing the jobs one by one, and the time it takes.

python benchmarks/bench_merging.py [--sizes 2 4 8 16] [--rounds 20] [--seed 1]
"""

import argparse
import random
import time

from feedwright.catalogue.procedures import load_procedures
from feedwright.service.merging import HeatPlan, merge

PLAN = HeatPlan(nozzle_c=210, bed_c=60, pull_c=90)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sizes", type=int, nargs="+", default=[2, 4, 8, 16])
    asked.add_argument("--rounds", type=int, default=20)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    known = list(load_procedures().procedures.values())
    chance = random.Random(given.seed)
    usual = ("trim_tube", "renew_nozzle", "tram_bed", "first_layer")
    merged = merge([load_procedures().procedures[name] for name in usual], PLAN)
    print(f"trim, nozzle, tram, first layer: {merged.heat_ups} heat-up and {merged.minutes:.0f} min as one visit; "
          f"{merged.apart_heat_ups} and {merged.apart_minutes:.0f} min one by one")  # fmt: skip
    print(f"{'jobs':>5} {'heat-ups':>9} {'apart':>6} {'minutes':>8} {'apart':>7} {'ms a visit':>11}")
    for size in given.sizes:
        began = time.perf_counter()
        held = [merge(chance.sample(known, min(size, len(known))), PLAN) for _ in range(given.rounds)]
        took_ms = 1000 * (time.perf_counter() - began) / given.rounds
        mean = [sum(values) / given.rounds for values in zip(*(
            (one.heat_ups, one.apart_heat_ups, one.minutes, one.apart_minutes) for one in held
        ), strict=True)]  # fmt: skip
        print(f"{size:>5} {mean[0]:>9.2f} {mean[1]:>6.2f} {mean[2]:>8.0f} {mean[3]:>7.0f} {took_ms:>11.2f}")


if __name__ == "__main__":
    main()
