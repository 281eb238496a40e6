"""``python -m feedwright.toolpath.prepare``: compile the reader once, while setting up."""

import sys
from collections.abc import Callable

from feedwright.toolpath.compiled import cache_folder

EVERY_ROAD = b"G28\nM104 S200\nG1 X1 Y1 Z1 E1 F600\nG2 X2 Y2 I1 J0 E2\nG1 E1\n"


def prepare(say: Callable[[str], None]) -> None:
    """Compile every function of the kernel for the types it is called with, unless that was done before."""
    done = cache_folder() / "done"
    if done.exists():
        return
    say("Compiling the toolpath reader, once (about half a minute) ...")
    from feedwright.toolpath.read import read_bytes

    read_bytes("none", EVERY_ROAD)
    done.touch()


if __name__ == "__main__":
    prepare(lambda words: print(words, file=sys.stderr, flush=True))  # noqa: T201  a setup step speaks for itself
