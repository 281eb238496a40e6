"""``csv``, ``export`` and ``import``: whole files in and out by command."""

from pathlib import Path

import pytest
from tests.cli.conftest import PRINT, Command

RUNS = "Printer;Begun;Stuff;Minutes\nAsh;23.03.2026 08:00;PLA;90\nash;24.03.2026;PLA;600\n"


@pytest.fixture
def prints(tmp_path: Path) -> Path:
    path = tmp_path / "prints.csv"
    path.write_text(RUNS)
    return path


MAPPED = ("--column", "started=Begun", "--column", "material=Stuff", "--column", "hours=Minutes", "--unit", "hours=min")


def test_a_file_is_looked_at_and_taken(ash: Command, prints: Path) -> None:
    looked = ash("csv", "look", prints, "--kind", "runs", *MAPPED, "--json").data
    assert (looked["new"], looked["missing"], looked["faults"]) == (2, [], [])
    assert looked["writing"]["separator"] == "semicolon"
    assert "2 rows would be recorded" in ash("csv", "look", prints, "--kind", "runs", *MAPPED).out
    taken = ash("csv", "in", prints, "--kind", "runs", *MAPPED, "--json").data
    assert (taken["kind"], taken["new"], taken["known"]) == ("runs", 2, 0)
    assert len(ash("run", "list", "--json").data) == 2
    again = ash("csv", "in", prints, "--kind", "runs", *MAPPED)
    assert again.code == 2
    assert "on record already" in again.err


def test_what_cannot_be_taken_is_refused_by_row_and_column(ash: Command, prints: Path) -> None:
    prints.write_text(RUNS + "Ash;25.03.2026;PLA;long\n")
    refused = ash("csv", "in", prints, "--kind", "runs", *MAPPED)
    assert refused.code == 2
    assert "row 4, column “Minutes”: “long”" in refused.err
    assert ash("run", "list", "--json").data == []


@pytest.mark.parametrize(
    "words",
    [
        ("--kind", "prayers"),
        ("--kind", "runs", "--separator", "dot"),
        ("--kind", "runs", "--decimal", "none"),
        ("--kind", "runs", "--dates", "moon"),
        ("--kind", "runs", "--column", "started"),
        ("--kind", "runs", "--column", "started=Nowhere"),
        ("--kind", "runs", "--unit", "hours=parsec"),
        ("--kind", "runs"),
    ],
)
def test_a_wrong_word_is_refused(ash: Command, prints: Path, words: tuple[str, ...]) -> None:
    said = ash("csv", "in", prints, *words)
    assert said.code == 2
    assert "what to do" in said.err
    assert ash("csv", "in", prints.with_name("none.csv"), "--json").code == 2


def test_lists_go_to_standard_output_a_file_or_all_into_a_folder(ash: Command, tmp_path: Path) -> None:
    ash("run", "add", "Ash", PRINT, "--material", "pla")
    assert ash("csv", "out", "machines").out.splitlines()[1].startswith("Ash,")
    told = ash("csv", "out", "runs", "--to", tmp_path / "runs.csv", "--json").data
    assert told["rows"] == 1
    assert ash("csv", "out", "runs", "--to", tmp_path / "runs.csv").code == 2, "nothing is written over"
    whole = ash("csv", "out", "all", "--to", tmp_path / "all", "--json").data
    assert {path.name for path in (tmp_path / "all").iterdir()} == set(whole["files"])
    assert ash("csv", "out", "all").code == 2
    assert ash("csv", "out", "nonsense").code == 2
    names = {one["name"] for one in ash("csv", "list", "--json").data}
    assert {f"{name}.csv" for name in names} == set(whole["files"])


def test_the_farm_goes_into_an_archive_and_comes_back(ash: Command, tmp_path: Path) -> None:
    ash("run", "add", "Ash", PRINT, "--material", "pla")
    made = ash("export", tmp_path / "farm.zip", "--json").data
    assert made["rows"]["runs"] == 1
    back = ash("import", tmp_path / "farm.zip", "--farm", tmp_path / "back", "--json").data
    assert back["recounted"] > 10
    assert len(ash("run", "list", "--farm", tmp_path / "back", "--json").data) == 1
    assert ash("import", tmp_path / "farm.zip").code == 2, "a farm is never written over"
    (tmp_path / "bad.zip").write_bytes(b"PK")
    assert ash("import", tmp_path / "bad.zip", "--farm", tmp_path / "other").code == 2
    assert not (tmp_path / "other").exists()
