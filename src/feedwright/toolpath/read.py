"""The reader's door: a file to what it asks of a machine, or to the reason it is refused.

What each command is taken to mean stands in ``docs/reading-gcode.md``. Only reading a file brings in the
compiled loop: importing this module does not.
"""

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from feedwright.errors import BadInput
from feedwright.toolpath.compiled import KERNEL_DIGEST
from feedwright.toolpath.kinds import kind_of_bytes
from feedwright.toolpath.source import CHUNK_BYTES, Source, ahead
from feedwright.toolpath.values import MotionLimits, Reading

if TYPE_CHECKING:
    from feedwright.toolpath.single_pass import Watch

READER_VERSION = f"3-{KERNEL_DIGEST[:12]}"
"""Changes whenever the compiled loop does, so that a kept reading is known to be of another make."""

TWO_THREADS_FROM_BYTES = 4_000_000


def read_file(
    path: Path,
    limits: MotionLimits | None = None,
    *,
    sha256: str = "",
    progress: Callable[[int], None] | None = None,
    threads: int = 2,
    watch: "Watch | None" = None,
) -> Reading:
    """Read one file, plain or gzip, as a machine of these limits would execute it.

    Memory does not grow with the file. A file that is no filament toolpath gives a reading whose ``duty`` is
    None and whose ``refused_because`` says why; one that cannot be opened raises BadInput. ``sha256`` spares
    hashing where it is known; ``progress`` is told the bytes read since it was last told; ``watch`` is shown
    the timed moves in order. A long file is read by one thread, and timed and watched by another; its bytes are
    fetched and hashed ahead of both.
    """
    with opened(path) as file:
        size = os.fstat(file.fileno()).st_size
        source = Source(_blocks(file), None if sha256 else hashlib.sha256(), progress)
        return _read(path.name, source, limits or MotionLimits(), size, sha256=sha256, threads=threads, watch=watch)


def read_bytes(name: str, data: bytes, limits: MotionLimits | None = None) -> Reading:
    """Read a file's content that is already in memory."""
    blocks = (data[at : at + CHUNK_BYTES] for at in range(0, len(data), CHUNK_BYTES))
    return _read(name, Source(blocks, hashlib.sha256()), limits or MotionLimits(), len(data))


def read_many(
    paths: Sequence[Path],
    limits: MotionLimits | None = None,
    *,
    workers: int | None = None,
    on_done: Callable[[Path], None] | None = None,
) -> Iterator[tuple[Path, Reading]]:
    """Read many files side by side, one thread each; yields them as they are done.

    ``workers`` is by default the number of cores this process may use; ``on_done`` is told each path.
    """
    with ThreadPoolExecutor(workers or _cores()) as pool:
        threads = 2 if len(paths) == 1 else 1
        waiting = {pool.submit(read_file, path, limits, threads=threads): path for path in paths}
        for done in as_completed(waiting):
            path = waiting[done]
            reading = done.result()
            if on_done is not None:
                on_done(path)
            yield path, reading


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def opened(path: Path) -> Iterator[BinaryIO]:
    """A file to read bytes from; raises BadInput where that cannot be done."""
    try:
        with path.open("rb") as file:
            yield file
    except OSError as error:
        raise BadInput(
            str(path),
            expected=error.strerror or "cannot be read",
            remedy="check the path and that you may read it",
        ) from error


def _blocks(file: BinaryIO) -> Iterable[bytes]:
    return iter(lambda: file.read(CHUNK_BYTES), b"")


def _read(
    name: str, source: Source, limits: MotionLimits, size: int, *, sha256: str = "", threads: int = 1,
    watch: "Watch | None" = None,
) -> Reading:  # fmt: skip
    from feedwright.toolpath.outcome import outcome, refused
    from feedwright.toolpath.single_pass import SinglePass, whole_lines

    blocks = source.text()
    first = next(blocks, b"")
    told = kind_of_bytes(source.head)
    if told is not None:
        source.drain()
        return replace(refused(name, source, sha256 or source.digest.hexdigest(), told), reader=READER_VERSION)
    most_bytes = CHUNK_BYTES if source.packed else min(size, CHUNK_BYTES)
    whole = SinglePass(limits, most_bytes, watch=watch)
    all_of_it = chain([first], blocks)
    if threads > 1 and size >= TWO_THREADS_FROM_BYTES:
        whole.run_in_two_threads(whole_lines(ahead(all_of_it), whole.reading, most_bytes))
    else:
        whole.run(whole_lines(all_of_it, whole.reading, most_bytes))
    return replace(outcome(name, source, sha256 or source.digest.hexdigest(), whole), reader=READER_VERSION)
