"""``python -m feedwright.toolpath.prepare``: compile the reader once, while setting up."""

import shutil
import sys
from collections.abc import Callable

from feedwright.toolpath.compiled import cache_folder
from feedwright.toolpath.read import read_bytes

EVERY_ROAD = b"G28\nM104 S200\nG1 X1 Y1 Z1 E1 F600\nG2 X2 Y2 I1 J0 E2\nG1 E1\n"


def compile_kernels(say: Callable[[str], None]) -> None:
    """Compile every function of the kernel for the types it is called with, unless that was done before.

    Compiled code of other versions is cleared away. ``say`` is told what takes the time.
    """
    folder = cache_folder()
    if folder is not None and (folder / "done").exists():
        return
    say("Compiling the toolpath reader, once (about half a minute) ...")
    if folder is None:
        say("Its folder cannot be written, so every start will compile it again: see the log.")
    read_bytes("none", EVERY_ROAD)
    if folder is not None:
        (folder / "done").touch()
        for other in folder.parent.glob("compiled-*"):
            if other != folder:
                shutil.rmtree(other, ignore_errors=True)


if __name__ == "__main__":
    compile_kernels(lambda words: print(words, file=sys.stderr, flush=True))  # noqa: T201  a setup step speaks
