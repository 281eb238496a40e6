"""A whole farm as one zip: a manifest, each table as JSON lines, and the files beside the database.

``docs/archive.md`` describes the format. Making one reads a single moment of the farm; bringing one back fills a new
folder and compares every table with the manifest before it takes its place.
"""

import hashlib
import json
import re
import shutil
import sqlite3
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from feedwright import __version__
from feedwright.errors import BadInput, FeedwrightError
from feedwright.records.copies import KEPT, copy_of
from feedwright.records.engine import FILE_NAME, HEAD, begin_at, refusing
from feedwright.records.photo_files import PHOTOS, photo_path
from feedwright.records.photo_values import Photo
from feedwright.records.reads import Reads
from feedwright.records.rows import time_from_row, time_to_row
from feedwright.records.store import Store, open_store
from feedwright.records.table_rows import TABLES, stored_rows
from feedwright.records.whole_folder import whole_folder

FORMAT, VERSION = "feedwright-archive", 1
KEPT_TABLES = ("charges", "exposures", "readings")
"""What was worked out and is kept: runs stay charged with what they were charged with."""
MANIFEST = "manifest.json"
LONGEST_LINE_BYTES = LONGEST_MANIFEST_BYTES = 64 * 1024 * 1024
MOST_MEMBERS = 200_000
BLOCK_BYTES = 1 << 20
_FILE = re.compile(rf"(?:{KEPT}/[0-9a-f]{{64}}\.gcode\.gz|{PHOTOS}/[0-9a-f]{{64}}\.jpg)")
_SCHEMA = re.compile(r"[0-9]{4}")
_TABLE = re.compile(r"(?:records|kept)/[a-z_]{1,60}\.jsonl")
Progress = Callable[[float, float], None]


def write_archive(store: Store, path: Path, *, progress: Progress | None = None) -> dict[str, Any]:
    """Write the farm as it stands at one moment into a new file; returns the manifest.

    Raises BadInput where the file is there already. It is written beside and renamed, so that it is whole or absent.
    """
    if path.exists():
        raise BadInput(str(path), expected="there is such a file already", remedy="name another")
    part = path.with_name(f".{path.name}.part")
    try:
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive, store.snapshot() as reads:
            manifest = _written(reads, store.folder, archive, progress or (lambda _done, _all: None))
            archive.writestr(MANIFEST, json.dumps(manifest, indent=1, ensure_ascii=False))
        part.rename(path)
    finally:
        part.unlink(missing_ok=True)
    return manifest


def _written(reads: Reads, folder: Path, archive: zipfile.ZipFile, progress: Progress) -> dict[str, Any]:
    """Every member but the manifest; returns the manifest."""
    names = [*TABLES, *KEPT_TABLES]
    files = list(_files_of(reads, folder))
    tables = {}
    for done, name in enumerate(names):
        progress(done, len(names) + len(files))
        member = f"{'kept' if name in KEPT_TABLES else 'records'}/{name}.jsonl"
        with archive.open(member, "w", force_zip64=True) as target:
            tables[name] = {"file": member, **_write_table(reads, name, target)}
    held = {}
    for done, (member, source) in enumerate(files, start=len(names)):
        progress(done, len(names) + len(files))
        info = zipfile.ZipInfo(member, date_time=(1980, 1, 1, 0, 0, 0))  # packed already, and its date says nothing
        with archive.open(info, "w", force_zip64=True) as target, source.open("rb") as file:
            held[member] = _copy(file, target)
    return {
        "format": FORMAT, "version": VERSION, "schema": HEAD, "program": __version__,
        "made_utc": datetime.now(UTC).isoformat(timespec="seconds"), "tables": tables, "files": held,
    }  # fmt: skip


def _files_of(reads: Reads, folder: Path) -> Iterator[tuple[str, Path]]:
    """What lies beside the database and belongs to a record that is not void, by its name in the archive."""
    for toolpath in reads.toolpaths():
        copy = copy_of(folder, toolpath.sha256)
        if copy.is_file():
            yield f"{KEPT}/{copy.name}", copy
    for sha256 in sorted({photo.sha256 for photo in reads.every(Photo)}):
        photo = photo_path(folder, sha256)
        if photo.is_file():
            yield f"{PHOTOS}/{photo.name}", photo


def _write_table(reads: Reads, name: str, target: IO[bytes]) -> dict[str, Any]:
    digest, count = hashlib.sha256(), 0
    for line in table_lines(reads, name):
        digest.update(line)
        target.write(line)
        count += 1
    return {"rows": count, "sha256": digest.hexdigest()}


def table_lines(reads: Reads, name: str) -> Iterator[bytes]:
    """The rows of a table as JSON lines, by number: times in ISO 8601, a packed reading unpacked."""
    for row in stored_rows(reads, name):
        said = {column: _to_json(column, held) for column, held in row.items()}
        yield json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _to_json(column: str, held: Any) -> Any:
    if column.endswith("_utc") and held is not None:
        return time_from_row(held).isoformat().replace("+00:00", "Z")
    if isinstance(held, bytes):
        return json.loads(zlib.decompress(held))
    return held


def _from_json(column: str, said: Any) -> Any:
    if column.endswith("_utc") and said is not None:
        return time_to_row(datetime.fromisoformat(said))
    if isinstance(said, (dict, list)):
        if column != "reading":
            raise ValueError(column)
        return zlib.compress(json.dumps(said, separators=(",", ":")).encode(), 6)
    return said


def _copy(source: IO[bytes], target: IO[bytes]) -> dict[str, Any]:
    digest, count = hashlib.sha256(), 0
    for block in iter(lambda: source.read(BLOCK_BYTES), b""):
        digest.update(block)
        target.write(block)
        count += len(block)
    return {"bytes": count, "sha256": digest.hexdigest()}


def read_archive(
    path: Path, to_folder: Path, prove: Callable[[Store], None], *, progress: Progress | None = None
) -> dict[str, Any]:
    """Bring an archive back as a farm in a new or empty folder; returns the manifest.

    Every table and file must come out as the manifest says; then ``prove`` may look at the farm and refuse it. Raises
    BadInput where the file is no whole archive of ours; then nothing is left behind.
    """
    try:
        with zipfile.ZipFile(path) as archive, whole_folder(to_folder) as folder:
            manifest = _manifest(archive, path.name)
            _refuse_without_room(archive, folder)
            _fill(archive, manifest, folder, progress or (lambda _done, _all: None))
            with open_store(folder) as store:
                if manifest["schema"] == HEAD:
                    _compare(store, manifest)
                prove(store)
            _one_file(folder)
            return manifest
    except (FeedwrightError, OSError):
        raise
    except Exception as error:  # what other hands made may be wrong in any way
        raise _broken(path.name, f"it is damaged, or no archive ({error!s:.200})") from error


def _manifest(archive: zipfile.ZipFile, name: str) -> dict[str, Any]:
    """The manifest, once it and the list of members are such as we write."""
    members = archive.namelist()
    if MANIFEST not in members or len(members) > MOST_MEMBERS or len(set(members)) != len(members):
        raise _broken(name, "it holds no list of its contents")
    if archive.getinfo(MANIFEST).file_size > LONGEST_MANIFEST_BYTES:
        raise _broken(name, "its list of contents is longer than any farm's")
    try:
        manifest = json.loads(archive.read(MANIFEST))
        told = {table["file"] for table in manifest["tables"].values()} | set(manifest["files"])
        known = manifest["format"] == FORMAT and isinstance(manifest["version"], int)
        known = known and bool(_SCHEMA.fullmatch(str(manifest["schema"])))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise _broken(name, "its list of contents cannot be read") from error
    if not known:
        raise _broken(name, "it is no archive of a farm")
    if manifest["version"] > VERSION or str(manifest["schema"]) > HEAD:
        expected = f"a newer version wrote it (schema {manifest['schema']}, this one knows {HEAD})"
        raise BadInput(name, expected=expected, remedy="update Feedwright")
    if told != set(members) - {MANIFEST} or not all(_FILE.fullmatch(one) or _TABLE.fullmatch(one) for one in told):
        raise _broken(name, "its contents are not those it lists")
    _refuse_other_tables(manifest, name)
    return dict(manifest)


def _refuse_other_tables(manifest: Mapping[str, Any], name: str) -> None:
    """No other tables than leave a farm: what lets somebody in, and what is secret, never comes along. None lacks."""
    ours, held = {*TABLES, *KEPT_TABLES}, set(manifest["tables"])
    if held - ours:
        raise _broken(name, f"it holds a table that no archive has: {min(held - ours)}")
    if manifest["schema"] == HEAD and ours - held:
        raise _broken(name, f"it lacks a table: {min(ours - held)}")


def _refuse_without_room(archive: zipfile.ZipFile, folder: Path) -> None:
    """A small archive may unpack to more than the disk has; what a member says of its length is held to in reading."""
    needed, free = sum(info.file_size for info in archive.infolist()), shutil.disk_usage(folder).free
    if needed > free:
        words = f"unpacked it takes {needed / 1e9:,.1f} GB, and {free / 1e9:,.1f} GB are free"
        raise BadInput(archive.filename or "archive", expected=words, remedy="free some space, or name another disk")


def _fill(archive: zipfile.ZipFile, manifest: Mapping[str, Any], folder: Path, progress: Progress) -> None:
    """Make the database at the archive's own schema, fill it in one transaction, and lay the files beside it."""
    begin_at(folder, str(manifest["schema"]))
    tables, files = manifest["tables"], manifest["files"]
    with refusing(folder / FILE_NAME), closing(sqlite3.connect(folder / FILE_NAME)) as connection, connection:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("BEGIN")
        connection.execute("PRAGMA defer_foreign_keys = ON")
        for done, (name, said) in enumerate(tables.items()):
            progress(done, len(tables) + len(files))
            _fill_table(connection, archive, name, said)
    for done, (member, said) in enumerate(files.items(), start=len(tables)):
        progress(done, len(tables) + len(files))
        target = folder / member
        target.parent.mkdir(exist_ok=True)
        with archive.open(member) as source, target.open("wb") as file:
            if _copy(source, file) != said:
                raise _broken(member, "it is not what the list of contents says")


def _fill_table(connection: sqlite3.Connection, archive: zipfile.ZipFile, name: str, said: Mapping[str, Any]) -> None:
    columns = [row[1] for row in connection.execute("SELECT * FROM pragma_table_info(?)", (name,))]
    if not columns:
        raise _broken(said["file"], f"schema {name} has no such table")
    listed = ", ".join(f'"{column}"' for column in columns)
    insert = f'INSERT INTO "{name}" ({listed}) VALUES ({", ".join("?" * len(columns))})'
    with archive.open(said["file"]) as source:
        connection.executemany(insert, _rows_of(source, columns, said))


def _rows_of(source: IO[bytes], columns: list[str], said: Mapping[str, Any]) -> Iterator[list[Any]]:
    """The rows of a member, checked against the manifest at its end; that ends the transaction where it is not so."""
    digest, count = hashlib.sha256(), 0
    for line in iter(lambda: source.readline(LONGEST_LINE_BYTES), b""):
        digest.update(line)
        count += 1
        try:
            row = json.loads(line)
            yield [_from_json(column, row.pop(column)) for column in columns]
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise _broken(said["file"], f"row {count} cannot be read") from error
        if row:
            raise _broken(said["file"], f"row {count} has columns that this schema does not have")
    if (count, digest.hexdigest()) != (said["rows"], said["sha256"]):
        raise _broken(said["file"], "it is not what the list of contents says")


def _compare(store: Store, manifest: Mapping[str, Any]) -> None:
    """What was brought back, written again, must be what the archive holds."""
    for name, said in manifest["tables"].items():
        digest, count = hashlib.sha256(), 0
        for line in table_lines(store, name):
            digest.update(line)
            count += 1
        if (count, digest.hexdigest()) != (said["rows"], said["sha256"]):
            raise _broken(said["file"], "brought back it is not the same")


def _one_file(folder: Path) -> None:
    """Bring all of the database into its one file, since a folder is moved file by file."""
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _broken(what: str, expected: str) -> BadInput:
    return BadInput(what, expected=expected, remedy="take another archive, or make it again")
