"""Uploads are read apart, within limits, and their names are text."""

import gzip
import os
import unicodedata
from pathlib import Path

import pytest

from feedwright.errors import BadInput, BadToolpath
from feedwright.farm.ground.file_names import LONGEST_NAME, shown_name
from feedwright.farm.ground.house import open_farm
from feedwright.farm.toolpaths import uploads
from feedwright.farm.toolpaths.toolpaths import known_toolpaths
from feedwright.farm.toolpaths.uploads import read_apart, take_upload
from feedwright.toolpath.read import read_file
from feedwright.toolpath.values import MotionLimits

SAMPLES = Path(__file__).parents[2] / "data" / "toolpaths"


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("vase.gcode", "vase.gcode"),
        ("../../../etc/cron.d/x.gcode", "x.gcode"),
        ("C:\\Users\\x\\vase.gcode", "vase.gcode"),
        ("/", "file"),
        ("..", "file"),
        (". .", "file"),
        (None, "file"),
        ("a\x00b\r\nSet-Cookie: x.gcode", "abSet-Cookie: x.gcode"),
        ("\u202egpj.gcode", "gpj.gcode"),
        (unicodedata.normalize("NFD", "Vögel.gcode"), "Vögel.gcode"),
        ("<img src=x onerror=alert(1)>.gcode", "<img src=x onerror=alert(1)>.gcode"),
    ],
)
def test_a_name_is_its_last_part_in_letters_that_can_be_seen(given: str | None, shown: str) -> None:
    assert shown_name(given) == shown


def test_a_long_name_keeps_its_ending() -> None:
    assert shown_name("x" * 500 + ".gcode") == "x" * (LONGEST_NAME - 6) + ".gcode"
    assert len(shown_name("x." + "y" * 500)) == LONGEST_NAME


def test_read_apart_is_read_alike() -> None:
    path = SAMPLES / "d20.gcode"
    assert read_apart(path, MotionLimits(), called="x") == read_file(path)


def test_no_module_of_the_folder_it_was_started_in_is_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = (SAMPLES / "d20.gcode").resolve()
    (tmp_path / "json.py").write_text("raise SystemExit('a stray file was run')")
    monkeypatch.chdir(tmp_path)
    assert read_apart(path, MotionLimits(), called="x") == read_file(path)


def test_an_upload_is_kept_under_its_shown_name_and_read_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_farm(tmp_path / "farm", create=True) as store:
        kept = take_upload(store, SAMPLES / "d20.gcode", name="../../vase.gcode")
        assert kept.name == "vase.gcode"
        monkeypatch.setattr(uploads, "read_apart", lambda *_, **__: pytest.fail("it was read before"))
        assert take_upload(store, SAMPLES / "d20.gcode", name="again.gcode") == kept
        assert known_toolpaths(store) == [kept]
        assert sorted(path.name for path in (tmp_path / "farm" / "toolpaths").iterdir()) == [f"{kept.sha256}.gcode.gz"]


def test_what_is_no_toolpath_is_refused_and_leaves_nothing(tmp_path: Path) -> None:
    with open_farm(tmp_path / "farm", create=True) as store:
        with pytest.raises(BadToolpath):
            take_upload(store, SAMPLES / "d02.gcode", name="milling.gcode")
        assert known_toolpaths(store) == []


@pytest.mark.skipif(os.name != "posix", reason="the system has no limits of its own")
@pytest.mark.parametrize("limits", [{"memory_bytes": 64 << 20}, {"cpu_s": 1}, {"most_s": 0.05}], ids=str)
def test_a_process_that_takes_too_much_is_ended_and_said_so(tmp_path: Path, limits: dict[str, int]) -> None:
    """A gzip of nought unpacks to 8 GB and is read in more than a second of processor time."""
    bomb = tmp_path / "bomb.gz"
    member = gzip.compress(b"G1 X1 Y1 E1\n" * 4_000_000, 9)
    bomb.write_bytes(member * 40)
    with pytest.raises(BadInput, match="more time or memory") as refused:
        read_apart(bomb, MotionLimits(), called="vase.gcode", **limits)  # type: ignore[arg-type]
    assert refused.value.subject == "vase.gcode"


def test_a_bomb_of_nothing_is_read_in_bounded_memory_and_refused(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.gz"
    bomb.write_bytes(gzip.compress(bytes(400_000_000), 9))
    assert bomb.stat().st_size < 500_000
    with open_farm(tmp_path / "farm", create=True) as store, pytest.raises(BadToolpath):
        take_upload(store, bomb, name="bomb.gcode.gz")
