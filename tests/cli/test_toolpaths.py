"""``duty`` and ``toolpath``: reading files from the command line."""

import gzip
import json
import os
from pathlib import Path

import pytest
from tests.cli.conftest import MILLING, PRINT, SAMPLES, Command

from feedwright.cli.toolpaths import MEASURED

LONG = SAMPLES / "d14.gcode.gz"
"""Sets no limits of its own."""
ASKED = {
    "file", "kind", "complete", "lines", "moves", "duration_s", "printing_s", "filament_net_mm",
    "filament_high_water_mm", "filament_forward_mm", "reversals", "max_passes", "layers", "nozzle_c_max", "warnings",
}  # fmt: skip
"""The keys that the order for this program lists."""


def test_duty_gives_one_object_a_file_in_order_and_code_2_where_any_is_refused(
    command: Command, tmp_path: Path
) -> None:
    """A print among all that is none: the print is reported whole, every other says why not."""
    (tmp_path / "empty.gcode").touch()
    (tmp_path / "noise.gcode").write_bytes(os.urandom(3000))
    (tmp_path / "prose.gcode").write_text("To whom it may concern\n" * 50)
    (tmp_path / "cut.gcode.gz").write_bytes(gzip.compress(PRINT.read_bytes())[:6000])
    files = [
        tmp_path / "none.gcode", PRINT, MILLING, tmp_path, tmp_path / "empty.gcode", tmp_path / "noise.gcode",
        tmp_path / "prose.gcode", tmp_path / "cut.gcode.gz", PRINT,
    ]  # fmt: skip
    said = command("duty", *files, "--json")
    assert (said.code, said.err) == (2, "")
    assert [one["file"] for one in said.data] == [str(path) for path in files]
    assert all(one.keys() >= ASKED | set(MEASURED) for one in said.data)
    kinds = [one["kind"] for one in said.data]
    assert kinds == [
        "unreadable", "filament", "milling", "unreadable", "empty", "binary", "text", "filament", "filament",
    ]  # fmt: skip
    assert all(one["refused_because"] and one["moves"] is None for one in said.data if one["kind"] != "filament")
    whole, cut = said.data[1], said.data[7]
    assert whole["complete"]
    assert not cut["complete"]
    assert cut["warnings"]
    assert 0 < cut["duration_s"] < whole["duration_s"]
    assert whole == said.data[8]


def test_duty_of_prints_alone_ends_with_0_and_shows_units(command: Command, folder: Path) -> None:
    said = command("duty", PRINT, SAMPLES / "d14.gcode.gz")
    assert (said.code, said.err) == (0, "")
    assert "off the spool" in said.out
    assert "°C" in said.out
    assert "mm³/s" in said.out
    assert not folder.exists()  # reading needs no farm and makes none


def test_a_refused_file_is_told_on_stderr_with_what_was_expected(command: Command, tmp_path: Path) -> None:
    said = command("duty", MILLING, tmp_path / "none.gcode")
    assert (said.code, said.out) == (2, "")
    assert f"{MILLING} (read as: milling)" in said.err
    assert "there is no such file" in said.err
    assert said.err.count("what to do:") == 2


@pytest.mark.skipif(os.geteuid() == 0, reason="the system's administrator may read every file")
def test_a_file_that_may_not_be_read_is_refused(command: Command, tmp_path: Path) -> None:
    hidden = tmp_path / "hidden.gcode"
    hidden.write_text("G1 X1\n")
    hidden.chmod(0)
    assert "permission denied" in command("duty", hidden).err


def test_duty_is_kept_in_the_farm_and_taken_from_there(
    ash: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second time nothing is read: the content is known, whatever the file is called."""
    first = ash("duty", PRINT, "--json").data[0]
    copy = tmp_path / "other.gcode"
    copy.write_bytes(PRINT.read_bytes())

    def read_many(paths: list[Path], *_: object, **__: object) -> list[object]:
        assert paths == []
        return []

    monkeypatch.setattr("feedwright.toolpath.read.read_many", read_many)
    again = ash("duty", copy, "--json").data[0]
    assert again == {**first, "file": str(copy)}


def test_a_machines_own_limits_change_the_time_and_nothing_else(ash: Command) -> None:
    ash("machine", "change", "Ash", "axis_speed_mm_s=[15,15,5,60]", "--reason", "it shakes")
    usual, slow = (ash("duty", LONG, *words, "--json").data[0] for words in ([], ["--machine", "ash"]))
    assert slow["printing_s"] > 1.05 * usual["printing_s"]
    assert slow["filament_net_mm"] == pytest.approx(usual["filament_net_mm"])
    said = ash("duty", PRINT, "--machine", "Asch")
    assert said.code == 2
    assert "did you mean Ash" in said.err


def test_a_kept_toolpath_can_be_shown_by_name_and_by_content(ash: Command) -> None:
    kept = ash("toolpath", "add", PRINT, "--name", "lid", "--json").data
    sha = kept["toolpath"]["sha256"]
    assert ash("toolpath", "list", "--json").data[0]["name"] == "lid"
    assert sha[:10] in ash("toolpath", "list").out
    by_name, by_sha = ash("toolpath", "show", "lid", "--json").data, ash("toolpath", "show", sha[:12], "--json").data
    assert by_name == by_sha == kept["duty"]
    refused = ash("toolpath", "show", "lit")
    assert refused.code == 2
    assert "lid" in refused.err


@pytest.mark.parametrize("file", [MILLING, SAMPLES, SAMPLES / "none.gcode"])
def test_what_is_no_print_is_not_kept(file: Path, ash: Command) -> None:
    said = ash("toolpath", "add", file, "--json")
    assert (said.code, said.out) == (2, "")
    assert json.loads(said.err)["remedy"]
    assert ash("toolpath", "list", "--json").data == []
