"""Backing up a farm while it is in use, and proving the copy by opening it."""

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from feedwright.errors import BadInput, StoreError
from feedwright.records.engine import FILE_NAME, refusing
from feedwright.records.store import Store, open_store


def backup(store: Store, to_folder: Path) -> dict[str, int]:
    """Copy the farm into a new folder, then open the copy and check it whole; returns its row counts.

    Uses SQLite's online backup, so that others may go on writing meanwhile. Raises BadInput where the
    folder holds something already, or lies within the farm.
    """
    if to_folder.resolve().is_relative_to(store.folder.resolve()):
        raise BadInput(str(to_folder), expected="expected a folder outside the farm", remedy="name another folder")
    with _all_or_nothing(to_folder) as copy:
        with (
            refusing(store.folder / FILE_NAME),
            closing(sqlite3.connect(store.folder / FILE_NAME)) as source,
            closing(sqlite3.connect(copy / FILE_NAME)) as target,
        ):
            source.backup(target)
        for kept in store.folder.iterdir():
            if kept.is_dir():
                shutil.copytree(kept, copy / kept.name, ignore=shutil.ignore_patterns("*.part"))
        return prove(copy)


def restore(from_folder: Path, to_folder: Path) -> dict[str, int]:
    """Bring a backup back as a farm in a new or empty folder; nothing is ever written over.

    The backup itself is only read. Its copy is proved before it takes its place.
    """
    if not (from_folder / FILE_NAME).is_file():
        raise BadInput(str(from_folder), expected="there is no backup in this folder", remedy="name a backup's folder")
    with _all_or_nothing(to_folder) as copy:
        shutil.copytree(from_folder, copy, dirs_exist_ok=True)
        return prove(copy, named=from_folder)


def prove(folder: Path, *, named: Path | None = None) -> dict[str, int]:
    """Open a farm's copy and check it whole; returns the rows of each table. ``named`` is what to call it."""
    called = named or folder
    with refusing(called / FILE_NAME), closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        verdict = connection.execute("PRAGMA integrity_check").fetchone()[0]
        broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    if verdict != "ok" or broken:
        wrong = verdict if verdict != "ok" else f"{len(broken)} rows have lost what they rest on"
        remedy = "make the backup again, or take an earlier one"
        raise StoreError(str(called), expected=f"the copy is not whole: {wrong}", remedy=remedy)
    with open_store(folder) as copy:
        return copy.counts()


@contextmanager
def _all_or_nothing(folder: Path) -> Iterator[Path]:
    """A folder beside the wanted one, which takes its name on a clean end and is gone otherwise."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadInput(str(folder), expected="expected a new or empty folder", remedy="name another folder")
    made: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
        yield made
        if folder.exists():
            folder.rmdir()
        made.chmod(0o755)
        made.rename(folder)
    except OSError as error:
        words = error.strerror or str(error)
        raise StoreError(str(folder), expected=words, remedy="check the disk and its space") from error
    finally:
        if made is not None:
            shutil.rmtree(made, ignore_errors=True)
