"""Opening the database file: pragmas, creation, migration, and refusing what is not ours."""

import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event, text
from sqlalchemy.exc import DatabaseError, OperationalError

from feedwright.errors import StoreError

FILE_NAME = "farm.sqlite"
APPLICATION_ID = 0x46656564
"""Written in the file's header, so that another program's database is known as such."""
HEAD = "0001"
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
    engine = create_engine(f"sqlite:///{path}", connect_args={"timeout": BUSY_MS / 1000})
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    try:
        _bring_up_to_date(engine, path)
    except (OperationalError, DatabaseError, sqlite3.DatabaseError) as error:
        engine.dispose()
        raise _refusal(path, error) from error
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
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
    cursor.execute("PRAGMA journal_mode = WAL")
    cursor.execute("PRAGMA synchronous = FULL")  # acknowledged means on disk
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.close()


def _on_begin(connection: Any) -> None:
    immediate = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")


def _bring_up_to_date(engine: Engine, path: Path) -> None:
    with engine.connect() as connection:
        ours = connection.execute(text("PRAGMA application_id")).scalar_one()
        tables = connection.execute(text("SELECT count(*) FROM sqlite_master")).scalar_one()
        if tables and ours != APPLICATION_ID:
            raise StoreError(str(path), expected="it is another program's database", remedy="name another folder")
        version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar() if tables else None
    if version == HEAD:
        return
    if version is not None and version > HEAD:
        raise StoreError(
            str(path),
            expected=f"it was written by a newer version (schema {version})",
            remedy="update Feedwright",
        )
    migrate(engine)


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


def _refusal(path: Path, error: Exception) -> StoreError:
    words = str(getattr(error, "orig", None) or error).lower()
    if "locked" in words:
        return StoreError(str(path), expected="another program holds it locked", remedy="close that program, try again")
    if "readonly" in words or "unable to open" in words:
        return StoreError(str(path), expected="it cannot be written", remedy="check the folder's permissions")
    if "not a database" in words or "malformed" in words:
        return StoreError(
            str(path),
            expected="it is damaged, or not a database",
            remedy="restore the latest backup into a new folder",
        )
    return StoreError(str(path), expected=words, remedy="check the disk, then try again")
