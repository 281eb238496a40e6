"""``python -m feedwright.farm.toolpaths.reading_worker FILE``: read a file in a process that may do little else.

Limits of a machine come as JSON on stdin, the reading goes to stdout. The system ends the process where it takes more
processor time or memory than any print's file needs; systems without such limits have the caller's clock alone.
"""

import json
import os
import sys
from pathlib import Path

MOST_CPU_S, MOST_MEMORY_BYTES, MOST_WRITTEN_BYTES = 300, 2 << 30, 64 << 20
"""Reading 1.9 GB unpacked took 7 s of processor time and 0.4 GB of memory (measured); the reader stops at 8 GB. What it
may write to disk is no more than the compiled reader's own cache."""


def hold_to_limits(cpu_s: int = MOST_CPU_S, memory_bytes: int = MOST_MEMORY_BYTES) -> None:
    """Have the system end this process where it goes beyond; at less haste than whoever shows pages."""
    if os.name != "posix":
        return
    import resource

    os.nice(5)
    wanted = (
        (resource.RLIMIT_CPU, cpu_s), (resource.RLIMIT_AS, memory_bytes), (resource.RLIMIT_FSIZE, MOST_WRITTEN_BYTES),
        (resource.RLIMIT_CORE, 0),
    )  # fmt: skip
    for which, most in wanted:
        _, hard = resource.getrlimit(which)
        least = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(which, (least, least))


def main() -> None:
    """Read the file named on the command line."""
    told = json.load(sys.stdin)
    hold_to_limits(told["cpu_s"], told["memory_bytes"])
    from feedwright.records.rows import motion_from_text, reading_to_text
    from feedwright.toolpath.read import read_file

    sys.stdout.write(reading_to_text(read_file(Path(sys.argv[1]), motion_from_text(told["limits"]))))


if __name__ == "__main__":
    main()
