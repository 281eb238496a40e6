"""Bytes on their way to the reader: fetched ahead, in order, faults in their turn, and no thread left behind."""

import threading
from collections.abc import Iterator

import pytest

from feedwright.toolpath.source import AHEAD, ahead


def test_blocks_come_in_order() -> None:
    blocks = [bytes([number]) for number in range(50)]
    assert list(ahead(iter(blocks))) == blocks
    assert list(ahead(iter(()))) == []


def test_a_fault_comes_in_its_turn() -> None:
    def failing() -> Iterator[bytes]:
        yield b"one"
        yield b"two"
        raise OSError(5, "Input/output error")

    held = ahead(failing())
    assert next(held) == b"one"
    assert next(held) == b"two"
    with pytest.raises(OSError, match="Input/output error"):
        next(held)


def test_who_stops_early_leaves_no_thread_behind() -> None:
    given: list[int] = []

    def endless() -> Iterator[bytes]:
        while True:
            given.append(1)
            yield b"block"

    before = threading.active_count()
    held = ahead(endless())
    next(held)
    held.close()  # type: ignore[attr-defined]
    assert threading.active_count() == before
    assert len(given) <= AHEAD + 4, "no more than a few are fetched before they are asked for"
