"""Toolpath files that came over a connection: read in a process apart, with limits, before they are taken in."""

import json
import subprocess
import sys
import threading
from pathlib import Path

from feedwright.errors import BadInput
from feedwright.farm.ground.file_names import shown_name
from feedwright.farm.toolpaths.reading_worker import MOST_CPU_S, MOST_MEMORY_BYTES
from feedwright.farm.toolpaths.toolpaths import content_hash, keep_toolpath
from feedwright.records.rows import motion_to_text, reading_from_text
from feedwright.records.store import Store
from feedwright.records.values import Toolpath
from feedwright.toolpath.values import MotionLimits, Reading

MOST_S = 300.0
_AT_ONCE = threading.BoundedSemaphore(2)
"""However many files come at once, two are read; the rest wait in line."""
MOST_ANSWER_BYTES = 32 << 20
"""A reading is some dozens of kB: a worker that says more is not believed."""


def take_upload(store: Store, path: Path, *, name: str | None) -> Toolpath:
    """Read a file apart, then keep it; ``name`` is what it was called elsewhere, shown and never used as a path.

    Raises BadToolpath where it is no filament toolpath, BadInput where reading it takes more than any print's needs.
    """
    from feedwright.toolpath.read import READER_VERSION

    called, limits = shown_name(name, "toolpath"), MotionLimits()
    if store.reading(content_hash(path), READER_VERSION, limits) is None:
        store.keep_reading(read_apart(path, limits, called=called), READER_VERSION, limits)
    kept, _ = keep_toolpath(store, path, name=called)
    return kept


def read_apart(
    path: Path, limits: MotionLimits, *, called: str, most_s: float = MOST_S, cpu_s: int = MOST_CPU_S,
    memory_bytes: int = MOST_MEMORY_BYTES,
) -> Reading:  # fmt: skip
    """Read a file in a process of its own; raises BadInput where it had to be ended."""
    told = {"limits": motion_to_text(limits), "cpu_s": cpu_s, "memory_bytes": memory_bytes}
    command = [sys.executable, "-P", "-m", "feedwright.farm.toolpaths.reading_worker", str(path)]
    try:
        with _AT_ONCE:
            done = subprocess.run(
                command, input=json.dumps(told).encode(), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                timeout=most_s, check=True, start_new_session=True,
            )  # fmt: skip
    except (subprocess.TimeoutExpired, subprocess.CalledProcessError) as error:
        raise _too_much(called) from error
    if len(done.stdout) > MOST_ANSWER_BYTES:
        raise _too_much(called)
    return reading_from_text(done.stdout.decode())


def _too_much(called: str) -> BadInput:
    return BadInput(
        called, expected="reading it takes more time or memory than a print's file needs",
        remedy="if it is one all the same, add it at the machine with `feedwright toolpath add`",
    )  # fmt: skip
