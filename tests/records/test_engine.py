"""Opening a farm: how SQLite is set, how the schema comes about, and what is refused and why."""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine

from feedwright.errors import Conflict, StoreError
from feedwright.records import engine as engine_room
from feedwright.records.columns import META
from feedwright.records.engine import APPLICATION_ID, FILE_NAME, HEAD, migrate, open_engine
from feedwright.records.store import Store, open_store
from feedwright.records.values import Event, Fitting, Machine, Person

MIGRATIONS = Path(engine_room.__file__).with_name("migrations")
REVISIONS = [step.revision for step in ScriptDirectory(str(MIGRATIONS)).walk_revisions()][::-1]


def schema(path: Path) -> list[tuple[str, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return sorted(connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_master WHERE sql IS NOT NULL"))


def at_revision(folder: Path, revision: str) -> None:
    """An empty farm as a version of that schema left it."""
    folder.mkdir()
    engine = create_engine(f"sqlite:///{folder / FILE_NAME}")
    engine_room.event.listen(engine, "connect", engine_room._on_connect)
    engine_room.event.listen(engine, "begin", engine_room._on_begin)
    migrate(engine, revision)
    engine.dispose()


def refusal(folder: Path, *, create: bool = False) -> StoreError:
    with pytest.raises(StoreError) as refused:
        open_store(folder, create=create)
    assert str(folder) in refused.value.subject
    assert refused.value.expected
    assert refused.value.remedy
    return refused.value


def test_what_is_acknowledged_is_on_disk_and_references_hold(store: Store) -> None:
    with store._writing() as connection:
        told = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "synchronous", "foreign_keys", "recursive_triggers", "busy_timeout")
        }
    full = 2  # https://sqlite.org/pragma.html#pragma_synchronous
    assert told == {
        "journal_mode": "wal",
        "synchronous": full,
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "busy_timeout": 10_000,
    }


def test_the_tables_in_code_are_those_of_the_file(folder: Path, store: Store) -> None:
    engine = create_engine(f"sqlite:///{folder / FILE_NAME}")
    with engine.connect() as connection:
        differences = compare_metadata(MigrationContext.configure(connection), META)
    engine.dispose()
    assert differences == []


def test_the_head_in_code_is_the_newest_step() -> None:
    assert REVISIONS[-1] == HEAD
    assert sorted(REVISIONS) == REVISIONS, "versions are compared as text"


@pytest.mark.parametrize("revision", REVISIONS)
def test_a_farm_of_any_earlier_schema_is_brought_up_to_date_and_loses_nothing(
    folder: Path, tmp_path: Path, revision: str, machine: Machine, store: Store
) -> None:
    old = tmp_path / "old"
    at_revision(old, revision)
    with store.act("write") as act:
        fitting = act.add(Fitting(machine.id, "nozzle", 1, "brass", machine.registered_utc))
        act.add_exposure(fitting, "law", 12_345, 6)
        act.add(Person("Ines"))
        act.add(Event(machine.id, "power_cut", machine.registered_utc, 210.0, 20.0, "pla", "the street was dark"))
    with closing(sqlite3.connect(old / FILE_NAME)) as other:
        other.execute("ATTACH ? AS new", (str(folder / FILE_NAME),))
        with other:
            for table in ("acts", "people", "machines", "machine_states", "fittings", "exposures", "events"):
                columns = ", ".join(row[1] for row in other.execute(f"PRAGMA table_info({table})"))
                other.execute(f"INSERT INTO {table} ({columns}) SELECT {columns} FROM new.{table}")
    with open_store(old) as upgraded:
        assert upgraded.machines() == store.machines()
        assert upgraded.fittings() == store.fittings()
        assert upgraded.exposures() == store.exposures()
        assert upgraded.people() == store.people()
        assert upgraded.events() == store.events()
        assert upgraded.acts(9) == store.acts(9)
    assert schema(old / FILE_NAME) == schema(folder / FILE_NAME)


def test_a_folder_without_a_farm_is_refused_and_left_alone(folder: Path) -> None:
    assert refusal(folder).expected == "there is no farm in this folder"
    assert not folder.exists()


@pytest.mark.parametrize("name", ["what?mode=memory", "per%20cent", "a#b", "ünder & über", "file:x"])
def test_a_folder_may_have_any_name(tmp_path: Path, name: str) -> None:
    """The path is a path and no address: what it holds lies where it says."""
    with open_store(tmp_path / name, create=True) as store, store.act("add person") as act:
        act.add(Person("Ines"))
    assert (tmp_path / name / FILE_NAME).stat().st_size > 0
    with open_store(tmp_path / name) as store:
        assert [person.name for person in store.people()] == ["Ines"]
    assert [held.name for held in tmp_path.iterdir()] == [name]


def test_an_empty_file_that_a_crash_left_becomes_a_farm(folder: Path) -> None:
    folder.mkdir()
    (folder / FILE_NAME).touch()
    with open_store(folder) as store:
        assert store.machines() == []


def test_a_farm_of_a_newer_version_is_refused_and_left_alone(folder: Path, store: Store) -> None:
    store.close()
    with closing(sqlite3.connect(folder / FILE_NAME)) as other, other:
        other.execute("UPDATE alembic_version SET version_num = '9999'")
    before = schema(folder / FILE_NAME)
    refused = refusal(folder)
    assert "newer version (schema 9999" in refused.expected
    assert refused.remedy == "update Feedwright"
    assert schema(folder / FILE_NAME) == before


@pytest.mark.parametrize(
    ("application_id", "statement"),
    [
        (0, "CREATE TABLE recipes (name TEXT)"),
        (0x47504B47, "CREATE TABLE recipes (name TEXT)"),  # a registered one: https://sqlite.org/src/file/magic.txt
        (APPLICATION_ID + 1, "PRAGMA user_version = 3"),
    ],
)
def test_another_programs_database_is_refused_to_the_byte_unchanged(
    folder: Path, application_id: int, statement: str
) -> None:
    folder.mkdir()
    path = folder / FILE_NAME
    with closing(sqlite3.connect(path)) as other, other:
        other.execute(f"PRAGMA application_id = {application_id}")
        other.execute(statement)
    before = path.read_bytes()
    assert refusal(folder, create=True).expected == "it is another program's database"
    assert path.read_bytes() == before
    assert [held.name for held in folder.iterdir()] == [FILE_NAME]


def test_a_file_that_is_no_database_is_refused_unchanged(folder: Path) -> None:
    folder.mkdir()
    path = folder / FILE_NAME
    path.write_bytes(b"G28 ; home\n" * 500)
    assert "restore the latest backup" in refusal(folder, create=True).remedy
    assert path.read_bytes() == b"G28 ; home\n" * 500


@pytest.mark.parametrize("reach", ["open", "read", "write"])
def test_a_damaged_file_is_refused_in_words_wherever_it_shows(
    folder: Path, store: Store, machine: Machine, reach: str
) -> None:
    store.close()
    path = folder / FILE_NAME
    with closing(sqlite3.connect(path)) as other:
        other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        page = other.execute("PRAGMA page_size").fetchone()[0]
        roots = dict(other.execute("SELECT name, rootpage FROM sqlite_master WHERE type = 'table'"))
    target = {"open": "alembic_version", "read": "machines", "write": "acts"}[reach]
    data = bytearray(path.read_bytes())
    start = (roots[target] - 1) * page
    data[start : start + page] = b"\xff" * page
    path.write_bytes(data)

    def use() -> None:
        with open_store(folder) as opened:
            opened.machines()
            with opened.act("add person") as act:
                act.add(Person("Ines"))

    with pytest.raises(StoreError) as refused:
        use()
    assert refused.value.subject == str(path)
    assert refused.value.expected == "it is damaged"
    assert "backup" in refused.value.remedy


def test_a_farm_that_another_program_holds_locked_is_refused(
    folder: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.close()
    monkeypatch.setattr(engine_room, "BUSY_MS", 50)
    with closing(sqlite3.connect(folder / FILE_NAME, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with open_store(folder) as mine:
            assert mine.people() == [], "reading goes on"
            with pytest.raises(StoreError, match="locked"), mine.act("add person"):
                pass
        other.execute("ROLLBACK")


@pytest.fixture
def open_to_all() -> Iterator[Path]:
    """A folder that any user may enter: root may write anywhere, and so must become nobody to be refused."""
    made = Path(tempfile.mkdtemp())
    made.chmod(0o755)
    yield made
    shutil.rmtree(made)


@pytest.mark.parametrize("what", ["new", "folder", "file"])
def test_a_folder_or_file_that_may_not_be_written_is_refused(
    open_to_all: Path, what: str, forked: Callable[..., tuple[int, int]]
) -> None:
    folder = open_to_all / "farm"
    if what != "new":
        open_engine(folder, create=True).dispose()
        (folder / FILE_NAME).chmod(0o444)
    folder = folder if what != "new" else folder / "deeper"
    (folder.parent if what == "new" else folder).mkdir(exist_ok=True)
    (folder.parent if what == "new" else folder).chmod(0o777 if what == "file" else 0o555)

    def as_nobody(say: Callable[[str], None]) -> None:
        if os.geteuid() == 0:
            os.setgid(65534)
            os.setuid(65534)
        try:
            with open_store(folder, create=True) as store, store.act("add person") as act:
                act.add(Person("Ines"))
            say("written")
        except StoreError as error:
            say(error.sentence)

    pid, heard = forked(as_nobody)
    with os.fdopen(heard) as lines:
        said = lines.read()
    os.waitpid(pid, 0)
    assert said.startswith(str(folder)), said
    assert "permission" in said or "choose a folder" in said


def test_two_processes_may_make_the_same_farm_at_once(folder: Path, forked: Callable[..., tuple[int, int]]) -> None:
    def make(say: Callable[[str], None]) -> None:
        with open_store(folder, create=True) as store:
            for _ in range(3):
                with store.act("add person") as act:
                    act.add(Person(f"{os.getpid()} {act.id}"))
        say("done")

    children = [forked(make) for _ in range(4)]
    for pid, heard in children:
        with os.fdopen(heard) as lines:
            assert lines.read() == "done\n"
        os.waitpid(pid, 0)
    with open_store(folder) as store:
        assert len(store.people()) == 12


def test_what_the_file_itself_refuses_becomes_a_conflict(store: Store, machine: Machine) -> None:
    with pytest.raises(Conflict), store.act("write") as act:
        act.add(replace(machine))
