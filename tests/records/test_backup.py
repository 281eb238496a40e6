"""A backup is whole and proved, or there is none; restoring never writes over anything."""

import gzip
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest

from feedwright.errors import BadInput, StoreError
from feedwright.records.backup import backup, prove, restore
from feedwright.records.copies import keep_copy
from feedwright.records.engine import FILE_NAME
from feedwright.records.photo_files import keep_photo_file
from feedwright.records.photo_values import Photo
from feedwright.records.store import Store, open_store
from feedwright.records.values import Machine, Person, Run, Toolpath

AT = datetime(2026, 3, 1, tzinfo=UTC)
PLAIN, PACKED = b"G28\nG1 X5 E1\n" * 99, gzip.compress(b"G28\nG1 X6 E1\n" * 99, mtime=0)
PICTURE = b"\xff\xd8 a picture"
PHOTO = f"photos/{sha256(PICTURE).hexdigest()}.jpg"
COPIES = {f"toolpaths/{sha256(text).hexdigest()}.gcode.gz" for text in (PLAIN, PACKED)}


@pytest.fixture
def kept(folder: Path, store: Store, machine: Machine) -> Store:
    with store.act("write") as act:
        for number in range(300):
            act.add(Person(f"keeper {number}"))
            act.add(Run(machine.id, AT, "complete", "pla"))
    given = folder.parent / "given"
    for text, name in ((PLAIN, "plain.gcode"), (PACKED, "packed.gcode.gz")):
        given.write_bytes(text)
        keep_copy(folder, given, sha256(text).hexdigest())
        with store.act("add toolpath") as act:
            act.add(Toolpath(sha256(text).hexdigest(), name, len(text), "filament", True, AT))
    given.unlink()
    with store.act("add toolpath") as act:  # its copy is gone, which is borne
        act.add(Toolpath("0" * 64, "gone.gcode", 1, "filament", True, AT))
    (folder / "toolpaths" / "half.part").write_bytes(b"not whole")
    with store.act("visit") as act:
        act.add(Photo(machine.id, AT, keep_photo_file(folder, PICTURE), len(PICTURE), 4, 3))
    (folder / "photos" / "half.part").write_bytes(b"not whole")
    (folder / "notes").mkdir()
    (folder / "notes" / "mine.txt").write_text("not the farm's")
    return store


def counts_of(store: Store) -> dict[str, int]:
    return {**store.counts(), "toolpath_copies": 2, "photo_files": 1}


def damage(path: Path) -> None:
    """Overwrite the page that holds the runs."""
    with closing(sqlite3.connect(path)) as connection:
        page = connection.execute("PRAGMA page_size").fetchone()[0]
        root = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'runs'").fetchone()[0]
    data = bytearray(path.read_bytes())
    data[(root - 1) * page : root * page] = b"\xa5" * page
    path.write_bytes(data)


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_backup_taken_while_an_act_is_open_holds_all_that_was_acknowledged(kept: Store, tmp_path: Path) -> None:
    before = counts_of(kept)
    with kept.act("write") as act:
        act.add(Person("not yet"))
        assert backup(kept, tmp_path / "copy") == before
    with open_store(tmp_path / "copy") as copy:
        assert copy.runs() == kept.runs()
        assert copy.acts(99) == kept.acts(99)[1:]
    assert files(tmp_path / "copy").keys() == {FILE_NAME, PHOTO, *COPIES}


def test_a_restored_farm_is_the_farm_and_goes_on_being_written(kept: Store, tmp_path: Path) -> None:
    backup(kept, tmp_path / "copy")
    (tmp_path / "copy" / "notes").mkdir()
    before = files(tmp_path / "copy")
    (tmp_path / "new").mkdir()  # empty is as good as new
    assert restore(tmp_path / "copy", tmp_path / "new") == counts_of(kept)
    assert files(tmp_path / "copy") == before, "the backup is only read"
    with open_store(tmp_path / "new") as restored:
        assert restored.machines() == kept.machines()
        with restored.act("add person") as act:
            act.add(Person("Ines"))
        with restored._writing() as connection:
            assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "wal"
    assert {name for name in files(tmp_path / "new") if name.startswith("toolpaths")} == COPIES
    assert sorted(held.name for held in (tmp_path / "new").iterdir()) == [FILE_NAME, "photos", "toolpaths"]
    assert files(tmp_path / "new")[PHOTO] == PICTURE


@pytest.mark.parametrize("name", sorted(COPIES))
@pytest.mark.parametrize("harm", ["flip", "cut", "other"])
def test_a_damaged_copy_of_a_toolpath_is_found_by_its_hash(
    kept: Store, folder: Path, tmp_path: Path, name: str, harm: str
) -> None:
    backup(kept, tmp_path / "copy")
    whole = (folder / name).read_bytes()
    flipped = bytes([*whole[:20], whole[20] ^ 1, *whole[21:]])
    harmed = {"flip": flipped, "cut": whole[:-9], "other": gzip.compress(b"G28\n")}[harm]
    (tmp_path / "copy" / name).write_bytes(harmed)
    with pytest.raises(StoreError, match="is damaged") as refused:
        restore(tmp_path / "copy", tmp_path / "new")
    assert refused.value.subject == str(tmp_path / "copy" / name)
    assert not (tmp_path / "new").exists()
    (folder / name).write_bytes(harmed)
    with pytest.raises(StoreError, match="is damaged") as refused:
        backup(kept, tmp_path / "again")
    assert refused.value.subject == str(folder / name)
    assert not (tmp_path / "again").exists()


@pytest.mark.parametrize("harm", ["flip", "gone"])
def test_a_photo_that_is_gone_or_damaged_is_found_and_can_be_voided(
    kept: Store, folder: Path, tmp_path: Path, harm: str
) -> None:
    backup(kept, tmp_path / "copy")
    for held in (tmp_path / "copy", folder):
        (held / PHOTO).unlink()
        if harm == "flip":
            (held / PHOTO).write_bytes(PICTURE[:-1] + b"x")
    with pytest.raises(StoreError, match="photo 1 is gone or damaged"):
        restore(tmp_path / "copy", tmp_path / "new")
    assert not (tmp_path / "new").exists()
    with pytest.raises(StoreError, match="void photo 1"):
        backup(kept, tmp_path / "again")
    with kept.act("void", reason="its file is lost") as act:
        act.void(act.every(Photo)[0])
    assert backup(kept, tmp_path / "again")["photo_files"] == 0


def test_the_present_folder_and_a_way_round_are_taken_for_what_they_are(
    kept: Store, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    backup(kept, Path())
    assert Path(FILE_NAME).is_file(), "who stands in the folder still does"
    (tmp_path / "link").symlink_to(folder)
    with pytest.raises(BadInput, match="outside the farm"):
        backup(kept, tmp_path / "link" / "inner")
    for inner in (Path("inner"), tmp_path / "here" / "a" / ".." / "inner"):
        with pytest.raises(BadInput, match="outside the backup"):
            restore(Path(), inner)
    assert not (tmp_path / "here" / "inner").exists()


def test_a_damaged_backup_is_not_restored(kept: Store, tmp_path: Path) -> None:
    backup(kept, tmp_path / "copy")
    damage(tmp_path / "copy" / FILE_NAME)
    with pytest.raises(StoreError) as refused:
        restore(tmp_path / "copy", tmp_path / "new")
    assert str(tmp_path / "copy") in refused.value.subject
    assert refused.value.remedy
    with pytest.raises(StoreError):
        prove(tmp_path / "copy")
    assert not (tmp_path / "new").exists()


def test_a_backup_whose_rows_lost_what_they_rest_on_is_not_whole(kept: Store, tmp_path: Path) -> None:
    backup(kept, tmp_path / "copy")
    with closing(sqlite3.connect(tmp_path / "copy" / FILE_NAME)) as other, other:
        other.execute("DROP TRIGGER machines_stay")
        other.execute("DELETE FROM machines")
    with pytest.raises(StoreError, match="302 rows have lost"):
        restore(tmp_path / "copy", tmp_path / "new")


def test_a_damaged_farm_gives_no_backup(kept: Store, folder: Path, tmp_path: Path) -> None:
    kept.close()
    damage(folder / FILE_NAME)
    with open_store(folder) as damaged, pytest.raises(StoreError):
        backup(damaged, tmp_path / "copy")
    assert sorted(held.name for held in tmp_path.iterdir()) == ["farm"], "nothing half-done remains"


def test_nothing_is_ever_written_over(kept: Store, folder: Path, tmp_path: Path) -> None:
    backup(kept, tmp_path / "copy")
    before = files(tmp_path / "copy")
    for again in (lambda: backup(kept, tmp_path / "copy"), lambda: restore(tmp_path / "copy", folder)):
        with pytest.raises(BadInput, match="new or empty folder"):
            again()
    (tmp_path / "file").touch()
    with pytest.raises(BadInput, match="new or empty folder"):
        backup(kept, tmp_path / "file")
    with pytest.raises(BadInput, match="outside the farm"):
        backup(kept, folder / "copies" / "monday")
    with pytest.raises(BadInput, match="no backup in this folder"):
        restore(tmp_path / "nowhere", tmp_path / "new")
    assert files(tmp_path / "copy") == before
