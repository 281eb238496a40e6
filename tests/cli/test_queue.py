"""``queue``: what waits, what is proposed for it, and a word that overrules."""

from dataclasses import replace
from pathlib import Path

import pytest
from tests.cli.conftest import Command

from feedwright.demo.toolpath_maker import THINGS, toolpath_of

FILE = "small_clips.gcode"


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file that every machine can print."""
    path = tmp_path_factory.mktemp("small") / FILE
    path.write_text(toolpath_of(replace(THINGS[2], islands=4, height_mm=4)))
    return path


@pytest.fixture
def queued(ash: Command, small: Path) -> Command:
    """One file known, and two copies of it in the queue."""
    assert ash("toolpath", "add", small).code == 0
    assert ash("machine", "add", "Birch", "moving_bed_direct", "--history", "new").code == 0
    assert ash("queue", "add", FILE, "--material", "pla", "--copies", "2", "--note", "for Mo").code == 0
    return ash


def test_the_queue_lists_what_waits_and_forgets_what_is_taken_off(queued: Command) -> None:
    listed = queued("queue", "list")
    assert FILE in listed.out
    assert "for Mo" in listed.out
    assert queued("queue", "take-off", "1", "--reason", "not wanted").out == f"{FILE} is off the queue.\n"
    assert "Nothing waits" in queued("queue", "list").out
    assert queued("queue", "take-off", "1").code == 2


def test_a_proposal_says_where_when_and_how_surely(queued: Command) -> None:
    said = queued("queue", "propose", "--why")
    assert "It is free now." in said.out
    assert "no plan costs less than 100% of that" in said.out
    made = queued("queue", "propose", "--json").data
    assert {one["machine"]["name"] for one in made["proposals"]} <= {"Ash", "Birch"}
    for one in made["proposals"]:
        assert 0 < one["finish"]["low"] <= one["finish"]["mid"] <= one["finish"]["high"] <= 1
        assert one["spool"]["words"]


def test_a_persons_word_overrules_the_proposal(queued: Command) -> None:
    for machine in ("Ash", "Birch"):
        assert queued("queue", "place", "1", machine, "--note", "it is nearest").code == 0
        made = queued("queue", "propose", "--json").data["proposals"]
        assert [(one["machine"]["name"], one["copies"]) for one in made] == [(machine, 2)]
        assert made[0]["why"][0] == f"You put it on {machine}: it is nearest."
    assert "goes where it is proposed" in queued("queue", "place", "1").out


def test_what_is_begun_for_the_queue_waits_no_more(queued: Command) -> None:
    assert queued("print", "start", "Ash", "--queued", "1", "--copies", "2").code == 0
    assert queued("queue", "list", "--json").data[0]["under_way"] == 2
    assert "Nothing waits for a machine" in queued("queue", "propose").out
    queued("print", "finish", "Ash")
    assert queued("queue", "list", "--json").data == []
    assert len(queued("queue", "list", "--complete", "--json").data) == 1


def test_a_machine_in_service_takes_nothing_and_says_why(queued: Command) -> None:
    assert queued("visit", "begin", "Ash", "trim_tube").code == 0
    queued("queue", "place", "1", "Ash")
    said = queued("queue", "propose").out
    assert "You put it on Ash: in service, visit 1" in said


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["add", "none.gcode", "--material", "pla"], "toolpath"),
        (["add", FILE, "--material", "soap"], "material"),
        (["add", FILE, "--material", "pla", "--copies", "0"], "copies"),
        (["add", FILE, "--material", "pla", "--due", "soon"], "date and time"),
        (["add", FILE, "--material", "pla", "--due", "2999-01-01"], "ten years"),
        (["place", "1", "Oak"], "machine"),
        (["place", "77", "Ash"], "no such print waits"),
    ],
)
def test_what_cannot_be_is_refused(words: list[str], told: str, queued: Command) -> None:
    said = queued("queue", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert "what to do:" in said.err
