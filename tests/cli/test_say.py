"""What every command shares."""

import json
import sys
from pathlib import Path

import pytest
from tests.cli.conftest import Command, Process

from feedwright.cli.say import progress, table


def test_a_time_without_a_zone_is_the_farms(ash: Command) -> None:
    """14:00 in Tokyo, where summer time is not kept, is 05:00 UTC; a time with its zone keeps it."""
    ash("figure", "set", "zone", "Asia/Tokyo")
    ash("event", "add", "Ash", "note", "--at", "2026-03-01T14:00")
    ash("event", "add", "Ash", "note", "--at", "2026-03-01T14:00+01:00")
    times = [event["at_utc"] for event in ash("event", "list", "--json").data]
    assert times == ["2026-03-01T13:00:00+00:00", "2026-03-01T05:00:00+00:00"]
    assert "2026-03-01 14:00" in ash("event", "list").out


def test_a_table_away_from_a_terminal_is_plain_and_wide() -> None:
    long = "a note that is somewhat longer than others and still stands on one line of the table as it was written"
    lines = list(table(("number", "note"), [("1", long), ("2", "[b]:smile:")]))
    assert lines[0].split() == ["number", "note"]
    assert long in lines[2]
    assert "[b]:smile:" in lines[3]


@pytest.mark.parametrize("as_json", [False, True])
def test_no_bar_is_drawn_for_programs_nor_away_from_a_terminal(
    as_json: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: as_json)
    with progress("reading", as_json=as_json) as bar:
        assert bar is None
    assert capsys.readouterr() == ("", "")


def test_on_a_terminal_a_bar_is_drawn_on_stderr_and_wiped_off(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    with progress("Reading", as_json=False, in_bytes=True) as bar:
        assert bar is not None
        bar(5e6, 1e7)
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "Reading" in shown.err


def test_a_file_name_that_is_no_text_is_shown_escaped(process: Process, tmp_path: Path) -> None:
    """File names are bytes on some systems; JSON stays JSON."""
    for words in (["--json"], []):
        running = process("duty", str(tmp_path / "odd\udcff.gcode"), *words)
        out, err = running.communicate(timeout=20)
        assert running.returncode == 2
        assert "\\udcff" in out + err
        assert not words or json.loads(out)[0]["kind"] == "unreadable"
