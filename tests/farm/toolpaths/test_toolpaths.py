"""A toolpath is known by its content, and can be read again for another machine from the copy that is kept."""

import gzip
import hashlib
import shutil
from pathlib import Path
from typing import Any

import pytest

from feedwright.errors import BadInput, BadToolpath, Conflict, NotFound, StoreError
from feedwright.farm.machines.machines import change_machine, machine_named
from feedwright.farm.toolpaths import toolpaths
from feedwright.farm.toolpaths.toolpaths import (
    content_hash,
    keep_toolpath,
    known_toolpaths,
    read_toolpaths,
    reading_for,
    toolpath_named,
)
from feedwright.records.store import Store
from feedwright.toolpath.read import read_file
from feedwright.toolpath.values import MotionLimits

SAMPLES = Path(__file__).parents[2] / "data" / "toolpaths"


@pytest.mark.parametrize("file", ["d18.gcode", "d14.gcode.gz"])
def test_a_kept_toolpath_is_read_again_for_any_machine_without_its_file(farm: Store, tmp_path: Path, file: str) -> None:
    """Plain or packed, the kept copy gives what the file itself gives."""
    given = Path(shutil.copy(SAMPLES / file, tmp_path / file))
    toolpath, reading = keep_toolpath(farm, given)
    assert toolpath.sha256 == hashlib.sha256(given.read_bytes()).hexdigest() == content_hash(given)
    assert toolpath.bytes_count == given.stat().st_size
    given.unlink()
    slow = change_machine(farm, "Alder", {"axis_speed_mm_s": [30, 30, 5, 20]}, reason="worn bearings")
    again = reading_for(farm, toolpath, slow).duty
    assert again is not None
    assert again == read_file(SAMPLES / file, slow.motion).duty
    assert reading.duty is not None
    assert again.whole.duration_s > reading.duty.whole.duration_s
    copy = farm.folder / "toolpaths" / f"{toolpath.sha256}.gcode.gz"
    plain = (SAMPLES / file).read_bytes()
    assert gzip.decompress(copy.read_bytes()) == (gzip.decompress(plain) if file.endswith(".gz") else plain)


def test_the_same_content_is_recorded_once_whatever_it_is_called(farm: Store, tmp_path: Path) -> None:
    other = Path(shutil.copy(SAMPLES / "d20.gcode", tmp_path / "renamed.gcode"))
    before = farm.latest_act_id()
    toolpath, reading = keep_toolpath(farm, other)
    assert toolpath == toolpath_named(farm, "d20.gcode")
    assert farm.latest_act_id() == before
    assert reading.name == "renamed.gcode", "a reading bears the name it was asked by"


def test_a_toolpath_is_found_by_name_or_by_the_beginning_of_its_hash(farm: Store) -> None:
    known = toolpath_named(farm, "d20.gcode")
    assert toolpath_named(farm, known.sha256[:6].upper()) == known
    with pytest.raises(NotFound, match=r"did you mean d20\.gcode"):
        toolpath_named(farm, "d2.gcode")
    with pytest.raises(NotFound):
        toolpath_named(farm, known.sha256[:5])
    assert {held.name for held in known_toolpaths(farm)} == {"d20.gcode", "d09.gcode.gz"}


def test_what_was_read_before_is_taken_from_the_records_and_all_of_it_is_reported(
    farm: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = [SAMPLES / name for name in ("d20.gcode", "d18.gcode", "d20.gcode", "d02.gcode")]
    told: list[tuple[int, int]] = []
    readings = read_toolpaths(paths, MotionLimits(), store=farm, progress=lambda done, of: told.append((done, of)))
    assert [reading.name for reading in readings] == [path.name for path in paths]
    assert readings[0] == readings[2]
    assert readings[3].duty is None
    assert readings[3].refused_because
    assert told[-1][0] == told[-1][1] == sum(path.stat().st_size for path in set(paths))
    monkeypatch.setattr("feedwright.toolpath.read.read_file", lambda *_, **__: pytest.fail("read again"))
    assert read_toolpaths(paths, MotionLimits(), store=farm) == readings


def test_a_file_that_is_missing_or_of_another_kind_is_refused_by_name(farm: Store, tmp_path: Path) -> None:
    before = farm.counts()
    for missing in (tmp_path / "gone.gcode", tmp_path, tmp_path / ("x" * 5000)):
        with pytest.raises(BadInput) as refused:
            keep_toolpath(farm, missing)
        assert refused.value.subject == str(missing)
    with pytest.raises(BadToolpath) as refused:
        keep_toolpath(farm, SAMPLES / "d19.gcode", name="plate")
    assert (refused.value.subject, refused.value.place) == ("plate", "read as: milling")
    assert farm.counts() | {"readings": 0} == before | {"readings": 0}


def test_a_copy_that_cannot_be_kept_is_refused_and_leaves_nothing(farm: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    before = sorted((farm.folder / "toolpaths").iterdir())
    monkeypatch.setattr("feedwright.records.copies.os.fsync", full)
    with pytest.raises(StoreError, match="No space left on device"):
        keep_toolpath(farm, SAMPLES / "d18.gcode")
    assert sorted((farm.folder / "toolpaths").iterdir()) == before
    with pytest.raises(NotFound):
        toolpath_named(farm, "d18.gcode")


def test_a_file_that_is_written_to_while_it_is_read_is_refused_and_leaves_nothing(
    farm: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is kept under a hash is what was read under it, or nothing."""
    given = Path(shutil.copy(SAMPLES / "d18.gcode", tmp_path / "d18.gcode"))
    read = toolpaths.read_toolpaths

    def read_then_written(*args: Any, **named: Any) -> Any:
        readings = read(*args, **named)
        with given.open("ab") as file:
            file.write(b"G1 X1\n")
        return readings

    before = sorted((farm.folder / "toolpaths").iterdir())
    monkeypatch.setattr(toolpaths, "read_toolpaths", read_then_written)
    with pytest.raises(Conflict, match="written to while it was read"):
        keep_toolpath(farm, given)
    assert sorted((farm.folder / "toolpaths").iterdir()) == before
    with pytest.raises(NotFound):
        toolpath_named(farm, "d18.gcode")


@pytest.mark.parametrize("name", ["two\nlines.gcode", "odd\udcff.gcode", "x" * 256])
def test_a_file_name_that_cannot_be_shown_is_refused(farm: Store, name: str) -> None:
    before = farm.counts()
    with pytest.raises(BadInput, match=r"^file name"):
        keep_toolpath(farm, SAMPLES / "d18.gcode", name=name)
    assert farm.counts() | {"readings": 0} == before | {"readings": 0}


def test_a_toolpath_whose_copy_is_gone_says_what_to_do(farm: Store) -> None:
    known = toolpath_named(farm, "d20.gcode")
    for copy in (farm.folder / "toolpaths").iterdir():
        copy.unlink()
    with pytest.raises(NotFound, match="add the file again"):
        reading_for(farm, known, machine_named(farm, "Hazel"))
