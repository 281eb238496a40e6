"""People, figures, voiding, acts, backup and restore."""

from pathlib import Path

import pytest
from tests.cli.conftest import Command


def test_people_are_known_once_and_their_acts_carry_their_name(ash: Command) -> None:
    assert ash("person", "add", "Ines").code == 0
    assert "known already" in ash("person", "add", "ines").err
    assert "Ines" in ash("person", "list").out
    ash("event", "add", "Ash", "jam", "--by", "Ines")
    assert "Ines" in ash("acts", "--limit", "1").out
    assert len(ash("acts", "--json").data) == 3


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("labor_per_h", "25", "did you mean labour_per_h"),
        ("labour_per_h", "much", "write it like 24.5"),
        ("labour_per_h", "nan", "expected 0 to"),
        ("labour_per_h", "-4", "expected 0 to"),
        ("zone", "Europe/Wien", "Europe/Vienna"),
        ("currency", "euro", "such as EUR"),
        ("currency", "usd", "how many USD one EUR is"),
        ("usual_part_fan_frac", "500", "expected 0 to 1"),
        ("name", " ", "name"),
    ],
)
def test_a_figure_that_cannot_be_so_is_refused(name: str, value: str, told: str, ash: Command) -> None:
    said = ash("figure", "set", name, value)
    assert (said.code, said.out) == (2, "")
    assert told in said.err


def test_a_figure_once_set_is_the_farms_own(ash: Command) -> None:
    for name, value in (("zone", "Asia/Tokyo"), ("name", "The shed")):
        assert ash("figure", "set", name, value).code == 0
    assert ash("figure", "set", "currency", "chf", "--price-ratio", "0.94").code == 0
    assert ash("figure", "set", "labour_per_h", "31.5").code == 0
    assert "currency alone" in ash("figure", "set", "zone", "UTC", "--price-ratio", "0.94").err
    held = ash("figure", "list", "--json").data
    assert (held["name"], held["zone"], held["currency"]) == ("The shed", "Asia/Tokyo", "CHF")
    assert held["numbers"]["labour_per_h"]["value"] == 31.5
    assert held["numbers"]["labour_per_h"]["source"] == "farm"


def test_a_run_voided_takes_back_what_it_charged(ash: Command) -> None:
    ash("run", "add", "Ash", "--hours", "100", "--material", "petg")
    assert ash("void", "run", "1", "--reason", " ").code == 2
    assert "expected one of" in ash("void", "runs", "1", "--reason", "typed twice").err
    assert ash("void", "run", "1", "--reason", "typed twice").code == 0
    assert ash("void", "run", "1", "--reason", "typed twice").code == 2
    assert ash("run", "list", "--json").data == []
    shares = [part["outlook"]["exposure"]["mid"] for part in ash("machine", "show", "Ash", "--json").data["parts"]]
    assert set(shares) == {0}


def test_a_backup_brought_back_is_the_same_farm(ash: Command, tmp_path: Path) -> None:
    ash("run", "add", "Ash", "--hours", "100", "--material", "petg")
    kept, back = tmp_path / "kept", tmp_path / "back"
    said = ash("backup", kept)
    assert said.code == 0
    assert "1 machines, " in said.out
    assert ash("backup", kept).code == 2
    assert ash("restore", tmp_path / "none", "--farm", back).code == 2
    assert ash("restore", kept).code == 2  # never over the farm that is there
    assert ash("restore", kept, "--farm", back).code == 0
    assert ash("bench", "--farm", back, "--json").data["runs"] == 1


def test_the_books_name_what_was_taken_back(ash: Command) -> None:
    run = ash("run", "add", "Ash", "--hours", "2", "--material", "pla", "--json").data["run"]["id"]
    assert ash("void", "run", str(run), "--reason", "typed twice").code == 0
    latest = ash("acts", "--limit", "1", "--json").data[0]
    assert (latest["voided"], latest["wrote"], latest["act"]["reason"]) == (f"run {run}", "", "typed twice")
    assert "17 fittings" in ash("acts").out
