"""A file's bytes on their way to the reader: counted, hashed, and unpacked where they are gzip."""

import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import chain
from queue import Empty, Queue
from threading import Event, Thread
from typing import Any

CHUNK_BYTES = 1024 * 1024
AHEAD = 3
"""Blocks fetched before they are asked for, at most."""
GZIP = b"\x1f\x8b"
MOST_UNPACKED_BYTES = 8_000_000_000
"""A gzip of some megabytes may hold terabytes of nothing; no print's file comes near this (assumed)."""
BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(slots=True)
class Source:
    """Blocks of bytes as they lie on disk; ``digest`` is a running hash, None where the hash is known."""

    blocks: Iterable[bytes]
    digest: Any = None
    progress: Callable[[int], None] | None = None
    count: int = 0
    packed: bool = False
    cut_off: bool = False
    """True where a gzip ends early, is broken, or is not unpacked to its end."""
    too_large: bool = False
    """True where it would unpack to more than :data:`MOST_UNPACKED_BYTES`."""
    head: bytes = field(default=b"")
    """The first bytes, unpacked: what tells pictures and archives from text."""

    def raw(self) -> Iterator[bytes]:
        """The blocks as they are, each counted and hashed once."""
        for block in self.blocks:
            self.count += len(block)
            if self.digest is not None:
                self.digest.update(block)
            if self.progress is not None:
                self.progress(len(block))
            yield block

    def text(self) -> Iterator[bytes]:
        """Unpacked blocks of at most a chunk, whatever the packing ratio."""
        raw = self.raw()
        first = next(raw, b"")
        self.packed = first[:2] == GZIP
        for block in _unpacked(first, raw, self) if self.packed else chain([first], raw):
            if self.head:
                yield block
            else:
                self.head = block[:4096]
                yield block.removeprefix(BYTE_ORDER_MARK)

    def drain(self) -> None:
        """Count and hash what is left."""
        for _ in self.raw():
            pass


def _unpacked(first: bytes, rest: Iterator[bytes], source: Source) -> Iterator[bytes]:
    """What can be unpacked; a broken or cut-off gzip gives what stands before the break, a vast one its beginning."""
    unpacker, count = zlib.decompressobj(31), 0
    try:
        for block in chain([first], rest):
            data = block
            while data:
                if unpacker.eof:  # another member follows
                    unpacker = zlib.decompressobj(31)
                out = unpacker.decompress(data, CHUNK_BYTES)
                data = unpacker.unconsumed_tail or unpacker.unused_data
                count += len(out)
                if count > MOST_UNPACKED_BYTES:
                    source.cut_off = source.too_large = True
                    source.drain()
                    return
                if out:
                    yield out
        source.cut_off = not unpacker.eof
    except zlib.error:
        source.cut_off = True
        source.drain()  # the hash is of the whole file


def ahead(blocks: Iterable[bytes]) -> Iterator[bytes]:
    """The same blocks, fetched by a thread of its own while the last ones are worked on; a fault comes in its turn."""
    fetched: Queue[bytes | BaseException | None] = Queue(AHEAD)
    over = Event()
    thread = Thread(target=_fetch, args=(blocks, fetched, over), daemon=True)
    thread.start()
    try:
        while (held := fetched.get()) is not None:
            if isinstance(held, BaseException):
                raise held
            yield held
    finally:
        over.set()
        while thread.is_alive():  # it may wait for room
            with suppress(Empty):
                fetched.get(timeout=0.01)


def _fetch(blocks: Iterable[bytes], fetched: "Queue[bytes | BaseException | None]", over: Event) -> None:
    try:
        for block in blocks:
            fetched.put(block)
            if over.is_set():
                break
        fetched.put(None)
    except BaseException as error:  # handed to the reader, which raises it
        fetched.put(error)
