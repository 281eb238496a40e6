"""The reader's door: a file to what it asks of a machine, or to the reason it is refused.

What each command is taken to mean stands in ``docs/reading-gcode.md``.
"""

import hashlib
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field
from pathlib import Path

from feedwright.errors import BadInput
from feedwright.toolpath import kernel as k
from feedwright.toolpath.compiled import KERNEL_DIGEST  # before the kernel: it says where its cache lies
from feedwright.toolpath.kinds import kind_of_bytes, kind_of_counts
from feedwright.toolpath.single_pass import CHUNK_BYTES, SinglePass, whole_lines
from feedwright.toolpath.values import MotionLimits, Reading, Remark, ToolpathKind

READER_VERSION = f"1-{KERNEL_DIGEST[:12]}"
"""Changes whenever the compiled loop does, so that a kept reading is known to be of another make."""

TWO_THREADS_FROM_BYTES = 4_000_000
HOT_C = 50.0
WORDS = {
    k.W_CHECKSUM: "the line's checksum does not match: line left out",
    k.W_UNREADABLE: "cannot be read as G-code: what could be understood was taken",
    k.W_NOT_GCODE: "not a G-code command: left out",
    k.W_NO_FEED: "moves before any feed rate was set: 1500 mm/min taken",
    k.W_ARC: "no such arc exists: taken as a straight move",
    k.W_PLANE: "arc in another plane than XY: taken as a straight move",
    k.W_SECOND: "a second command on the line: only the first was taken",
    k.W_LONG: "line longer than 64 kB: left out",
    k.W_UNKNOWN_G: "a G word that moves in a way not read here (spline, thread, probing, drilling): left out",
    k.W_EXPONENT: "two filament words on one line (a number with an exponent?): the last was taken",
}
DAMAGE = (k.W_CHECKSUM, k.W_UNREADABLE, k.W_LONG)


@dataclass(slots=True)
class _Source:
    """Bytes of a file as they are read: counted, hashed, and unpacked where they are gzip."""

    blocks: Iterable[bytes]
    digest: "hashlib._Hash | None"
    progress: Callable[[int], None] | None = None
    count: int = 0
    cut_off: bool = False
    head: bytes = field(default=b"")

    def raw(self) -> Iterator[bytes]:
        for block in self.blocks:
            self.count += len(block)
            if self.digest is not None:
                self.digest.update(block)
            if self.progress is not None:
                self.progress(len(block))
            yield block

    def text(self) -> Iterator[bytes]:
        """Unpacked blocks of at most a chunk; a broken or cut-off gzip gives what could be unpacked."""
        raw = self.raw()
        first = next(raw, b"")
        unpacked = _gunzip(first, raw, self) if first[:2] == b"\x1f\x8b" else _chain(first, raw)
        for block in unpacked:
            if not self.head:
                self.head = block[:4096]
                yield block.removeprefix(b"\xef\xbb\xbf")  # a byte order mark is no command
            else:
                yield block


def _chain(first: bytes, rest: Iterator[bytes]) -> Iterator[bytes]:
    if first:
        yield first
    yield from rest


def _gunzip(first: bytes, rest: Iterator[bytes], source: _Source) -> Iterator[bytes]:
    unpacker = zlib.decompressobj(31)
    try:
        for block in _chain(first, rest):
            data = block
            while data:
                if unpacker.eof:  # another member follows
                    unpacker = zlib.decompressobj(31)
                out = unpacker.decompress(data, CHUNK_BYTES)
                data = unpacker.unconsumed_tail or unpacker.unused_data
                if out:
                    yield out
        source.cut_off = not unpacker.eof
    except zlib.error:
        source.cut_off = True
        for _ in rest:  # the hash is of the whole file
            pass


def read_file(
    path: Path,
    limits: MotionLimits | None = None,
    *,
    sha256: str | None = None,
    progress: Callable[[int], None] | None = None,
    threads: int = 2,
) -> Reading:
    """Read one file, plain or gzip, as a machine of these limits would execute it.

    Memory does not grow with the file. A file that is no filament toolpath gives a reading whose ``duty`` is
    None and whose ``refused_because`` says why; one that cannot be opened raises BadInput. ``sha256`` spares
    hashing where it is known; ``progress`` is told the bytes read.
    """
    try:
        with path.open("rb") as file:
            size = path.stat().st_size
            blocks = iter(lambda: file.read(CHUNK_BYTES), b"")
            source = _Source(blocks, None if sha256 else hashlib.sha256(), progress)
            return _read(path.name, source, limits or MotionLimits(), sha256, size, threads)
    except OSError as error:
        raise BadInput(
            str(path),
            expected=error.strerror or "cannot be read",
            remedy="check the path and that you may read it",
        ) from error


def read_bytes(name: str, data: bytes, limits: MotionLimits | None = None) -> Reading:
    """Read a file's content that is already in memory."""
    blocks = (data[at : at + CHUNK_BYTES] for at in range(0, len(data), CHUNK_BYTES))
    return _read(name, _Source(blocks, hashlib.sha256()), limits or MotionLimits(), None, len(data), 1)


def read_many(
    paths: Sequence[Path],
    limits: MotionLimits | None = None,
    *,
    workers: int | None = None,
    on_done: Callable[[Path], None] | None = None,
) -> Iterator[tuple[Path, Reading]]:
    """Read many files side by side, one thread each; yields them as they are done."""
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
    import os

    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _read(name: str, source: _Source, limits: MotionLimits, sha256: str | None, size: int, threads: int) -> Reading:
    whole = SinglePass(limits)
    blocks = source.text()
    first = next(blocks, b"")
    told = kind_of_bytes(source.head)
    if told is not None:
        for _ in source.raw():
            pass
        return _refused(name, source, sha256, told, lines=0)
    chunks = whole_lines(_chain(first, blocks), whole.reading)
    if threads > 1 and size >= TWO_THREADS_FROM_BYTES:
        whole.run_in_two_threads(chunks)
    else:
        whole.run(chunks)
    return _reading(name, source, whole, sha256)


def _hash(source: _Source, sha256: str | None) -> str:
    return sha256 or (source.digest.hexdigest() if source.digest is not None else "")


def _refused(name: str, source: _Source, sha256: str | None, told: tuple[ToolpathKind, str], *, lines: int) -> Reading:
    kind, reason = told
    return Reading(
        name=name,
        kind=kind,
        complete=not source.cut_off,
        sha256=_hash(source, sha256),
        bytes_count=source.count,
        lines=lines,
        duty=None,
        reader=READER_VERSION,
        refused_because=f"not a filament toolpath: {reason}",
    )


def _reading(name: str, source: _Source, whole: SinglePass, sha256: str | None) -> Reading:
    si = whole.reading.whole_state
    told = kind_of_counts(
        commands=int(si[k.I_N_COMMANDS]),
        other=int(si[k.I_N_OTHER]),
        moves=int(si[k.I_N_MOVES]),
        filament_mm=float(whole.reading.state[k.S_HIGH]),
        spindle=int(si[k.I_N_SPINDLE]),
        power=int(si[k.I_N_POWER]),
        plunges=int(si[k.I_N_PLUNGES]),
        other_axes=int(si[k.I_N_OTHER_AXES]),
    )
    if told[0] != "filament":
        return _refused(name, source, sha256, told, lines=int(si[k.I_LINE]))
    cut = _cut_off(source, whole)
    damaged = any(whole.reading.remarks[code, 0] for code in DAMAGE)
    return Reading(
        name=name,
        kind="filament",
        complete=cut is None and not damaged,
        sha256=_hash(source, sha256),
        bytes_count=source.count,
        lines=int(si[k.I_LINE]),
        duty=whole.duty(),
        reader=READER_VERSION,
        warnings=(*((cut,) if cut else ()), *_left_hot(whole, cut), *_remarks(whole)),
    )


def _cut_off(source: _Source, whole: SinglePass) -> Remark | None:
    """Whether the file ends before its print does, as far as its commands show."""
    si = whole.reading.whole_state
    last = int(si[k.I_LINE])
    if source.cut_off:
        return Remark(last, "the packed file is cut off or broken here: only what could be unpacked is counted")
    hot = whole.timing.tally[k.A_NOZZLE_SET] >= HOT_C
    if hot and si[k.I_LAST_MOVE] == si[k.I_LAST_PRINTING]:
        return Remark(last, "ends in the middle of printing with the nozzle hot: the file seems cut off")
    return None


def _left_hot(whole: SinglePass, cut: Remark | None) -> tuple[Remark, ...]:
    at_c = whole.timing.tally[k.A_NOZZLE_SET]
    if cut is not None or at_c < HOT_C:
        return ()
    return (Remark(0, f"leaves the nozzle at {at_c:.0f} °C when it ends"),)


def _remarks(whole: SinglePass) -> Iterator[Remark]:
    """Remarks by line, each kind with its first lines and the number left out."""
    found: list[Remark] = []
    for code, words in WORDS.items():
        count = int(whole.reading.remarks[code, 0])
        lines = whole.reading.remarks[code, 1 : 1 + min(count, k.REMARK_COLUMNS - 1)]
        found += [Remark(int(line), words) for line in lines]
        if count > len(lines):
            found.append(Remark(0, f"{count - len(lines)} more lines: {words}"))
    yield from sorted(found, key=lambda remark: (remark.line == 0, remark.line))
