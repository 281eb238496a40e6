"""An uploaded file on its way from the form to whoever reads it."""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fastapi import UploadFile


@contextmanager
def on_disk(file: UploadFile) -> Iterator[Path]:
    """The upload as a file of a name of ours in a folder of its own, gone afterwards."""
    with tempfile.TemporaryDirectory() as held:
        path = Path(held) / "upload"
        with path.open("wb") as target:
            shutil.copyfileobj(file.file, target)
        yield path
