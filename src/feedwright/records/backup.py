"""Backing up a farm while it is in use, and proving the copy by opening it."""

import shutil
import sqlite3
from pathlib import Path

from feedwright.errors import BadInput, StoreError
from feedwright.records.engine import FILE_NAME
from feedwright.records.store import Store, open_store


def backup(store: Store, to_folder: Path) -> dict[str, int]:
    """Copy the farm into a new folder, then open the copy and check it whole; returns its row counts.

    Uses SQLite's online backup, so that others may go on writing meanwhile. Raises BadInput where the
    folder holds something already.
    """
    if to_folder.exists() and any(to_folder.iterdir()):
        raise BadInput(str(to_folder), expected="expected a new or empty folder", remedy="name another folder")
    try:
        to_folder.mkdir(parents=True, exist_ok=True)
        with (
            sqlite3.connect(store.folder / FILE_NAME) as source,
            sqlite3.connect(to_folder / FILE_NAME) as target,
        ):
            source.backup(target)
        source.close()
        target.close()
        for kept in store.folder.iterdir():
            if kept.is_dir():
                shutil.copytree(kept, to_folder / kept.name)
    except (OSError, sqlite3.Error) as error:
        raise StoreError(str(to_folder), expected=str(error), remedy="check the disk and its space") from error
    return prove(to_folder)


def prove(folder: Path) -> dict[str, int]:
    """Open a farm's copy and check it whole; returns the rows of each table."""
    with sqlite3.connect(folder / FILE_NAME) as connection:
        verdict = connection.execute("PRAGMA integrity_check").fetchone()[0]
        broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    connection.close()
    if verdict != "ok" or broken:
        raise StoreError(str(folder), expected=f"the copy is not whole: {verdict}", remedy="make the backup again")
    with open_store(folder) as copy:
        return copy.counts()


def restore(from_folder: Path, to_folder: Path) -> dict[str, int]:
    """Bring a backup back as a farm in a new folder; an existing farm is never written over."""
    if not (from_folder / FILE_NAME).is_file():
        raise BadInput(str(from_folder), expected="there is no backup in this folder", remedy="name a backup's folder")
    if (to_folder / FILE_NAME).exists():
        raise BadInput(
            str(to_folder),
            expected="there is a farm in this folder",
            remedy="name another folder, or move it away",
        )
    prove(from_folder)
    try:
        shutil.copytree(from_folder, to_folder, dirs_exist_ok=True)
    except OSError as error:
        raise StoreError(str(to_folder), expected=str(error), remedy="check the disk and its space") from error
    return prove(to_folder)
