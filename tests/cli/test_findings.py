"""``finding`` and ``renew``."""

from datetime import UTC, datetime, timedelta

import pytest
from tests.cli.conftest import Command


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["tube_end"], "clean, trace, ring, black"),
        (["tube_end", "blak"], "did you mean black"),
        (["tubeend", "black"], "tube_end"),
        (["tube_end", "black", "--position", "7"], "no such part was fitted there then"),
        (["tube_end", "black", "--position", "0"], "greater than or equal to 1"),
        (["tube_end", "black", "--at", "2001-01-01"], "no such part was fitted there then"),
        (["tube_end", "black", "--at", "2999-01-01"], "until now"),
        (["tube_end", "--reading", "3"], "unit"),
        (["tube_end", "--reading", "3", "--unit", "furlong"], "unit"),
        (["tube_end", "--reading", "nan", "--unit", "mm"], "reading"),
    ],
)
def test_a_finding_that_cannot_be_so_is_refused_and_not_recorded(words: list[str], told: str, ash: Command) -> None:
    said = ash("finding", "add", "Ash", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert "what to do:" in said.err
    assert ash("finding", "list", "--json").data == []


def test_findings_of_both_kinds_are_listed_latest_first(ash: Command) -> None:
    assert ash("finding", "add", "Ash", "tube end", "Ring", "--note", "[brown] :smile:").code == 0
    assert ash("finding", "add", "Ash", "tube_coupler", "--reading", "0.4", "--unit", "mm", "--position", "2").code == 0
    listed = ash("finding", "list").out
    assert "0.4 mm" in listed
    assert "tube_coupler 2" in listed
    assert "[brown] :smile:" in listed  # a note is shown as it was written
    assert len(ash("finding", "list", "--limit", "1", "--json").data) == 1


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["nozzle", "--product", "gold"], "hardened_steel"),
        (["nozzle", "--reason", "bored"], "failed, worn, sound, moved or retired"),
        (["nozzle", "--found", "blue"], "grade"),
        (["nozzle", "--minutes", "-4"], "minutes"),
        (["nozzle", "--minutes", "nan"], "minutes"),
        (["nozzle", "--at", "2001-01-01"], "no such part was fitted there then"),
        (["tube_end", "--trim-mm", "-4"], "trim"),
        (["guide_tube", "--length-mm", "-5"], "mm"),
    ],
)
def test_a_renewal_that_cannot_be_so_is_refused_and_nothing_changes(words: list[str], told: str, ash: Command) -> None:
    before = ash("machine", "show", "Ash", "--json").data["parts"]
    said = ash("renew", "Ash", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert "what to do:" in said.err
    assert [part["fitting"] for part in ash("machine", "show", "Ash", "--json").data["parts"]] == [
        part["fitting"] for part in before
    ]


def test_renewing_begins_anew_and_says_what_is_left_of_the_tube(ash: Command) -> None:
    yesterday = f"{datetime.now(UTC) - timedelta(days=1):%Y-%m-%d}"
    ash("run", "add", "Ash", "--hours", "10", "--material", "petg", "--at", yesterday)
    said = ash("renew", "Ash", "tube_end", "--found", "black", "--trim-mm", "4", "--minutes", "12")
    assert said.code == 0
    assert "a new tube end (plain) is fitted" in said.out
    assert "it can be trimmed" in said.out
    parts = ash("machine", "show", "Ash", "--json").data["parts"]
    end = next(part for part in parts if part["fitting"]["part_kind"] == "tube_end")
    assert end["outlook"]["exposure"]["mid"] == 0
    assert ash("finding", "list", "--json").data[0][0]["grade"] == "black"
