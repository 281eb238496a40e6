"""Service by command: a visit to its release, and the numbers that bring a machine back true."""

from pathlib import Path

import pytest
from PIL import Image
from tests.cli.conftest import Command


def test_a_visit_runs_from_plan_to_release(ash: Command) -> None:
    plan = ash("visit", "plan", "Ash", "clean_bed", "--json")
    assert plan.data["heat_ups"] == 0
    assert "Scrape off" in ash("visit", "plan", "Ash", "clean_bed").out
    assert ash("visit", "begin", "Ash", "clean_bed").code == 0
    assert "under way" in ash("visit", "list").out
    refused = ash("visit", "enter", 1, "clean_bed.clean", "--grade", "dull")
    assert refused.code == 2
    assert "not acknowledged" in refused.err
    assert ash("visit", "enter", 1, "clean_bed.clean", "--grade", "dull", "--cautions-read").code == 0
    assert "[x]" in ash("visit", "show", 1).out
    assert ash("release", 1).code == 2
    assert "1 findings" in ash("visit", "end", 1).out
    assert "may take work again" in ash("release", 1).out


def test_a_machine_with_a_missing_proof_is_released_with_a_reason_alone(ash: Command) -> None:
    ash("visit", "begin", "Ash", "renew_nozzle")
    ash("visit", "end", 1, "--give-up")
    refused = ash("release", 1)
    assert refused.code == 2
    assert "not proved that the bed is level" in refused.err
    assert ash("release", 1, "--override", "drafts only").code == 0


def test_tramming_by_command(ash: Command) -> None:
    words = ["--reading", "30,30=0.1", "--reading", "200,30=0.2", "--reading", "115,200=0"]
    assert "clock minutes" in ash("tram", "Ash", *words).out
    screws = ["--screw", "a=30,30", "--screw", "b=200,30", "--screw", "c=115,200", "--pitch-mm", "0.5"]
    assert "3 screws" in ash("tram", "Ash", *screws).out
    assert [turn["screw"]["name"] for turn in ash("tram", "Ash", *words, "--json").data["turns"]] == ["a", "b", "c"]
    paper = [
        "--read-by",
        "paper",
        "--reading",
        "30,30=stuck",
        "--reading",
        "200,30=loose",
        "--reading",
        "115,200=drags",
    ]
    assert ash("tram", "Ash", *paper).code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["tram", "Ash"], "readings or screws"),
        (["judge", "Ash", "temperature", "410"], "180 to"),
        (["judge", "Ash", "single_wall", "0.4"], "feedwright flow"),
        (["finding", "add", "Ash", "nozzle", "worn", "--photo", "nowhere.jpg"], "nowhere.jpg"),
        (["finding", "add", "Ash", "nozzle", "worn", "--photo", __file__], "no photo"),
        (["tram", "Ash", "--reading", "front=0.1"], "30,30=0.1"),
        (["tram", "Ash", "--reading", "999,30=0", "--reading", "30,30=0", "--reading", "30,200=0"], "the bed reaches"),
        (["feed-rate", "Ash", "--commanded-mm", "100", "--measured-mm", "98"], "nothing is written down"),
        (["feed-rate", "Ash", "--commanded-mm", "100", "--measured-mm", "3.9", "--steps", "93"], "inches"),
        (["heater", "Ash", "no.csv", "--target-c", "200"], "no.csv"),
        (["flow", "Ash"], "single wall or a weighed length"),
        (["test-piece", "Ash", "vase", "--to", "x.gcode"], "first_layer"),
        (["value", "set", "Ash", "hat", "1", "--why", "x"], "working value"),
        (["visit", "begin", "Ash", "sing"], "no such procedure"),
        (["visit", "show", "7"], "no such visit"),
    ],
)
def test_what_cannot_be_is_refused_with_the_remedy(ash: Command, words: list[str], said: str) -> None:
    refused = ash(*words)
    assert (refused.code, refused.out) == (2, "")
    assert said in refused.err


def test_numbers_are_written_down_and_listed(ash: Command, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("\n".join(f"{t},{22 + 250 * (1 - 2.718281828 ** (-max(t - 8, 0) / 120)):.2f}" for t in range(500)))
    feed = ["--commanded-mm", 100, "--measured-mm", 98, "--measured-mm", 98.2, "--steps", 93, "--write"]
    assert "New steps per mm" in ash("feed-rate", "Ash", *feed).out
    assert "SIMC" in ash("heater", "Ash", log, "--target-c", 210, "--write").out
    assert "Flow ratio" in ash("flow", "Ash", "--asked-mm", 0.48, "--wall-mm", 0.5, "--wall-mm", 0.49).out
    assert ash("value", "set", "Ash", "retract_mm", 2, "--why", "piece", "--material", "pla").code == 0
    listed = ash("value", "list", "Ash").out
    assert "steps_per_mm" in listed
    assert "heater_gain" in listed
    assert "retract_mm" in listed


def test_a_test_piece_is_written_once(ash: Command, tmp_path: Path) -> None:
    to = tmp_path / "piece.gcode"
    said = ash("test-piece", "Ash", "first-layer", "--to", to)
    assert "nine patches" in said.out
    assert "!! Stay beside it" in said.out
    assert to.read_text().endswith("M84\n")
    assert ash("test-piece", "Ash", "first_layer", "--to", to).code == 2


def test_how_a_piece_came_out_sets_the_value_it_found(ash: Command) -> None:
    said = ash("judge", "Ash", "temperature", "200").out
    assert "nozzle_c of Ash is now 200" in said
    assert ash("judge", "Ash", "temperature", "210", "--keep-value", "--json").data["setting"] is None
    assert any(
        line.startswith("nozzle_c ") and " 200 " in line for line in ash("value", "list", "Ash").out.splitlines()
    )


def test_past_trammings_say_which_corner_wanders(ash: Command) -> None:
    for day, height in (("2026-03-02T09:00", "0.2"), ("2026-03-09T09:00", "0.3"), ("2026-03-16T09:00", "0.3")):
        readings = [f"30,30={height}", "200,30=0", "200,200=0", "30,200=0"]
        words = [word for reading in readings for word in ("--reading", reading)]
        assert ash("tram", "Ash", *words, "--at", day).code == 0
    said = ash("tram", "Ash", "--history")
    assert said.out.count("no, screws turned") == 3
    assert "front left: +0.150 mm from session to session (2 times)" in said.out
    assert len(ash("tram", "Ash", "--history", "--json").data["trammings"]) == 3


def test_a_step_takes_a_photo(ash: Command, tmp_path: Path) -> None:
    Image.new("RGB", (40, 30), "brown").save(tmp_path / "taken.png")
    ash("visit", "begin", "Ash", "clean_bed")
    words = ["--grade", "dull", "--cautions-read", "--photo", tmp_path / "taken.png"]
    assert ash("visit", "enter", 1, "clean_bed.clean", *words).code == 0
    assert ash("backup", tmp_path / "copy", "--json").code == 0
    assert len(list((tmp_path / "copy" / "photos").iterdir())) == 1
