"""Speed of the posterior against a general-purpose Bayesian-network library, in the same run, and of a whole answer.

    python benchmarks/bench_network.py

The catalogue's own network with 4 to 16 positive and 20 negative findings drawn from it: the marginals of all causes
and the chance of the evidence, by the subset method here and by junction-tree inference of pyagrum (its network is
built beforehand; only inference is timed). Then posterior, next step with its reasons and fit, for 3 to 8 findings.
"""

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "outside"))

from bayesian_networks import drawn_evidence, library_network, library_posterior

from feedwright.catalogue.network import load_network
from feedwright.diagnosis.model import model_of
from feedwright.diagnosis.next_step import Bench, advise
from feedwright.diagnosis.posterior import posterior
from feedwright.diagnosis.unexplained import fit_of
from feedwright.diagnosis.values import Prices, Situation

NET = load_network()
SITUATION = Situation("remote", "lined")
MODEL = model_of(NET, SITUATION)


def best_ms(work: Callable[[], object], times: int = 5) -> float:
    """The quickest of some runs."""
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return 1e3 * min(taken)


def against_the_library() -> None:
    print("positives   ours ms   library ms   ratio   largest difference")
    for positives in (4, 8, 12, 16):
        rows = []
        for seed in range(3):
            rng = np.random.default_rng(1000 * positives + seed)
            evidence = drawn_evidence(rng, MODEL, positives, 20)
            network = library_network(MODEL, evidence)
            ours = best_ms(lambda evidence=evidence: posterior(MODEL, evidence))
            theirs = best_ms(lambda network=network, evidence=evidence: library_posterior(network, MODEL, evidence), 2)
            chance, _ = library_posterior(network, MODEL, evidence)
            rows.append((ours, theirs, np.abs(posterior(MODEL, evidence).chance - chance).max()))
        ours, theirs = (statistics.median(row[k] for row in rows) for k in (0, 1))
        worst = max(row[2] for row in rows)
        print(f"{positives:9} {ours:9.2f} {theirs:12.1f} {theirs / ours:7.1f}   {worst:.1e}")


def whole_answers() -> None:
    print("findings   posterior ms   with next step ms   with fit ms   (median and worst of 20)")
    for findings in (3, 5, 8):
        taken = []
        for seed in range(20):
            evidence = drawn_evidence(np.random.default_rng(seed), MODEL, findings, 3)
            bench = Bench(NET, MODEL, SITUATION, Prices(30.0, "EUR"), "hot", frozenset(evidence))
            begun = time.perf_counter()
            believed = posterior(MODEL, evidence)
            first = time.perf_counter()
            advise(bench, believed)
            second = time.perf_counter()
            fit_of(NET, MODEL, evidence, believed)
            taken.append([1e3 * (at - begun) for at in (first, second, time.perf_counter())])
        columns = list(zip(*taken, strict=True))
        print(f"{findings:8}   " + "   ".join(f"{statistics.median(c):8.1f} {max(c):6.1f}" for c in columns))


if __name__ == "__main__":
    against_the_library()
    whole_answers()
