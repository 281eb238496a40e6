"""``catalogue``: what the trade knows, shown with its sources."""

import re

from tests.cli.conftest import Command


def test_every_entry_is_shown_with_a_source_for_each_number(command: Command) -> None:
    entries = command("catalogue", "list", "--json").data
    assert {entry["kind"] for entry in entries} == {"part kind", "material", "build"}
    for entry in entries:
        said = command("catalogue", "show", entry["id"])
        assert said.code == 0, said.err
        assert entry["title"] in said.out
        if entry["kind"] != "build":
            assert re.search(r"\[.+\]$", said.out, re.MULTILINE)


def test_an_unknown_entry_is_refused_with_the_nearest(command: Command) -> None:
    said = command("catalogue", "show", "nozle")
    assert (said.code, said.out) == (2, "")
    assert "did you mean nozzle?" in said.err
