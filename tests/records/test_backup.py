"""A backup is whole and proved, or there is none; restoring never writes over anything."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from feedwright.errors import BadInput, StoreError
from feedwright.records.backup import backup, prove, restore
from feedwright.records.engine import FILE_NAME
from feedwright.records.store import Store, open_store
from feedwright.records.values import Machine, Person, Run

AT = datetime(2026, 3, 1, tzinfo=UTC)


@pytest.fixture
def kept(folder: Path, store: Store, machine: Machine) -> Store:
    with store.act("write") as act:
        for number in range(300):
            act.add(Person(f"keeper {number}"))
            act.add(Run(machine.id, AT, "complete", "pla"))
    (folder / "toolpaths").mkdir()
    (folder / "toolpaths" / "ab.gcode.gz").write_bytes(b"kept")
    (folder / "toolpaths" / "half.part").write_bytes(b"not whole")
    return store


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
    before = kept.counts()
    with kept.act("write") as act:
        act.add(Person("not yet"))
        assert backup(kept, tmp_path / "copy") == before
    with open_store(tmp_path / "copy") as copy:
        assert copy.runs() == kept.runs()
        assert copy.acts(99) == kept.acts(99)[1:]
    assert files(tmp_path / "copy").keys() == {FILE_NAME, "toolpaths/ab.gcode.gz"}


def test_a_restored_farm_is_the_farm_and_goes_on_being_written(kept: Store, tmp_path: Path) -> None:
    backup(kept, tmp_path / "copy")
    before = files(tmp_path / "copy")
    (tmp_path / "new").mkdir()  # empty is as good as new
    assert restore(tmp_path / "copy", tmp_path / "new") == kept.counts()
    assert files(tmp_path / "copy") == before, "the backup is only read"
    with open_store(tmp_path / "new") as restored:
        assert restored.machines() == kept.machines()
        with restored.act("add person") as act:
            act.add(Person("Ines"))
        with restored._writing() as connection:
            assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "wal"
    assert (tmp_path / "new" / "toolpaths" / "ab.gcode.gz").read_bytes() == b"kept"


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
    with pytest.raises(StoreError, match="301 rows have lost"):
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
