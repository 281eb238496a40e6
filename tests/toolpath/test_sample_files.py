"""Real files against the totals stated in them (INDEX.csv), and against what kind of file they are.

Files whose licence permits it stand in ``tests/data/toolpaths``; the rest is read from ``../shared/toolpaths``
beside the checkout where that is present, and skipped by name where it is not.
"""

import csv
import itertools
import re
from pathlib import Path

import pytest

from feedwright.toolpath.read import read_file
from feedwright.toolpath.values import MotionLimits

OWN = Path(__file__).parents[1] / "data" / "toolpaths"
BESIDE = Path(__file__).parents[3] / "shared" / "toolpaths"
INDEX: dict[str, dict[str, str]] = {}
for folder in (BESIDE, OWN):
    if folder.is_dir():
        for row in csv.DictReader((folder / "INDEX.csv").read_text().splitlines()):
            INDEX[row["file"]] = {**INDEX.get(row["file"], {}), **row}
MEASURED = {name: row["notes"] for name, row in INDEX.items() if "notes" in row}
WORDS_SUM = re.compile(r"highest cumulative ([\d.]+) mm, sum of positive E ([\d.]+) mm")
ALL = [f"d{n:02}" for n in range(1, 25)]
WRONG = {"d02": "milling", "d03": "drawing", "d07": "drawing", "d10": "milling", "d19": "milling"}
PRIMING_MM = {"d06": 123.0, "d24": 21.5}
"""Fed in the start sequence (d06: before its first lines on the bed), not counted by the stated total."""
STATES_THE_SUM = ("d05",)
"""States the sum of its positive filament words, which ignores retractions within travel moves."""
PRIMED_MM, FLOW_FRAC = 18.0, 0.95
"""d20 primes as the words say, then sets the flow to 95 % (M221)."""
CUT_MM = {"d20": PRIMED_MM + FLOW_FRAC * (71.8 - PRIMED_MM)}
"""Cut after its first layers, but states the whole print: what a plain sum over the words that are left gives."""
LAYERS = {"d04": 2, "d06": 45, "d12": 40, "d18": 20, "d22": 45}


def sample(number: str) -> Path:
    for folder in (OWN, BESIDE):
        for path in folder.glob(f"{number}.gcode*"):
            return path
    pytest.skip(f"{number} is not in tests/data/toolpaths (licence) and ../shared/toolpaths is not present")


@pytest.mark.parametrize("number", ALL)
def test_every_sample_is_read_or_refused_with_its_kind(number: str) -> None:
    found = read_file(sample(number))
    if number in WRONG:
        assert found.kind == WRONG[number]
        assert found.duty is None
        assert "never feeds filament" in found.refused_because
    else:
        assert found.kind == "filament"
        assert found.complete, found.warnings
        assert found.duty is not None
        assert found.duty.whole.duration_s > 0
    if "lines" in INDEX.get(sample(number).name, {}) and number not in WRONG:
        assert found.lines == int(INDEX[sample(number).name]["lines"])


@pytest.mark.parametrize("number", [n for n in ALL if n not in WRONG])
def test_highest_filament_position_is_the_stated_total(number: str) -> None:
    """Within 0.5 %."""
    path = sample(number)
    stated = INDEX[path.name]["stated_filament_mm"]
    duty = read_file(path).duty
    assert duty is not None
    if not stated:
        pytest.skip(f"{number} states no filament total")
    if number in STATES_THE_SUM:
        measured = duty.whole.filament_forward_mm
    else:
        measured = duty.filament_high_water_mm - PRIMING_MM.get(number, 0.0)
    assert measured == pytest.approx(CUT_MM.get(number, float(stated)), rel=0.005)


@pytest.mark.parametrize("number", [n for n in ALL if n not in WRONG])
def test_filament_is_what_a_plain_sum_over_the_words_gives(number: str) -> None:
    """Measured apart from this program, as the index's notes beside the checkout tell; within 0.5 %."""
    path = sample(number)
    notes = MEASURED.get(path.name)
    if notes is None:
        pytest.skip("../shared/toolpaths is not present, whose index tells what was measured")
    highest, forward = (float(mm) for mm in WORDS_SUM.findall(notes)[0])
    if number in CUT_MM:
        highest, forward = (PRIMED_MM + FLOW_FRAC * (mm - PRIMED_MM) for mm in (highest, forward))
    duty = read_file(path).duty
    assert duty is not None
    assert duty.filament_high_water_mm == pytest.approx(highest, rel=0.005)
    assert duty.whole.filament_forward_mm == pytest.approx(forward, rel=0.005)


@pytest.mark.parametrize(("number", "layers"), LAYERS.items())
def test_layers_are_those_stated(number: str, layers: int) -> None:
    duty = read_file(sample(number)).duty
    assert duty is not None
    assert duty.layers == layers


@pytest.mark.parametrize("number", [n for n in ALL if n not in WRONG])
def test_no_limits_of_a_machine_make_a_file_unreadable(number: str) -> None:
    """Either corner rule, any depth of look-ahead; a machine that sees less ahead is never faster."""
    path = sample(number)
    times = []
    for depth in (4, 32, 0):
        found = read_file(path, MotionLimits(look_ahead_moves=depth)).duty
        assert found is not None
        times.append(found.whole.duration_s)
    assert all(less >= more * (1 - 1e-9) for less, more in itertools.pairwise(times))
    assert read_file(path, MotionLimits(corner_rule="velocity_change")).duty is not None


def test_moves_of_a_real_file_come_with_their_times() -> None:
    path = sample("d09")
    counts: list[int] = []
    found = read_file(path, watch=lambda moves: counts.append(len(moves.line))).duty
    assert found is not None
    assert sum(counts) == found.moves
