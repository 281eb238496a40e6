"""How fast a toolpath is read, timed and summed, beside things everybody has: ratios of one run, no gate.

``python benchmarks/bench_reader.py [--megabytes 200] [--rounds 5]`` makes a synthetic file in a temporary folder.
"""

import argparse
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from multiprocessing import get_context
from pathlib import Path

from feedwright.toolpath.read import read_file, read_many
from make_toolpath import make_toolpath


def seconds(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun


def split_lines(path: Path) -> int:
    """The plainest Python loop: split every line at its blanks."""
    with path.open("rb") as file:
        return sum(len(line.split()) for line in file)


def read_words(path: Path) -> float:
    """The plainest Python reader: split every line into words and read their numbers."""
    total = 0.0
    with path.open() as file:
        for line in file:
            for word in line.split(";")[0].split()[1:]:
                total += float(word[1:] or 0)
    return total


def read_moves(path: Path) -> tuple[int, float]:
    """A plain Python reader: split every line, read its words, keep where the tool is. It times nothing."""
    at = dict.fromkeys("XYZEF", 0.0)
    moves, length_mm = 0, 0.0
    with path.open() as file:
        for line in file:
            words = line.split(";")[0].split()
            if not words or words[0] not in ("G0", "G1"):
                continue
            asked = {word[0]: float(word[1:]) for word in words[1:]}
            length_mm += math.hypot(*(asked.get(axis, at[axis]) - at[axis] for axis in "XYZ"))
            at.update(asked)
            moves += 1
    return moves, length_mm


def count_words(path: Path, locale: str) -> None:
    subprocess.run(["wc", str(path)], stdout=subprocess.DEVNULL, env={**os.environ, "LC_ALL": locale}, check=True)


def peak_mb(path: Path) -> float:
    """Peak memory of a fresh process that reads one file."""
    with get_context("spawn").Pool(1) as pool:
        return pool.apply(_read_and_measure, (path,))


def _read_and_measure(path: Path) -> float:
    read_file(path)
    status = Path("/proc/self/status").read_text()  # the resource call would count the parent's peak too
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


def main(megabytes: int, rounds: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path, small = Path(folder, "large.gcode"), Path(folder, "small.gcode")
        moves = make_toolpath(path, megabytes * 1_000_000)
        make_toolpath(small, 2_000_000)
        eight = [Path(folder, f"{n}.gcode") for n in range(8)]
        for one in eight:
            make_toolpath(one, megabytes * 100_000)
        read_file(small)
        acts: dict[str, Callable[[], object]] = {
            "one thread": lambda: read_file(path, sha256="known", threads=1),
            "two threads": lambda: read_file(path, sha256="known"),
            "two threads, hashing": lambda: read_file(path),
            "one thread, watched": lambda: read_file(path, sha256="known", threads=1, watch=lambda moves: None),
            "wc, C locale": lambda: count_words(path, "C"),
            "wc, C.UTF-8 locale": lambda: count_words(path, "C.UTF-8"),
            "Python loop, split only": lambda: split_lines(path),
            "eight files, one worker": lambda: list(read_many(eight, workers=1)),
            "eight files, two workers": lambda: list(read_many(eight, workers=2)),
        }
        took: dict[str, list[float]] = {name: [] for name in acts}
        for _ in range(rounds):
            for name, act in acts.items():
                took[name].append(seconds(act))
        took["Python loop, words and numbers"] = [seconds(lambda: read_words(path))]
        took["Python loop, lines to moves"] = [seconds(lambda: read_moves(path))]
        median = {name: statistics.median(times) for name, times in took.items()}
        for name, middle in median.items():
            size = sum(one.stat().st_size for one in eight) if name.startswith("eight") else path.stat().st_size
            print(f"{name:32} {size / middle / 1e6:8.0f} MB/s   ({min(took[name]):.2f} to {max(took[name]):.2f} s)")
        one = median["one thread"]
        print(f"\nmoves a second on one thread      {moves / one / 1e6:.1f} million")
        for name in [name for name in median if name.startswith(("wc", "Python"))]:
            print(f"one thread over {name:32} {median[name] / one:6.2f}")
        print(f"two threads over one              {one / median['two threads']:.2f}")
        workers = median["eight files, one worker"] / median["eight files, two workers"]
        print(f"two workers over one              {workers:.2f}")
        print(f"timed moves, time over duty       {median['one thread, watched'] / one:.2f}")
        low, high = peak_mb(small), peak_mb(path)
        print(f"peak memory, 2 MB and {megabytes} MB     {low:.0f} MB, {high:.0f} MB: {high - low:+.1f} MB")


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent))
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--megabytes", type=int, default=200)
    asked.add_argument("--rounds", type=int, default=5)
    options = asked.parse_args()
    main(options.megabytes, options.rounds)
