"""A small reader of QR codes, written from ISO/IEC 18004 alone; nothing of it is shared with what makes them.

It reads versions 1 to 6 in byte mode: format information with its BCH code, mask, placement, blocks, and the
Reed-Solomon code of every block, whose syndromes must all be nought.
"""

FINDER = ["#######", "#     #", "# ### #", "# ### #", "# ### #", "#     #", "#######"]
LEVELS = {0b01: "L", 0b00: "M", 0b11: "Q", 0b10: "H"}
TOTAL = {1: 26, 2: 44, 3: 70, 4: 100, 5: 134, 6: 172}
"""Codewords of a symbol by version (table 9)."""
CORRECTION = {
    1: {"L": (7, 1), "M": (10, 1), "Q": (13, 1), "H": (17, 1)},
    2: {"L": (10, 1), "M": (16, 1), "Q": (22, 1), "H": (28, 1)},
    3: {"L": (15, 1), "M": (26, 1), "Q": (18, 2), "H": (22, 2)},
    4: {"L": (20, 1), "M": (18, 2), "Q": (26, 2), "H": (16, 4)},
    5: {"L": (26, 1), "M": (24, 2), "Q": (18, 4), "H": (22, 4)},
    6: {"L": (18, 2), "M": (16, 4), "Q": (24, 4), "H": (28, 4)},
}
"""Correction codewords of a block, and blocks, by version and level (table 9)."""
MASKS = [
    lambda i, j: (i + j) % 2 == 0, lambda i, j: i % 2 == 0, lambda i, j: j % 3 == 0, lambda i, j: (i + j) % 3 == 0,
    lambda i, j: (i // 2 + j // 3) % 2 == 0, lambda i, j: i * j % 2 + i * j % 3 == 0,
    lambda i, j: (i * j % 2 + i * j % 3) % 2 == 0, lambda i, j: ((i + j) % 2 + i * j % 3) % 2 == 0,
]  # fmt: skip
"""Table 10; i is the row, j the column."""


def read(modules: list[list[bool]]) -> str:
    """The text of a symbol's modules, row by row without the quiet border."""
    size = len(modules)
    version = (size - 17) // 4
    assert size == 17 + 4 * version
    assert version in TOTAL
    for top, left in ((0, 0), (0, size - 7), (size - 7, 0)):
        assert [[modules[top + i][left + j] for j in range(7)] for i in range(7)] == [
            [mark == "#" for mark in row] for row in FINDER
        ]
    assert all(modules[6][at] == (at % 2 == 0) == modules[at][6] for at in range(8, size - 8)), "timing patterns"
    assert modules[size - 8][8], "the module that is always dark"
    level, mask = _format(modules)
    bits = _bits(modules, version, MASKS[mask])
    words = [int("".join(map(str, bits[at : at + 8])), 2) for at in range(0, 8 * TOTAL[version], 8)]
    return _text(_data(words, *CORRECTION[version][level]))


def _format(modules: list[list[bool]]) -> tuple[str, int]:
    around = [(8, 0), (8, 1), (8, 2), (8, 3), (8, 4), (8, 5), (8, 7), (8, 8), (7, 8)]
    around += [(at, 8) for at in range(5, -1, -1)]
    held = int("".join(str(int(modules[i][j])) for i, j in around), 2) ^ 0b101010000010010
    rest = held
    for at in range(14, 9, -1):  # the remainder by the generator of the (15, 5) BCH code
        if rest >> at & 1:
            rest ^= 0b10100110111 << (at - 10)
    assert rest == 0, "format information"
    return LEVELS[held >> 13], held >> 10 & 0b111


def _bits(modules: list[list[bool]], version: int, mask) -> list[int]:
    size, bits = len(modules), []
    middle = size - 7 if version > 1 else -10  # of the one alignment pattern

    def is_data(i: int, j: int) -> bool:
        if i == 6 or j == 6 or (abs(i - middle) <= 2 and abs(j - middle) <= 2):
            return False
        return not ((i < 9 and j < 9) or (i < 9 and j >= size - 8) or (i >= size - 8 and j < 9))

    right, up = size - 1, True
    while right > 0:
        right -= right == 6
        for i in range(size - 1, -1, -1) if up else range(size):
            bits += [int(modules[i][j] != mask(i, j)) for j in (right, right - 1) if is_data(i, j)]
        right, up = right - 2, not up
    return bits


def _data(words: list[int], correction: int, blocks: int) -> list[int]:
    data = len(words) - correction * blocks
    lengths = [data // blocks + (at >= blocks - data % blocks) for at in range(blocks)]
    held, at = [[] for _ in range(blocks)], 0
    for place in range(max(lengths)):
        for block in range(blocks):
            if place < lengths[block]:
                held[block].append(words[at])
                at += 1
    for index in range(data, len(words)):
        held[(index - data) % blocks].append(words[index])
    for block in held:
        _sound(block, correction)
    return [word for block, length in zip(held, lengths, strict=True) for word in block[:length]]


def _sound(block: list[int], correction: int) -> None:
    """Every syndrome of the Reed-Solomon code over GF(256) modulo x^8 + x^4 + x^3 + x^2 + 1 is nought."""
    power, value = [1], 1
    for _ in range(254):
        value = value << 1 ^ (0x11D if value & 0x80 else 0)
        power.append(value)
    log = {held: at for at, held in enumerate(power)}
    for root in range(correction):
        total = 0
        for word in block:
            total = (0 if total == 0 else power[(log[total] + root) % 255]) ^ word
        assert total == 0, "Reed-Solomon syndrome"


def _text(data: list[int]) -> str:
    bits = "".join(f"{word:08b}" for word in data)
    assert bits[:4] == "0100", "byte mode"
    length = int(bits[4:12], 2)
    return bytes(int(bits[12 + 8 * at : 20 + 8 * at], 2) for at in range(length)).decode()
