"""CSV files that were sent and wait while somebody looks at how they would be taken; gone after a day."""

import hashlib
import re
import time
from pathlib import Path
from tempfile import NamedTemporaryFile

from feedwright.errors import BadInput, NotFound
from feedwright.farm.ground.csv_text import MOST_BYTES

WAITING = "incoming"
"""Folder of the farm that holds them; no backup and no archive takes them along."""
KEPT_S = 24 * 3600.0
_KEY = re.compile(r"[0-9a-f]{64}")


def keep_waiting(folder: Path, content: bytes, name: str) -> str:
    """Keep a file's bytes until it was taken or a day has gone; returns the key it is asked for by."""
    if len(content) > MOST_BYTES:
        expected = f"expected at most {MOST_BYTES // 1_000_000} MB"
        raise BadInput(name, place=f"{len(content) / 1e6:.0f} MB", expected=expected, remedy="split it")
    held = folder / WAITING
    held.mkdir(exist_ok=True)
    for old in held.iterdir():
        if time.time() - old.stat().st_mtime > KEPT_S:
            old.unlink(missing_ok=True)
    key = hashlib.sha256(content).hexdigest()
    with NamedTemporaryFile(dir=held, suffix=".part", delete=False) as part:
        part.write(content)
    Path(part.name).replace(held / f"{key}.csv")
    return key


def waiting(folder: Path, key: str) -> bytes:
    """The bytes of a file that waits."""
    path = folder / WAITING / f"{key}.csv"
    if not _KEY.fullmatch(key) or not path.is_file():
        raise NotFound("file", expected="it waits no longer", remedy="send it again")
    return path.read_bytes()
