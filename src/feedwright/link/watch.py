"""The watched folder: each file saved there is taken once it has stopped growing.

A plain look at the folder once a second; that works on every system and on network shares, where notices of the
system do not.
"""

import os
import shutil
import stat
import tempfile
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from threading import Event

from feedwright.errors import BadInput, FeedwrightError, StoreError
from feedwright.farm.exchange.ways import say_watching
from feedwright.farm.ground.file_names import shown_name
from feedwright.farm.toolpaths.arrivals import take_arrival
from feedwright.records.exchange_values import Arrival
from feedwright.records.store import Store

POLL_S = 1.0
SETTLED_S = 2.0
"""A file that did not change for so long is whole, as far as can be told."""
AGAIN_S = 30.0
"""After so long a file that could not be read is tried again."""
LONGEST_BYTES = 2 * 1024**3
UNFINISHED = (".part", ".tmp", ".partial", ".download", ".swp")
"""How files end that a program is still writing (common practice)."""
OpenStore = Callable[[], AbstractContextManager[Store]]
Tell = Callable[[Arrival], None]


@dataclass(frozen=True, slots=True)
class Stamp:
    """What of a file changes when it is written or replaced."""

    inode: int
    bytes_count: int
    changed_ns: int


@dataclass(slots=True)
class _Seen:
    """One file as it was last seen: since when unchanged, and whether it was dealt with."""

    stamp: Stamp
    since_s: float
    done: bool = False
    tried_s: float | None = None

    def is_due(self, now_s: float) -> bool:
        """True where it has settled, and was neither dealt with nor tried a moment ago."""
        rested = self.tried_s is None or now_s - self.tried_s >= AGAIN_S
        return not self.done and rested and now_s - self.since_s >= SETTLED_S


class Folder:
    """What is known of the files in one folder from one look to the next; nothing below it is looked at."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.troubles: dict[str, str] = {}
        """Files that could not be taken, and why; they are tried again."""
        self._seen: dict[str, _Seen] = {}
        self._links: set[str] = set()

    def settled(self, now_s: float) -> list[str]:
        """Names of the files to take now: unchanged for a while, and not dealt with.

        Raises OSError where the folder cannot be looked at.
        """
        stamps = self._stamps()
        for gone in self._seen.keys() - stamps.keys():
            del self._seen[gone]
        self.troubles = {name: why for name, why in self.troubles.items() if name in stamps or name in self._links}
        ready = []
        for name, stamp in stamps.items():
            seen = self._seen.get(name)
            if seen is None or seen.stamp != stamp:
                self._seen[name] = _Seen(stamp, now_s)
                self.troubles.pop(name, None)
            elif stamp.bytes_count > 0 and seen.is_due(now_s):
                seen.tried_s = now_s
                ready.append(name)
        return sorted(ready)

    def _stamps(self) -> dict[str, Stamp]:
        stamps: dict[str, Stamp] = {}
        self._links = set()
        with os.scandir(self.path) as entries:
            for entry in entries:
                if entry.name.startswith((".", "~")) or entry.name.lower().endswith(UNFINISHED):
                    continue
                if entry.is_symlink():
                    self._links.add(entry.name)
                    self.troubles[entry.name] = "a link: save the file itself here"
                elif entry.is_file(follow_symlinks=False):
                    try:
                        held = entry.stat(follow_symlinks=False)
                    except OSError:  # gone between the list and the look
                        continue
                    stamps[entry.name] = _stamp(held)
        return stamps

    def done(self, name: str) -> None:
        """The file was dealt with, as it is now."""
        if name in self._seen:
            self._seen[name].done = True
        self.troubles.pop(name, None)

    def copy_out(self, name: str, target: Path) -> bool:
        """Copy a file's bytes; False where it was written to, replaced or taken away meanwhile.

        No link is followed, so that nothing outside the folder is read. Raises OSError where it cannot be read, and
        BadInput where it is too large.
        """
        if self._seen[name].stamp.bytes_count > LONGEST_BYTES:
            raise BadInput(name, expected="it is larger than 2 GB", remedy="pack it with gzip")
        try:
            handle = os.open(self.path / name, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0))
        except FileNotFoundError:
            return False
        with os.fdopen(handle, "rb") as source, target.open("wb") as copy:
            before = os.fstat(source.fileno())
            if not stat.S_ISREG(before.st_mode) or _stamp(before) != self._seen[name].stamp:
                return False
            shutil.copyfileobj(source, copy, 1 << 20)
            return _stamp(os.fstat(source.fileno())) == _stamp(before) and copy.tell() == before.st_size


def _stamp(held: os.stat_result) -> Stamp:
    return Stamp(held.st_ino, held.st_size, held.st_mtime_ns)


def take_settled(folder: Folder, open_store: OpenStore, now_s: float, tell: Tell | None = None) -> int:
    """Take every file that has settled; returns how many were new. Raises OSError where the folder is not there."""
    names = folder.settled(now_s)
    if not names:
        return 0
    new = 0
    with open_store() as store:
        for name in names:
            try:
                arrival = _take(folder, store, name)
            except (OSError, BadInput) as error:
                folder.troubles[name] = error.sentence if isinstance(error, BadInput) else _words(error)
                continue
            if arrival is not None:
                new += 1
                if tell is not None:
                    tell(arrival)
    return new


def _take(folder: Folder, store: Store, name: str) -> Arrival | None:
    """Take one file by a copy of it, which nobody else writes to."""
    with tempfile.TemporaryDirectory(prefix="feedwright-") as held:
        copy = Path(held) / "arrival"
        if not folder.copy_out(name, copy):
            return None
        arrival = take_arrival(store, copy, shown_name(name, "toolpath"))
    folder.done(name)
    return arrival


def _words(error: OSError) -> str:
    return error.strerror or str(error)


def watch(open_store: OpenStore, path: Path, stop: Event, *, tell: Tell | None = None) -> None:
    """Watch a folder until ``stop`` is set. One that vanishes is waited for; what goes wrong is kept to be shown."""
    folder, last_said = Folder(path), ("", 0.0)
    while not stop.is_set():
        problem, now_s = "", time.monotonic()
        try:
            take_settled(folder, open_store, now_s, tell)
        except StoreError as error:
            problem = error.sentence
        except OSError as error:
            problem = f"the folder cannot be looked at: {_words(error)}; it is tried again"
        said = f"{problem}{sorted(folder.troubles.items())}"
        if said != last_said[0] or now_s - last_said[1] > HEARTBEAT_S:
            last_said = said, now_s
            _say(open_store, path, problem, folder.troubles)
        stop.wait(POLL_S)
    _say(open_store, path, "", folder.troubles, at_work=False)


HEARTBEAT_S = 60.0


def _say(open_store: OpenStore, path: Path, problem: str, troubles: dict[str, str], *, at_work: bool = True) -> None:
    """Keep how the watching goes; where even that cannot be written, the next round tries again."""
    try:
        with open_store() as store:
            say_watching(store, path, problem, troubles, at_work=at_work)
    except FeedwrightError:
        return
