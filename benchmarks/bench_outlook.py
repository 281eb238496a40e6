"""How fast the outlook of a large farm is worked out, beside what the memory of this machine can move.

``python benchmarks/bench_outlook.py [--machines 1000] [--rounds 5]``: a thousand machines with twelve fitted parts
each, every part with a life curve of its own, a third of them looked at and so with several points of belief. One
thread. The yardstick is NumPy adding two large arrays (three times eight bytes a number). No gate: ratios are printed.
"""

import argparse
import os
import statistics
import time
from collections.abc import Callable

os.environ.setdefault("OMP_NUM_THREADS", "1")  # one core, as the claim says
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from feedwright.catalogue.load import load_catalogue
from feedwright.wear.life import life_table, prior
from feedwright.wear.outlook import told
from feedwright.wear.outlook_numbers import outlook_numbers
from feedwright.wear.standing import Standing
from feedwright.wear.values import Interval, PaceOfUse

KINDS = 12


def seconds(act: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        begun = time.perf_counter()
        act()
        times.append(time.perf_counter() - begun)
    return statistics.median(times)


def bandwidth_gb_s(rounds: int) -> float:
    """What adding two arrays of 160 MB moves."""
    one = np.ones(20_000_000)
    other, out = np.ones_like(one), np.empty_like(one)
    return 3 * one.nbytes / 1e9 / seconds(lambda: np.add(one, other, out=out), max(rounds, 3))


def farm_of(machines: int, seed: int = 1) -> list[tuple]:
    """For each kind: table, weights of each part's belief, standings and paces."""
    draw, kinds = np.random.default_rng(seed), list(load_catalogue().parts.values())[:KINDS]
    made = []
    for kind in kinds:
        belief = prior(kind.life)
        table = life_table(belief.distribution, belief.log_median, belief.log_shape, belief.weight)
        weights = table.of(np.stack([belief.weight] * machines)) * np.exp(0.3 * draw.standard_normal((machines, 1)))
        weights *= draw.uniform(0.5, 1.5, weights.shape)
        weights /= weights.sum(axis=1, keepdims=True)
        median = kind.life.median.value
        standings = []
        for _ in range(machines):
            age = median * draw.uniform(0.0, 1.2)
            points = 6 if draw.random() < 1 / 3 else 1
            low = age * draw.uniform(1.0, 1.5, points) if points > 1 else np.array([age])
            high = low * draw.uniform(1.5, 4.0, points) if points > 1 else np.array([np.inf])
            standings.append(Standing(np.full(points, age), low, high, np.full(points, 1 / points)))
        paces = [PaceOfUse(median / draw.uniform(30, 400), draw.uniform(0.2, 0.9), 8.0) for _ in range(machines)]
        made.append((kind, table, weights, standings, paces))
    return made


def main(machines: int, rounds: int) -> None:
    farm = farm_of(machines)

    def numbers() -> list:
        return [
            outlook_numbers(table.exposure, (table.alive @ weights.T).T, standings, paces)
            for _, table, weights, standings, paces in farm
        ]

    def with_words() -> int:
        count = 0
        for (kind, table, weights, standings, paces), held in zip(farm, numbers(), strict=True):
            curve = table.curves(weights[:1], "the rule of thumb")[0]
            for row, (standing, pace) in enumerate(zip(standings, paces, strict=True)):
                age = float(standing.age[0])
                told(kind, curve, Interval(age, age, age), pace, (), held, row)
                count += 1
        return count

    parts = machines * KINDS
    took, whole, moves = seconds(numbers, rounds), seconds(with_words, 1), bandwidth_gb_s(rounds)
    lives = sum(table.kept.size for _, table, *_ in farm) / KINDS
    print(f"{machines} machines, {parts} fitted parts, one thread, medians of {rounds} rounds in one run")
    print(f"outlooks, numbers:      {took:7.3f} s, {1e6 * took / parts:6.1f} us a part (asked for: under 1 s)")
    print(f"with their sentences:   {whole:7.3f} s")
    print(f"memory yardstick:       {moves:7.2f} GB/s (NumPy, adding two arrays)")
    moved = parts * 8 * farm[0][1].exposure.size / 1e9
    print(f"the parts' curves:      {moved * 1000:7.1f} MB, read once at the yardstick {moved / moves:.4f} s")
    print(f"ratio to reading once:  {took / (moved / moves):7.1f} (each from {lives:.0f} believed lives)")


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--machines", type=int, default=1000)
    asked.add_argument("--rounds", type=int, default=5)
    given = asked.parse_args()
    main(given.machines, given.rounds)
