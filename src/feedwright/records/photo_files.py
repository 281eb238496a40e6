"""The files of photos: one per content, named by its hash, beside the database."""

import hashlib
import os
from pathlib import Path
from tempfile import NamedTemporaryFile

from feedwright.records.copies import bring_to_disk

PHOTOS = "photos"
"""Folder of the farm that holds them."""


def photo_path(folder: Path, sha256: str) -> Path:
    """Where the photo of a content lies in a farm's folder."""
    return folder / PHOTOS / f"{sha256}.jpg"


def keep_photo_file(folder: Path, data: bytes) -> str:
    """Keep a photo's bytes and bring them to disk; returns their hash. It is whole there, or absent."""
    sha256 = hashlib.sha256(data).hexdigest()
    target = photo_path(folder, sha256)
    if target.exists():
        return sha256
    target.parent.mkdir(exist_ok=True)
    with NamedTemporaryFile(dir=target.parent, suffix=".part", delete=False) as part:
        try:
            part.write(data)
            part.flush()
            os.fsync(part.fileno())
            Path(part.name).replace(target)
        except BaseException:
            Path(part.name).unlink(missing_ok=True)
            raise
    bring_to_disk(target.parent)
    return sha256


def is_whole_photo(path: Path, sha256: str) -> bool:
    """True where the file is there and holds the content of that hash."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest() == sha256
