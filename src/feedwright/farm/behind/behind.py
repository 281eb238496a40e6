"""A process beside the pages that works out what would hold them up: Python runs one thread of a process at a time."""

import contextlib
import pickle
import subprocess
import sys
from pathlib import Path

from feedwright.farm.outlook import kept


class Behind:
    """The process, for one farm; it lives until it is ended, or this process is."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "feedwright.farm.behind.behind_worker", str(folder)], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, start_new_session=True,
        )  # fmt: skip

    @property
    def alive(self) -> bool:
        """False once it has ended."""
        return self._process.poll() is None

    def ask(self, work: str) -> bool:
        """Have one of ``behind_worker.WORK`` done, wait for it, and keep what was made where pages look for it.

        False where the process ended over it; raises what refused a part of it, once the rest is kept. What the process
        says is believed: it is this program itself, under the same user.
        """
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        try:
            self._process.stdin.write(f"{work}\n".encode())
            self._process.stdin.flush()
            refusal, news = pickle.load(self._process.stdout)
        except Exception:  # whatever is amiss with an answer, the next one is not to be trusted
            self.end()
            return False
        kept.take_over(news)
        if refusal is not None:
            raise refusal
        return True

    def end(self) -> None:
        """End it, whatever it is at."""
        self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            with contextlib.suppress(OSError):  # what was not sent yet is of no use any more
                if pipe is not None:
                    pipe.close()
