"""How fast a life is learned from many interval-censored findings, beside a survival library's mere best fit.

``python benchmarks/bench_posterior.py [--findings 10000] [--rounds 7]``; needs the survival library ``lifelines``
of the check group. Both work on the very same rows in one run; the ratio is of medians. The library gives one best
point and its standard errors, ours the whole posterior under a prior; its means are held against a grid four times
as fine.
"""

import argparse
import statistics
import time
import warnings
from collections.abc import Callable

import numpy as np

from feedwright.catalogue.entry import Life, Sourced
from feedwright.wear.likelihood import Rows
from feedwright.wear.posterior import POINTS, mean_of, posterior


def seconds(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun


def rows_of(findings: int, seed: int = 1) -> Rows:
    """Parts of scale 1000 and shape 1.7 looked at every 120 to 300 h, about a third still alive at the last look."""
    draw = np.random.default_rng(seed)
    lives, step = 1000 * draw.weibull(1.7, findings), draw.uniform(120, 300, findings)
    low = np.floor(lives / step) * step
    high = np.where(draw.random(findings) < 0.33, np.inf, low + step)
    nothing = np.zeros((findings, 1))
    return Rows(low[:, None], high[:, None], nothing, np.zeros(findings, dtype=np.intp))


def main(findings: int, rounds: int) -> None:
    from lifelines import WeibullFitter

    rows = rows_of(findings)
    life = Life(
        "weibull", Sourced(900.0, 300.0, 2700.0, "exposure", "assumed"), Sourced(2.0, 1.2, 3.3, "ratio", "assumed")
    )

    def library() -> object:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return WeibullFitter().fit_interval_censoring(rows.low[:, 0], rows.high[:, 0])

    posterior(life, rows), library()
    ours, theirs = [], []
    for _ in range(rounds):
        ours.append(seconds(lambda: posterior(life, rows)))
        theirs.append(seconds(library))
    found, fine = posterior(life, rows), posterior(life, rows, points=4 * POINTS + 1)
    off = max(
        abs(mean_of(found, of(found)) / mean_of(fine, of(fine)) - 1)
        for of in (lambda b: np.exp(b.log_median)[:, None], lambda b: np.exp(b.log_shape)[None, :])
    )
    ratio = statistics.median(theirs) / statistics.median(ours)
    print(f"{findings} interval-censored findings, medians of {rounds} rounds in one run")
    print(f"posterior on a grid:        {statistics.median(ours) * 1000:8.1f} ms")
    print(f"best fit of the library:    {statistics.median(theirs) * 1000:8.1f} ms")
    print(f"ratio:                      {ratio:8.2f} (asked for: at least 5)")
    print(f"means against a fine grid:  {off:8.1e} relative (asked for: within 1e-3)")


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--findings", type=int, default=10_000)
    asked.add_argument("--rounds", type=int, default=7)
    given = asked.parse_args()
    main(given.findings, given.rounds)
