"""The ways in and out at work beside the pages: as the farm's settings say, begun and ended as those change."""

import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from feedwright.errors import FeedwrightError
from feedwright.farm.exchange.ways import Broker, broker, broker_password, listening
from feedwright.farm.ground.house import has_farm, open_farm
from feedwright.farm.toolpaths.arrivals import watched_folder
from feedwright.link.notify import notify
from feedwright.link.watch import watch
from feedwright.records.store import Store

LOOK_S = 3.0
"""So often the settings are looked at."""
END_S = 10.0


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What the settings ask for."""

    folder: Path | None = None
    broker: tuple[Broker, str] | None = None


class _Way:
    """One way at work in a thread of its own, for as long as the same is asked for."""

    def __init__(self, asked_for: object, work: Callable[[threading.Event], None]) -> None:
        self.asked_for = asked_for
        self._stop = threading.Event()
        self._thread = threading.Thread(target=work, args=(self._stop,), daemon=True)
        self._thread.start()

    @property
    def at_work(self) -> bool:
        """False where it ended by itself."""
        return self._thread.is_alive()

    def end(self) -> None:
        """Have it end, and wait for that."""
        self._stop.set()
        self._thread.join(END_S)


class Alongside:
    """Watches, listens and tells for one farm while a ``with`` block lasts."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._stop = threading.Event()
        self._ways: dict[str, _Way] = {}
        self._thread = threading.Thread(target=self._keep, daemon=True)

    def __enter__(self) -> "Alongside":
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None) -> None:
        self._stop.set()
        self._thread.join(END_S)

    def _keep(self) -> None:
        while not self._stop.is_set():
            if has_farm(self._folder):
                self._follow()
            self._stop.wait(LOOK_S)
        for way in self._ways.values():
            way.end()

    def _follow(self) -> None:
        """Begin and end ways as the settings say; where those cannot be read, things stay as they are."""
        try:
            with self._open() as store:
                wanted, heard_elsewhere = _wanted(store), _is_heard(store)
        except FeedwrightError:
            return
        self._set("watch", wanted.folder, lambda folder, stop: watch(self._open, folder, stop))
        if "listen" in self._ways or not heard_elsewhere:
            self._set("listen", wanted.broker, self._listen)
        self._set("notify", "always", lambda _, stop: notify(self._open, stop))

    def _listen(self, asked_for: tuple[Broker, str], stop: threading.Event) -> None:
        from feedwright.link.listen import listen

        listen(self._open, *asked_for, stop)

    def _open(self) -> AbstractContextManager[Store]:
        return open_farm(self._folder)

    def _set(self, name: str, asked_for: object, work: Callable[..., None]) -> None:
        way = self._ways.get(name)
        if way is not None and (way.asked_for != asked_for or not way.at_work):
            way.end()
            del self._ways[name]
        if asked_for is not None and name not in self._ways:
            self._ways[name] = _Way(asked_for, lambda stop: work(asked_for, stop))


def _wanted(store: Store) -> _Wanted:
    host = broker(store)
    return _Wanted(watched_folder(store), (host, broker_password(store)) if host else None)


def _is_heard(store: Store) -> bool:
    """True where another program listens for this farm already: two would push each other out at the broker."""
    state = listening(store)
    return state is not None and state.alive
