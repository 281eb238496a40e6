"""``case``: a trouble from the first word to the written answer."""

from pathlib import Path

import pytest
from tests.cli.conftest import Command


def test_words_lead_to_symptoms(command: Command) -> None:
    assert "strings" in command("case", "find", "spider", "webs").out
    assert command("case", "find", "xyzzy").out.startswith("Nothing fits")
    assert "after_power_cut" in command("case", "find", "power").out


def test_a_case_of_somebody_else_needs_no_machine(command: Command, tmp_path: Path) -> None:
    said = command("case", "open", "--saw", "strings", "--saw", "gaps_after_travel", "--hot-end", "lined")
    assert said.code == 0, said.err
    assert "Case 1 is open." in said.out
    assert "Next: " in said.out
    told = command("case", "tell", 1, "--saw", "end_ring", "--state", "hot", "--read", "feed=97")
    assert told.out.index("liner_gap") < 200
    assert "To" not in command("case", "answer", 1).out.splitlines()[0]
    pdf = tmp_path / "answer.pdf"
    assert command("case", "answer", 1, "--pdf", pdf).code == 0
    assert pdf.read_bytes().startswith(b"%PDF-")
    assert command("case", "end", 1, "--cause", "liner_gap").code == 0
    assert "liner_gap" in command("case", "list").out
    assert command("case", "list", "--json").data[0]["ending"]["cure"] == "trim_tube_end"
    assert "Closed: liner_gap." in command("case", "show", 1).out


def test_an_own_machine_is_known_beforehand(ash: Command) -> None:
    ash("event", "add", "Ash", "power_cut", "--nozzle-c", "210", "--minutes", "4")
    said = ash("case", "open", "--machine", "Ash", "--saw", "clicks", "--saw", "began_suddenly", "--json")
    assert said.code == 0, said.err
    assert said.data["holds"]["after_power_cut"] is True
    assert "soak_plug" in [one["cause"] for one in said.data["suspects"][:2]]
    assert ash("void", "case", 1, "--reason", "play").code == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["tell", 1, "--saw", "stringz"], "strings"),
        (["tell", 1, "--read", "feed"], "NAME=NUMBER"),
        (["tell", 1, "--read", "feed=900"], "0 to 200"),
        (["tell", 1, "--state", "lukewarm"], "cold, hot, running"),
        (["tell", 1], "nothing was told"),
        (["tell", 9, "--saw", "strings"], "no such case"),
        (["end", 1, "--cause", "gremlin"], "no such cause"),
        (["open", "--machine", "Nobody"], "machine"),
        (["open", "--known", "enclosed=perhaps"], "yes, no, unsure"),
        (["answer", 1, "--pdf", "/nowhere/at/all.pdf"], "what to do"),
    ],
)
def test_what_cannot_be_taken_is_refused(words: list[object], told: str, ash: Command) -> None:
    assert ash("case", "open", "--saw", "strings").code == 0
    said = ash("case", *words)
    assert (said.code, said.out) == (2, "")
    assert told in said.err
