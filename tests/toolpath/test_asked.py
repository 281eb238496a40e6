import gzip
from pathlib import Path

import pytest

from feedwright.errors import BadInput
from feedwright.toolpath.asked import AskedLimit, asked_limits

TEXT = """; M204 S99999
(M203 X99999)
M117 M204 S99999
M204 S1500
N12 m203 X200 Y 180.5 E25*71
  M201 X9000 ; M201 X99999
M2045 S99999
M204 P1200 T2500
G1 X1 M204 S99999
"""


def by_name(limits: list[AskedLimit]) -> dict[tuple[str, str], float]:
    return {(limit.quantity, limit.word): limit.value for limit in limits}


@pytest.mark.parametrize("packed", [False, True])
def test_the_greatest_limits_come_from_commands_alone(tmp_path: Path, packed: bool) -> None:
    path = tmp_path / "a.gcode"
    path.write_bytes(gzip.compress(TEXT.encode()) if packed else TEXT.encode())
    assert by_name(asked_limits(path)) == {
        ("acceleration", "MOVES"): 2500,
        ("speed", "X"): 200,
        ("speed", "Y"): 180.5,
        ("speed", "E"): 25,
        ("acceleration", "X"): 9000,
    }


def test_a_command_across_two_blocks_is_found(tmp_path: Path) -> None:
    path = tmp_path / "a.gcode"
    filler = b"G1 X1.5 Y2.5 E0.1\n"
    count = (1024 * 1024 - 4) // len(filler)
    path.write_bytes(filler * count + b" " * (1024 * 1024 - 4 - count * len(filler)) + b"M204 S7777\nG1 X1\nM203 X321")
    assert by_name(asked_limits(path)) == {("acceleration", "MOVES"): 7777, ("speed", "X"): 321}


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="check the path"):
        asked_limits(tmp_path / "none.gcode")
