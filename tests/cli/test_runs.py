"""``run``: recording what was printed."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.cli.conftest import MILLING, PRINT, SAMPLES, Command

TIMES = ("printing", "travel", "heating", "idle")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "hours"),
        ([PRINT, "--hours", "3"], "not both"),
        (["--hours", "-3"], "0 to 10000 h"),
        (["--hours", "nan"], "0 to 10000 h"),
        (["--hours", "inf"], "0 to 10000 h"),
        (["--hours", "3", "--copies", "0"], "copies"),
        (["--hours", "3", "--nozzle-c", "900"], "15 to 500 °C"),
        (["--hours", "3", "--filament-g", "-1"], "filament"),
        (["--hours", "3", "--outcome", "lost"], "complete, stopped or spoiled"),
        (["--hours", "3", "--at", "tomorrow"], "date and time"),
        (["--hours", "3", "--at", "2999-01-01"], "until now"),
        (["--hours", "3", "--at", "0001-01-01T00:00+14:00"], "until now"),
        (["--hours", "3", "--by", "Nobody"], "person"),
        ([PRINT, "--outcome", "spoiled"], "such as 0.37"),
        ([PRINT, "--outcome", "spoiled", "--fraction", "1.5"], "0 to 1"),
        ([MILLING], "milling"),
        ([SAMPLES], "file"),
        ([SAMPLES / "none.gcode"], "file"),
        (["none.gcode"], "toolpath"),
        (["x" * 5000], "what to do"),
    ],
)  # fmt: skip
def test_a_run_that_cannot_be_so_is_refused_and_not_recorded(words: list[object], told: str, ash: Command) -> None:
    said = ash("run", "add", "Ash", *words, "--material", "pla")
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert "what to do:" in said.err
    assert ash("run", "list", "--json").data == []


def test_the_nearest_machine_and_material_are_named(ash: Command) -> None:
    assert "did you mean Ash" in ash("run", "add", "Asch", PRINT, "--material", "pla").err
    assert "petg" in ash("run", "add", "Ash", PRINT, "--material", "pteg").err


def test_a_run_says_what_it_did_to_each_part(ash: Command) -> None:
    said = ash("run", "add", "Ash", PRINT, "--material", "pla", "--copies", "2")
    assert said.code == 0
    assert "m of filament" in said.out
    assert "Tube end" in said.out
    once = ash("run", "add", "Ash", PRINT, "--material", "pla", "--json").data
    spoiled = ash(
        "run", "add", "Ash", PRINT.name, "--material", "pla", "--outcome", "spoiled", "--fraction", "0.37", "--json"
    )
    hours = [sum(one["charge"][f"{what}_s"] for what in TIMES) / 3600 for one in (spoiled.data, once)]
    assert hours[0] == pytest.approx(0.37 * hours[1])
    listed = ash("run", "list").out
    assert "spoiled at 37%" in listed
    assert len(ash("run", "list", "--machine", "Ash", "--limit", "2", "--json").data) == 2


def test_a_run_from_before_the_machine_was_described_says_that_nothing_is_charged(ash: Command) -> None:
    long_ago = f"{datetime.now(UTC) - timedelta(days=400):%Y-%m-%d}"
    said = ash("run", "add", "Ash", "--hours", "5", "--material", "pla", "--at", long_ago)
    assert said.code == 0
    assert "No part is on record as fitted at that time" in said.out
