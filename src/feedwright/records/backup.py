"""Backing up a farm while it is in use, and proving the copy by opening it."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from feedwright.errors import BadInput, StoreError
from feedwright.records.copies import KEPT, copy_of, is_whole
from feedwright.records.engine import FILE_NAME, refusing
from feedwright.records.photo_files import PHOTOS, is_whole_photo, photo_path
from feedwright.records.photo_values import Photo
from feedwright.records.store import Store, open_store
from feedwright.records.whole_folder import whole_folder


def backup(store: Store, to_folder: Path) -> dict[str, int]:
    """Copy the farm into a new folder, then open the copy and check it whole; returns its row counts.

    Uses SQLite's online backup, so that others may go on writing meanwhile; the database comes first, so that what it
    names is there when the copies of toolpaths and the photos are taken. Raises BadInput where the folder holds
    something already, or lies within the farm.
    """
    _refuse_within(to_folder, store.folder, "expected a folder outside the farm")
    with whole_folder(to_folder) as copy:
        with (
            refusing(store.folder / FILE_NAME),
            closing(sqlite3.connect(store.folder / FILE_NAME)) as source,
            closing(sqlite3.connect(copy / FILE_NAME)) as target,
        ):
            source.backup(target)
        _copy_files(store.folder, copy)
        return prove(copy, named=store.folder)


def restore(from_folder: Path, to_folder: Path) -> dict[str, int]:
    """Bring a backup back as a farm in a new or empty folder; nothing is ever written over.

    The backup itself is only read. Its copy is proved before it takes its place.
    """
    if not (from_folder / FILE_NAME).is_file():
        raise BadInput(str(from_folder), expected="there is no backup in this folder", remedy="name a backup's folder")
    _refuse_within(to_folder, from_folder, "expected a folder outside the backup")
    with whole_folder(to_folder) as copy:
        for name in (FILE_NAME, f"{FILE_NAME}-wal"):
            if (from_folder / name).is_file():
                shutil.copy2(from_folder / name, copy / name)
        _copy_files(from_folder, copy)
        return prove(copy, named=from_folder)


def _refuse_within(to_folder: Path, folder: Path, expected: str) -> None:
    if to_folder.resolve().is_relative_to(folder.resolve()):
        raise BadInput(str(to_folder), expected=expected, remedy="name another folder")


def _copy_files(from_folder: Path, to_folder: Path) -> None:
    """What lies beside the database: copies of toolpaths, and photos."""
    for name in (KEPT, PHOTOS):
        if (from_folder / name).is_dir():
            shutil.copytree(from_folder / name, to_folder / name, ignore=shutil.ignore_patterns("*.part"))


def prove(folder: Path, *, named: Path | None = None) -> dict[str, int]:
    """Open a farm's copy and check it whole, its copies of toolpaths and its photos too; ``named`` is what to call it.

    Returns the rows of each table, and how many copies of toolpaths and files of photos it holds.
    """
    called = named or folder
    with refusing(called / FILE_NAME), closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        verdict = connection.execute("PRAGMA integrity_check").fetchone()[0]
        broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    if verdict != "ok" or broken:
        wrong = verdict if verdict != "ok" else f"{len(broken)} rows have lost what they rest on"
        remedy = "make the backup again, or take an earlier one"
        raise StoreError(str(called), expected=f"the copy is not whole: {wrong}", remedy=remedy)
    with open_store(folder) as copy:
        held = [toolpath for toolpath in copy.toolpaths() if copy_of(folder, toolpath.sha256).is_file()]
        for toolpath in held:
            if not is_whole(copy_of(folder, toolpath.sha256), toolpath.sha256):
                raise StoreError(
                    str(copy_of(called, toolpath.sha256)),
                    expected=f"the kept copy of “{toolpath.name}” is damaged",
                    remedy="delete that copy, then add the file again; or take an earlier backup",
                )
        files = {photo.sha256: photo for photo in copy.every(Photo)}
        for sha256, photo in files.items():
            if not is_whole_photo(photo_path(folder, sha256), sha256):
                raise StoreError(
                    str(photo_path(called, sha256)),
                    expected=f"the file of photo {photo.id} is gone or damaged",
                    remedy=f"bring it back from an earlier backup, or void photo {photo.id}",
                )
        return {**copy.counts(), "toolpath_copies": len(held), "photo_files": len(files)}
