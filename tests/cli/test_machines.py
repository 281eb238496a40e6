"""``machine``: describing machines and looking at them."""

import json
from pathlib import Path

import pytest
from tests.cli.conftest import PRINT, Command


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["Birch", "moving_bed"], "moving_bed_remote"),
        (["  ", "moving_bed_remote"], "1 to 60 letters"),
        (["Birch", "moving_bed_remote", "--history", "old"], "new, used or unknown"),
        (["Birch", "moving_bed_remote", "--since", "2025-01-01"], "--history used"),
        (["Birch", "moving_bed_remote", "--history", "used", "--since", "2999-01-01"], "until now"),
        (["Birch", "moving_bed_remote", "--history", "used"], "--since 2025-06-01"),
        (["Birch", "moving_bed_remote", "--limit", "retract_mm=" + "9" * 5000], "retract_mm"),
        (["Birch", "moving_bed_remote", "--limit", "retract_mm=" + "9" * 400], "retract_mm"),
        (["Birch", "moving_bed_remote", "--at", "last week"], "2026-03-01T14:00"),
        (["Birch", "moving_bed_remote", "--product", "nozzle"], "--product nozzle=brass"),
        (["Birch", "moving_bed_remote", "--product", "nozle=brass"], "nozzle"),
        (["Birch", "moving_bed_remote", "--product", "nozzle=gold"], "hardened_steel"),
        (["Birch", "moving_bed_remote", "--limit", "corner_rule=round"], "deviation"),
        (["Birch", "moving_bed_remote", "--limit", "corner_deviation_mm=wide"], "number"),
        (["Birch", "moving_bed_remote", "--limit", "axis_speed_mm_s=5"], "four numbers"),
        (["Birch", "moving_bed_remote", "--by", "Nobody"], "person"),
    ],
)
def test_a_refused_machine_leaves_no_farm_behind(words: list[str], told: str, command: Command, folder: Path) -> None:
    said = command("machine", "add", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert "what to do:" in said.err
    assert not folder.exists()


def test_a_machine_is_described_shown_changed_and_listed(command: Command) -> None:
    said = command("machine", "add", "Birch", "three tower remote", "--history", "new", "--product", "nozzle=hard_tip")
    assert said.code == 0
    assert "feedwright run add Birch" in said.out
    assert command("machine", "add", "birch", "moving_bed_remote").code == 2
    changed = command(
        "machine", "change", "Birch", "box_mm=[180,180,300]", "enclosure_c=40", "--reason", "a hood", "--json"
    )
    assert changed.data["box_mm"] == [180, 180, 300]
    assert changed.data["enclosure_c"] == 40
    noted = command("machine", "change", "Birch", "note=null", "--reason", "a word", "--json").data["note"]
    assert noted == "null", "a note is taken as it is written"
    shown = command("machine", "show", "Birch").out
    assert "180 × 180 × 300 mm" in shown
    assert "hard_tip" in shown
    assert [line["machine"]["name"] for line in command("machine", "list", "--json").data] == ["Birch"]
    assert "Birch" in command("machine", "list").out
    (line,) = command("machine", "list", "--outlook", "--json").data
    assert line["worst"]["machine"]["name"] == "Birch"


@pytest.mark.parametrize(
    "field",
    ["colour=red", "box_mm=3", "box_mm=[1,2,3]", "box_mm=wide", "enclosure_c=hot", "tube_needed_mm=-1", "speed"],
)
def test_a_field_that_cannot_be_so_is_refused_and_nothing_changes(field: str, ash: Command) -> None:
    before = ash("machine", "show", "Ash", "--json").data["machine"]
    said = ash("machine", "change", "Ash", field, "--reason", "try", "--json")
    assert said.code == 2
    assert json.loads(said.err)["remedy"]
    assert ash("machine", "show", "Ash", "--json").data["machine"] == before


def test_the_history_of_a_part_counts_its_charges(ash: Command) -> None:
    for _ in range(2):
        ash("run", "add", "Ash", PRINT, "--material", "pla")
    points = ash("machine", "history", "Ash", "nozzle", "--json").data
    assert len(points) == 1
    assert points[0][-1]["exposure"] > points[0][0]["exposure"] == 0
    assert "exposure" in ash("machine", "history", "Ash", "nozzle").out
    assert ash("machine", "history", "Ash", "nose").code == 2
