"""The limits that a file itself sets: speeds and accelerations it asks the machine to allow."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from feedwright.toolpath.read import opened
from feedwright.toolpath.source import CHUNK_BYTES, Source

COMMAND = re.compile(rb"M(201|203|204)(?![0-9])([^;(\r\n*]*)", re.IGNORECASE)
BEFORE = re.compile(rb"[ \t]*(?:N\d+[ \t]*)?", re.IGNORECASE)
"""All that may stand before the command on its line."""
WORD = re.compile(rb"(?i)([XYZEPTRS])[ \t]*(-?\d+(?:\.\d*)?|-?\.\d+)")
QUANTITY = {b"201": "acceleration", b"203": "speed", b"204": "acceleration"}


@dataclass(frozen=True, slots=True)
class AskedLimit:
    """The greatest value a file asks for one limit: M201 and M203 by axis, M204 by use."""

    quantity: str
    """'acceleration' in mm/s², 'speed' in mm/s."""
    word: str
    value: float


def asked_limits(path: Path) -> list[AskedLimit]:
    """The greatest limit of each sort that the commands M201, M203 and M204 of a file set."""
    greatest: dict[tuple[str, str], float] = {}
    tail = b""
    with opened(path) as file:
        for block in Source(iter(lambda: file.read(CHUNK_BYTES), b"")).text():
            text, _, rest = (tail + block).rpartition(b"\n")
            tail = rest
            _take(text, greatest)
    _take(tail, greatest)
    return [AskedLimit(quantity, word, value) for (quantity, word), value in greatest.items()]


def _take(text: bytes, greatest: dict[tuple[str, str], float]) -> None:
    for number, words in _commands(text):
        for letter, value in WORD.findall(words):
            key = QUANTITY[number], letter.decode().upper() if number != b"204" else "MOVES"
            greatest[key] = max(greatest.get(key, 0.0), float(value))


def _commands(text: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Number and words of each such command: a search for one rare letter is quick, a pattern judges its finds."""
    for sought in (b"M", b"m"):
        at = text.find(sought)
        while at >= 0:
            command = COMMAND.match(text, at)
            if command and BEFORE.fullmatch(text, text.rfind(b"\n", 0, at) + 1, at):
                yield command.group(1), command.group(2)
            at = text.find(sought, at + 1)
