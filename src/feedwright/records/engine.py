"""Opening the database file: pragmas, creation, migration, and refusing what is not ours."""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError, IntegrityError

from feedwright.errors import Conflict, StoreError

FILE_NAME = "farm.sqlite"
APPLICATION_ID = 0x46656564
"""Written in the file's header, so that another program's database is known as such."""
HEAD = "0012"
"""The schema this version writes; the newest file in ``migrations/versions``."""
BUSY_MS = 10_000


def open_engine(folder: Path, *, create: bool) -> Engine:
    """The engine on a farm's database, at the newest schema.

    Raises StoreError where there is no farm (unless ``create``), where the file is damaged, locked, not
    ours, or written by a newer version.
    """
    path = folder / FILE_NAME
    if not path.is_file():
        if not create:
            raise StoreError(
                str(folder),
                expected="there is no farm in this folder",
                remedy="add a machine, or open the demo farm",
            )
        _make_folder(folder)
    engine = _engine_on(path)
    try:
        with refusing(path):
            _bring_up_to_date(engine, path)
    except BaseException:
        engine.dispose()
        raise
    return engine


def begin_at(folder: Path, revision: str) -> None:
    """An empty farm at an older schema, to be filled with what was written then; raises StoreError as opening does."""
    engine = _engine_on(folder / FILE_NAME)
    try:
        with refusing(folder / FILE_NAME):
            migrate(engine, revision)
    finally:
        engine.dispose()


@lru_cache(maxsize=16)
def _engine_on(path: Path) -> Engine:
    """The engine on a file, the same for all who open it: it remembers how its queries are put.

    Disposing of it closes the connections that nobody uses; whoever is at work goes on.
    """
    engine = create_engine(URL.create("sqlite", database=str(path)), connect_args={"timeout": BUSY_MS / 1000})
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            str(folder),
            expected=error.strerror or "cannot be made",
            remedy="choose a folder you may write to",
        ) from error


def _on_connect(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # we begin transactions ourselves, see _on_begin
    with closing(connection.cursor()) as cursor:
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
        cursor.execute("PRAGMA synchronous = FULL")  # acknowledged means on disk
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("PRAGMA recursive_triggers = ON")  # a REPLACE is a deletion too


def _on_begin(connection: Any) -> None:
    immediate = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")


def _bring_up_to_date(engine: Engine, path: Path) -> None:
    """Refuse what is not ours before anything is written, then bring the schema to its head."""
    with closing(engine.raw_connection()) as connection, closing(connection.cursor()) as cursor:
        version = _version(cursor, path)
        _write_ahead(cursor)
    if version != HEAD:
        migrate(engine)


def _write_ahead(cursor: Any) -> None:
    """Keep a write-ahead log; SQLite does not wait by itself where another process is at the same switch."""
    patient_until = time.monotonic() + BUSY_MS / 1000
    while True:
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > patient_until:
                raise
            time.sleep(0.01)
        else:
            return


def _version(cursor: Any, path: Path) -> str | None:
    """The schema the file is at, None where it is still empty."""
    (ours,) = cursor.execute("PRAGMA application_id").fetchone()
    (tables,) = cursor.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if ours != APPLICATION_ID and (tables or ours):
        raise StoreError(str(path), expected="it is another program's database", remedy="name another folder")
    if not tables:
        return None
    version = str(cursor.execute("SELECT version_num FROM alembic_version").fetchone()[0])
    if version > HEAD:
        raise StoreError(
            str(path),
            expected=f"it was written by a newer version (schema {version}, this one knows {HEAD})",
            remedy="update Feedwright",
        )
    return version


def migrate(engine: Engine, to: str = "head") -> None:
    """Bring the schema to a version, in one transaction: after a crash it is the old one or the new one."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "feedwright.records:migrations")
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        config.attributes["connection"] = connection
        command.upgrade(config, to)


@contextmanager
def refusing(path: Path) -> Iterator[None]:
    """Turn what the database says into a refusal of ours that names the file and the remedy."""
    try:
        yield
    except IntegrityError as error:
        raise Conflict("record", expected=str(error.orig), remedy="look at the records again") from error
    except (DBAPIError, sqlite3.Error) as error:
        raise _refusal(path, error) from error


REFUSALS = (
    ("locked", "another program holds it locked", "close that program, try again"),
    ("readonly", "it cannot be written", "check the permissions of the file and its folder"),
    ("unable to open", "it cannot be opened or written", "check the permissions of the file and its folder"),
    ("not a database", "it is damaged, or not a database", "restore the latest backup into a new folder"),
    ("malformed", "it is damaged", "restore the latest backup into a new folder"),
    ("full", "the disk is full", "free some space, then do it again"),
)
"""A word of SQLite's message, what it means, what to do."""


def _refusal(path: Path, error: Exception) -> StoreError:
    words = str(getattr(error, "orig", None) or error)
    for word, meaning, remedy in REFUSALS:
        if word in words.lower():
            return StoreError(str(path), expected=meaning, remedy=remedy)
    return StoreError(str(path), expected=words, remedy="check the disk, then try again")
