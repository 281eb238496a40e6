"""Where the compiled loop is kept between runs.

The cache folder is named by a hash of the kernel's source and the package version, since a compiled
function would otherwise outlive the source it came from. Import this module before ``kernel``.
"""

import hashlib
import os
import tempfile
from importlib.resources import files
from pathlib import Path

from feedwright import __version__

KERNEL_DIGEST = hashlib.sha256(
    __version__.encode() + files("feedwright.toolpath").joinpath("kernel.py").read_bytes()
).hexdigest()


def cache_folder() -> Path:
    """The folder of this kernel's compiled code, in the user's cache; in a temporary one where that fails."""
    from platformdirs import user_cache_path

    folder = user_cache_path("feedwright", appauthor=False) / f"compiled-{KERNEL_DIGEST[:16]}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK):
            return folder
    except OSError:
        pass
    return Path(tempfile.mkdtemp(prefix="feedwright-"))


os.environ.setdefault("NUMBA_CACHE_DIR", str(cache_folder()))
