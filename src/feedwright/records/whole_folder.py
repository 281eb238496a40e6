"""Making a folder so that it is whole or not there."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from feedwright.errors import BadInput, Conflict, StoreError


@contextmanager
def whole_folder(folder: Path) -> Iterator[Path]:
    """A folder of its own beside the wanted one, which takes its place on a clean end and is gone otherwise.

    Raises BadInput where the wanted one holds something, Conflict where another was first.
    """
    made: Path | None = None
    try:
        folder = folder.resolve()
        if folder.exists() and not _is_empty(folder):
            raise BadInput(str(folder), expected="expected a new or empty folder", remedy="name another folder")
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{folder.name[:40]}-", dir=folder.parent))
        yield made
        _take_place(made, folder)
    except OSError as error:
        words = error.strerror or str(error)
        raise StoreError(str(folder), expected=words, remedy="check the disk and its space") from error
    finally:
        if made is not None:
            shutil.rmtree(made, ignore_errors=True)


def _is_empty(folder: Path) -> bool:
    return folder.is_dir() and not any(folder.iterdir())


def _take_place(made: Path, folder: Path) -> None:
    """An empty folder stays the folder it is, since somebody may stand in it; what was made moves in, files last."""
    first = Conflict(
        str(folder), expected="another has made something there meanwhile", remedy="look at it, or name another folder"
    )
    if folder.exists():
        if not _is_empty(folder):
            raise first
        for held in sorted(made.iterdir(), key=Path.is_file):
            held.rename(folder / held.name)
        return
    made.chmod(0o755)
    try:
        made.rename(folder)
    except OSError as error:
        if folder.exists():
            raise first from error
        raise
