"""What holding a file against a machine costs beside merely reading it: a ratio of one run, no gate.

``python benchmarks/bench_fit.py [--megabytes 100] [--rounds 5]`` makes a synthetic file in a temporary folder.
"""

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from feedwright.farm.dispatch.fits import fit
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine, machine_named
from feedwright.farm.toolpaths.toolpaths import read_toolpaths
from make_toolpath import make_toolpath


def seconds(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun


def main(megabytes: int, rounds: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "big.gcode"
        make_toolpath(path, megabytes * 1_000_000)
        with open_farm(Path(folder) / "farm", create=True) as store:
            add_machine(store, "Alder", "large_remote")
            limits = machine_named(store, "Alder").motion
            fit(store, "Alder", path, material="pla")  # compiles
            duty, whole = [], []
            for _ in range(rounds):
                duty.append(seconds(lambda: read_toolpaths([path], limits)))
                whole.append(seconds(lambda: fit(store, "Alder", path, material="pla")))
    duty_s, fit_s = statistics.median(duty), statistics.median(whole)
    print(f"{megabytes} MB: duty {duty_s:.3f} s, fit {fit_s:.3f} s, fit / duty {fit_s / duty_s:.2f}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megabytes", type=int, default=100)
    parser.add_argument("--rounds", type=int, default=5)
    given = parser.parse_args()
    main(given.megabytes, given.rounds)
