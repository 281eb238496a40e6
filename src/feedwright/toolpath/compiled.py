"""Where the kernel's compiled code is kept between runs.

The folder is named by a hash of the kernel's source and the package version, since compiled code would
otherwise outlive the source it came from. Where no folder can be written, the kernel is compiled anew by
every process, and the log says so.
"""

import hashlib
import logging
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, Literal

from feedwright import __version__

KERNEL_DIGEST = hashlib.sha256(__version__.encode() + Path(__file__).with_name("kernel.py").read_bytes()).hexdigest()


@cache
def cache_folder() -> Path | None:
    """The folder of this kernel's compiled code; None where none can be written."""
    from platformdirs import user_cache_path

    folder = user_cache_path("feedwright", appauthor=False) / f"compiled-{KERNEL_DIGEST[:16]}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK | os.X_OK):
            return folder
    except OSError:
        pass
    logging.getLogger(__name__).warning(
        "%s cannot be written: the toolpath reader is compiled anew at every start (about half a minute)",
        folder,
    )
    return None


def compiled(error_model: Literal["python", "numpy"] = "python") -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Numba's compiler for one function: free of the interpreter's lock, kept in :func:`cache_folder`."""
    import numba

    folder = cache_folder()
    setattr(numba.config, "CACHE_DIR", str(folder or ""))  # noqa: B010  filled at run time, unknown to its types
    return numba.njit(nogil=True, cache=folder is not None, error_model=error_model)
