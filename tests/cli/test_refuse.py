"""How refusals are said: ours, the command line's and the system's."""

import json
from pathlib import Path

import pytest
from tests.cli.conftest import Command


@pytest.mark.parametrize(
    ("words", "expected", "remedy"),
    [
        (["benhc"], "Did you mean 'bench'?", "--help"),
        (["machine", "lits"], "Did you mean 'list'?", "feedwright machine --help"),
        (["run", "add"], "missing argument 'machine'", "feedwright run add --help"),
        (["run", "add", "Ash", "--hours", "long"], "expected a valid number", "feedwright run add --help"),
        (["run", "add", "Ash", "--hours", "6h"], "(“6h”)", "feedwright run add --help"),
        (["value", "set", "Ash", "retract_mm", "-4.5", "--why", "tried"], "looks like an option", "then --"),
        (["bench", "--machine"], "requires an argument", "--help"),
        (["serve", "--port", "99999"], "less than or equal to 65535", "feedwright serve --help"),
        (["acts", "--limit", "0"], "greater than or equal to 1", "feedwright acts --help"),
    ],
)  # fmt: skip
def test_a_slip_on_the_command_line_is_told_with_what_to_do(
    words: list[str], expected: str, remedy: str, command: Command
) -> None:
    said = command(*words)
    assert (said.code, said.out) == (2, "")
    assert expected in said.err
    assert remedy in said.err.split("what to do:")[1]


def test_a_refusal_is_four_fields_of_json_where_json_is_asked(command: Command) -> None:
    said = command("bench", "--json")
    assert (said.code, said.out) == (2, "")
    assert json.loads(said.err).keys() == {"error", "subject", "place", "expected", "remedy"}


def test_what_the_system_refuses_is_told_plainly(command: Command, tmp_path: Path) -> None:
    said = command("restore", "x" * 5000)
    assert said.code == 2
    assert "name too long" in said.err
    (tmp_path / "file").touch()
    said = command("machine", "add", "Ash", "moving_bed_remote", "--farm", tmp_path / "file")
    assert said.code == 2
    assert "what to do" in said.err
