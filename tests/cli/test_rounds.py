"""Rounds by command: planned, asked otherwise, printed, fed to a calendar, tried under other circumstances."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import vobject
from pypdf import PdfReader
from tests.cli.conftest import Command


@pytest.fixture
def worn(ash: Command) -> Command:
    """Ash has printed for weeks, and its rounds are planned."""
    for week in range(4):
        at = f"{datetime.now(UTC) - timedelta(days=10 * week + 9):%Y-%m-%dT%H:%M}"
        assert ash("run", "add", "Ash", "--hours", 160, "--material", "pla", "--nozzle-c", 245, "--at", at).code == 0
    said = ash("rounds", "plan")
    assert said.code == 0, said.err
    return ash


def stop_number(command: Command) -> int:
    return int(command("rounds", "show", "--json").data["rounds"][0]["stops"][0]["number"])


def test_a_plan_is_shown_moved_locked_skipped_and_let_go(worn: Command) -> None:
    shown = worn("rounds", "show").out
    assert "could still be saved (proved)" in shown
    assert "Ash" in shown
    assert "hours are assumed" in " ".join(shown.split())
    assert "locked on" in worn("rounds", "lock", stop_number(worn)).out
    to = f"{datetime.now(UTC).date() + timedelta(days=13)}"
    assert f"on {to}" in worn("rounds", "move", stop_number(worn), to, "--reason", "a fair").out
    again = worn("rounds", "plan", "--json").data
    assert to in [one["day"] for one in again["rounds"]]
    assert "a fair" in worn("rounds", "show").out
    assert "left out until" in worn("rounds", "skip", stop_number(worn), "--reason", "on loan").out
    wish = worn("rounds", "show").out.split("asked, number ")[1].split(":")[0]
    assert "is let go" in worn("rounds", "let-go", wish).out


def test_sheet_and_calendar_are_written_as_files_that_others_read(worn: Command, tmp_path: Path) -> None:
    for paper, width in (("a4", 595), ("letter", 612)):
        file = tmp_path / f"{paper}.pdf"
        assert worn("rounds", "sheet", "--paper", paper, "--to", file).code == 0
        assert int(PdfReader(file).pages[0].mediabox.width) == width
    assert "[ ]" in worn("rounds", "sheet").out
    assert worn("rounds", "sheet", "--json").data["rounds"][0]["tools"]
    feed = tmp_path / "rounds.ics"
    assert worn("rounds", "calendar", "--to", feed).code == 0
    assert vobject.readOne(feed.read_bytes().decode()).vevent.summary.value.startswith("Round of service")


def test_hours_and_busy_machines_are_said_and_listed(ash: Command) -> None:
    assert "3 h" in ash("rounds", "hours", "set", "tuesday", 180, "--from", "16:00").out
    assert ash("rounds", "hours", "set", "2030-12-24", 0, "--note", "holiday").code == 0
    listed = ash("rounds", "hours", "list").out
    assert "tuesday" in listed
    assert "holiday" in listed
    assert ash("rounds", "busy", "add", "Ash", "2030-01-01T08:00", "2030-01-02T08:00", "--note", "rush").code == 0
    assert "rush" in ash("rounds", "busy", "list").out


def test_a_stop_is_begun_as_a_visit(worn: Command) -> None:
    assert "Visit 1 is begun" in worn("rounds", "begin", stop_number(worn)).out
    assert "under way" in worn("rounds", "show").out


def test_what_if_tells_the_difference(worn: Command) -> None:
    told = worn("rounds", "what-if", "--hours-percent", 50, "--price", "nozzle=30", "--limit-s", 2)
    assert told.code == 0, told.err
    assert "50% of the hours" in told.out
    assert "gaps of the two searches" in told.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["show"], "none was made yet"),
        (["lock", "7"], "no such stop"),
        (["let-go", "7"], "let go already"),
        (["sheet", "--day", "2026-01-01"], "none was made yet"),
        (["hours", "set", "someday", "60"], "expected a day or a weekday"),
        (["hours", "set", "monday", "60", "--from", "late"], "09:00"),
        (["busy", "add", "Ash", "2030-01-02", "2030-01-01"], "expected later"),
        (["busy", "add", "Ash", "soon", "2030-01-01"], "expected a date and time"),
        (["what-if"], "say what would be otherwise"),
        (["what-if", "--price", "nozzle"], "= between"),
        (["what-if", "--grade", "hat=brass"], "no such part kind"),
    ],
)
def test_what_cannot_be_is_refused_with_the_remedy(ash: Command, words: list[str], said: str) -> None:
    refused = ash("rounds", *words)
    assert (refused.code, refused.out) == (2, "")
    assert said in refused.err
