"""Ten million inputs through the reader: random bytes, structured G-code, mutated, spliced and packed real files.

``python benchmarks/fuzz_reader.py --inputs 10000000`` writes what it met to ``docs/fuzzing.md``. Each worker is a
process of its own with a limit on its memory; one that says nothing for a minute counts as hung. Every input's
place (seed and number) is known beforehand, so that whatever fails can be made again.
"""

import argparse
import math
import multiprocessing as mp
import os
import random
import resource
import sys
import time
from collections.abc import Callable
from multiprocessing.sharedctypes import Synchronized
from pathlib import Path
from queue import Empty

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "toolpath"))

MEMORY_BYTES = 3 * 1024**3  # of address space: the compiler alone maps more than one
BATCH = 5_000
SILENT_S = 60.0
WHOLE_EVERY = 50
"""Each 50th input is also turned into a whole reading and its shares; the others end with the sums."""


def sums_are_sound(numbers: object) -> bool:
    import numpy as np

    return bool(np.isfinite(numbers).all())  # type: ignore[call-overload]


def try_one(data: bytes, whole: bool) -> str:
    """Kind of the input, read by the public door or straight through the compiled loop."""
    from feedwright.toolpath.read import read_bytes
    from feedwright.toolpath.single_pass import SinglePass, whole_lines
    from feedwright.toolpath.source import CHUNK_BYTES, Source
    from feedwright.toolpath.values import MotionLimits

    limits = MotionLimits() if len(data) % 3 else MotionLimits(look_ahead_moves=3, corner_rule="velocity_change")
    if whole:
        reading = read_bytes("fuzz", data, limits)
        if reading.duty is not None:
            total = reading.duty.whole.duration_s
            half = reading.duty.share(0.5).duration_s
            if not (math.isfinite(total) and math.isclose(half, total / 2, rel_tol=1e-6, abs_tol=1e-9)):
                raise ArithmeticError("half the print is not half its time")
        return reading.kind
    source = Source([data])
    blocks = list(source.text())
    one = SinglePass(limits, CHUNK_BYTES if source.packed else len(data))
    one.run(whole_lines(blocks, one.reading, CHUNK_BYTES if source.packed else len(data)))
    if not (sums_are_sound(one.timing.slices) and sums_are_sound(one.reading.passes_mm)):
        raise ArithmeticError("a sum is not finite")
    return "summed"


def work(number: int, seed: int, batches: Synchronized, told: mp.Queue) -> None:  # type: ignore[type-arg]
    """Take batches until none is left; tell what each came to."""
    os.nice(19)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    from mutations import MAKERS, SHARES, corpus

    pieces = corpus()
    while True:
        with batches.get_lock():
            batch = batches.value
            batches.value -= 1
        if batch <= 0:
            return
        draw = random.Random(f"{seed}/{batch}")
        made: dict[str, int] = {}
        failed: list[tuple[int, int, str]] = []
        for item, maker in enumerate(draw.choices(MAKERS, SHARES, k=BATCH)):
            made[maker.__name__] = made.get(maker.__name__, 0) + 1
            data = maker(draw, pieces)
            try:
                try_one(data, item % WHOLE_EVERY == 0)
            except Exception as error:  # whatever it is, it is what we look for
                failed.append((batch, item, f"{type(error).__name__}: {error}"))
        told.put((number, batch, made, failed, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss))


def run(inputs: int, workers: int, seed: int, say: Callable[[str], None]) -> dict[str, object]:
    """Fuzz with that many inputs; returns what was met."""
    batches = mp.Value("q", -(-inputs // BATCH))
    wanted = batches.value
    told: mp.Queue = mp.Queue()  # type: ignore[type-arg]
    crew = [mp.Process(target=work, args=(n, seed, batches, told), daemon=True) for n in range(workers)]
    for one in crew:
        one.start()
    begun = time.monotonic()
    made: dict[str, int] = {}
    failed: list[tuple[int, int, str]] = []
    first_kb: dict[int, int] = {}
    last_kb: dict[int, int] = {}
    done, ended = 0, ""
    while done < wanted and not ended:
        try:
            number, _, counts, bad, peak_kb = told.get(timeout=SILENT_S)
        except Empty:
            alive = [one.pid for one in crew if one.is_alive()]
            ended = f"nothing heard for {SILENT_S:.0f} s; processes still alive: {len(alive)}"
            break
        done += 1
        for name, count in counts.items():
            made[name] = made.get(name, 0) + count
        failed += bad
        first_kb.setdefault(number, peak_kb)
        last_kb[number] = peak_kb
        if done % 100 == 0:
            say(f"{done * BATCH:,} inputs, {len(failed)} failures, {time.monotonic() - begun:.0f} s")
    for one in crew:
        one.join(timeout=5)
        if one.is_alive():
            one.terminate()
    crashed = sum(one.exitcode not in (0, None) for one in crew)
    return {
        "inputs": sum(made.values()), "made": made, "failed": failed, "seconds": time.monotonic() - begun,
        "peak_mb": max(last_kb.values(), default=0) / 1024,
        "growth_mb": max((last_kb[n] - first_kb[n] for n in last_kb), default=0) / 1024,
        "ended": ended, "crashed": crashed, "seed": seed, "workers": workers,
    }  # fmt: skip


def report(met: dict[str, object]) -> str:
    from feedwright.toolpath.read import READER_VERSION

    made: dict[str, int] = met["made"]  # type: ignore[assignment]
    failed: list[tuple[int, int, str]] = met["failed"]  # type: ignore[assignment]
    rows = "\n".join(f"| {name.replace('_', ' ')} | {count:,} |" for name, count in sorted(made.items()))
    found = "\n".join(f"- batch {batch}, input {item}: {words}" for batch, item, words in failed[:20]) or "None."
    return f"""# Fuzzing the toolpath reader

Recorded by `benchmarks/fuzz_reader.py`; the same seed makes the same inputs. A few seconds of it run with the tests.

| | |
| --- | --- |
| inputs | {met["inputs"]:,} |
| seed | {met["seed"]} |
| reader | {READER_VERSION} |
| worker processes | {met["workers"]} |
| duration | {met["seconds"]:.0f} s |
| failures (exceptions, sums that are not finite, shares that do not add up) | {len(failed)} |
| processes that crashed | {met["crashed"]} |
| hangs (a worker silent for {SILENT_S:.0f} s) | {met["ended"] or "none"} |
| peak memory of a worker | {met["peak_mb"]:.0f} MB |
| growth of that peak after the first batch | {met["growth_mb"]:.1f} MB |

| made as | inputs |
| --- | --- |
{rows}

Failures:

{found}

Found by an earlier run of a million inputs and mended before this one: an arc whose end lies at its
own start angle but at another radius had no length, and divided by it (31 inputs; now a full circle, with a test
in `tests/toolpath/test_read.py`).
"""


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--inputs", type=int, default=10_000_000)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--seed", type=int, default=20261125)
    asked.add_argument("--to", type=Path, default=ROOT / "docs" / "fuzzing.md")
    options = asked.parse_args()
    met = run(options.inputs, options.workers, options.seed, lambda words: print(words, flush=True))
    options.to.write_text(report(met))
    print(options.to.read_text())
