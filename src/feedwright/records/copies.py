"""The kept copies of toolpath files: one gzip per content, named by its hash, beside the database."""

import gzip
import hashlib
import os
import zlib
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import IO, Any

from feedwright.errors import Conflict

KEPT = "toolpaths"
"""Folder of the farm that holds them."""
GZIP = b"\x1f\x8b"
"""How a gzip begins (RFC 1952)."""
BLOCK_BYTES = 1 << 20


def copy_of(folder: Path, sha256: str) -> Path:
    """Where the copy of a content is kept in a farm's folder."""
    return folder / KEPT / f"{sha256}.gcode.gz"


def keep_copy(folder: Path, path: Path, sha256: str) -> None:
    """Keep a file's content; written beside, brought to disk and renamed, so that it is whole or absent.

    Raises Conflict where the file no longer holds the content of that hash: it was written to meanwhile.
    """
    target = copy_of(folder, sha256)
    if target.exists():
        return
    target.parent.mkdir(exist_ok=True)
    with path.open("rb") as source, NamedTemporaryFile(dir=target.parent, suffix=".part", delete=False) as part:
        try:
            if _pack(source, part) != sha256:
                raise Conflict(
                    path.name,
                    expected="the file was written to while it was read",
                    remedy="add it again once it is whole",
                )
            part.flush()
            os.fsync(part.fileno())
            Path(part.name).replace(target)
        except BaseException:
            Path(part.name).unlink(missing_ok=True)
            raise
    bring_to_disk(target.parent)


def _pack(source: IO[bytes], part: IO[bytes]) -> str:
    """Write the bytes as one gzip, or as they are where they are one; returns their hash."""
    packed_already = source.read(2) == GZIP
    source.seek(0)
    if packed_already:
        return _pass_on(source, part)
    with gzip.GzipFile(fileobj=part, mode="wb", compresslevel=6, filename="") as packed:
        return _pass_on(source, packed)


def _pass_on(source: IO[bytes], target: Any) -> str:
    digest = hashlib.sha256()
    for block in iter(lambda: source.read(BLOCK_BYTES), b""):
        digest.update(block)
        target.write(block)
    return digest.hexdigest()


def bring_to_disk(folder: Path) -> None:
    """Have the folder's own entry written, where the system lets a folder be opened."""
    if os.name != "posix":
        return
    held = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(held)
    finally:
        os.close(held)


def is_whole(copy: Path, sha256: str) -> bool:
    """True where the copy holds the content of that hash: as it lies, where a gzip was given, or unpacked."""
    with copy.open("rb") as file:
        if hashlib.file_digest(file, "sha256").hexdigest() == sha256:
            return True
    try:
        with gzip.open(copy) as unpacked:
            digest = hashlib.sha256()
            for block in iter(lambda: unpacked.read(BLOCK_BYTES), b""):
                digest.update(block)
    except (OSError, EOFError, zlib.error):
        return False
    return digest.hexdigest() == sha256
