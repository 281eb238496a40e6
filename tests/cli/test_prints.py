"""``print``: a print begun, ended and taken back from the terminal."""

import pytest
from tests.cli.conftest import PRINT, Command


def test_a_print_begun_and_finished_is_a_run(ash: Command) -> None:
    begun = ash("print", "start", "Ash", PRINT, "--material", "pla", "--copies", "2")
    assert begun.code == 0
    assert "Print 1 on Ash began; it should end 20" in begun.out
    listed = ash("print", "under-way")
    assert PRINT.name in listed.out
    assert "0%" in listed.out
    assert ash("print", "finish", "Ash", "--note", "sold").out.startswith("Print 1 on Ash is finished: run 1 is on rec")
    run = ash("run", "list", "--json").data[0]["run"]
    assert (run["outcome"], run["copies"], run["note"]) == ("complete", 2, "sold")
    assert "Nothing is under way" in ash("print", "under-way").out


def test_a_spoiled_print_leads_to_the_part_at_fault(ash: Command) -> None:
    ash("print", "start", "Ash", "--material", "pla", "--hours", "3")
    told = ash("print", "spoil", "Ash", "--fraction", "0.4", "--look", "strings")
    assert "is spoiled at 40% of copy 1: run 1 is on record" in told.out
    opened = told.out.split("`")[-2].split()[1:]
    assert ash(*[word.strip("'") for word in opened]).code == 0
    assert "strings" in ash("print", "looks").out


def test_a_tap_is_taken_back_by_the_number_it_said(ash: Command) -> None:
    act = ash("print", "start", "Ash", "--material", "pla", "--json").data["act_id"]
    assert ash("print", "undo", act).out == "the beginning of print 1 on Ash taken back.\n"
    assert ash("print", "under-way", "--json").data == []
    refused = ash("print", "undo", act)
    assert (refused.code, "already" in refused.err) == (2, True)


def test_a_command_sent_twice_under_one_key_counts_once(ash: Command) -> None:
    for _ in range(2):
        assert ash("print", "start", "Ash", "--material", "pla", "--hours", "2", "--key", "k1").code == 0
    for _ in range(2):
        assert ash("print", "stop", "Ash", "--fraction", "0.5", "--key", "k2").code == 0
    assert len(ash("run", "list", "--json").data) == 1


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["start", "Ash"], "material"),
        (["start", "Ash", "none.gcode", "--material", "pla"], "toolpath"),
        (["start", "Ash", "--queued", "7"], "no such print waits"),
        (["finish", "Ash"], "nothing is under way"),
        (["spoil", "Ash", "--look", "haunted"], "nothing is under way"),
        (["undo", "999"], "no such tap"),
    ],
)
def test_what_cannot_be_is_refused(words: list[str], told: str, ash: Command) -> None:
    said = ash("print", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
    assert "what to do:" in said.err
