"""Inputs to try the reader with: random bytes, mutated and spliced real files, structured G-code."""

import gzip
import random
from collections.abc import Callable
from pathlib import Path

DATA = Path(__file__).parents[1] / "data" / "toolpaths"
LETTERS = "GMTXYZEFIJKRSPNLDUABC"
NUMBERS = ["0", "1", "2", "3", "4", "10", "11", "20", "28", "90", "91", "92", "92.1", "82", "83", "104", "109", "140"]
NUMBERS += [
    "190",
    "106",
    "107",
    "200",
    "201",
    "203",
    "204",
    "205",
    "220",
    "221",
    "-1",
    ".5",
    "-.001",
    "1e9",
    "99999999",
]
NUMBERS += ["9" * 30, "0.00000000001", "-", "", "1.2.3", "255", "1000", "-99999", "nan", "inf"]
NASTY = [
    b"\x00",
    b"\xff" * 9,
    b";",
    b"(",
    b")",
    b"*",
    b"*99",
    b"\r",
    b"\n",
    b"\r\n",
    b"%",
    b"/",
    b"N1",
    b"M117 ",
    b"G2 ",
]
NASTY += [b"9" * 40, b"E1e-5", b"-", b"+.", b"\x1f\x8b", b"G20\n", b"G91\n", b"M221S-5\n", b"M204S0\n", b"G92X1e9\n"]


def corpus() -> list[bytes]:
    """Heads of 4 kB and middles of the real files."""
    pieces = []
    for path in sorted(DATA.glob("d*")):
        data = path.read_bytes()
        data = gzip.decompress(data) if path.suffix == ".gz" else data
        pieces += [data[:4000], data[len(data) // 2 : len(data) // 2 + 4000], data[-2000:]]
    return pieces


def random_bytes(draw: random.Random, _: list[bytes]) -> bytes:
    return draw.randbytes(draw.randrange(200))


def structured(draw: random.Random, _: list[bytes]) -> bytes:
    lines = []
    for _line in range(draw.randrange(1, 12)):
        words = [draw.choice(LETTERS) + draw.choice(NUMBERS) for _word in range(draw.randrange(1, 6))]
        lines.append(draw.choice(["", " "]).join(words))
    return "\n".join(lines).encode()


def mutated(draw: random.Random, pieces: list[bytes]) -> bytes:
    piece = draw.choice(pieces)
    start = draw.randrange(len(piece))
    data = bytearray(piece[start : start + draw.randrange(20, 400)])
    for _ in range(draw.randrange(1, 5)):
        at = draw.randrange(len(data) + 1)
        match draw.randrange(4):
            case 0:
                data[at:at] = draw.choice(NASTY)
            case 1:
                del data[at : at + draw.randrange(1, 20)]
            case 2:
                data[at : at + 1] = bytes([draw.randrange(256)])
            case _:
                data[at:at] = data[draw.randrange(len(data) + 1) :][:30]
    return bytes(data)


def spliced(draw: random.Random, pieces: list[bytes]) -> bytes:
    one, other = draw.choice(pieces), draw.choice(pieces)
    at, to = draw.randrange(len(one)), draw.randrange(len(other))
    return one[at : at + draw.randrange(200)] + other[to : to + draw.randrange(200)]


def packed(draw: random.Random, pieces: list[bytes]) -> bytes:
    data = bytearray(gzip.compress(mutated(draw, pieces), 1))
    for _ in range(draw.randrange(3)):
        data[draw.randrange(len(data))] = draw.randrange(256)
    return bytes(data[: draw.randrange(len(data) + 1)]) if draw.random() < 0.3 else bytes(data)


MAKERS: tuple[Callable[[random.Random, list[bytes]], bytes], ...] = (random_bytes, structured, mutated, spliced, packed)
SHARES = (2, 4, 4, 3, 1)
