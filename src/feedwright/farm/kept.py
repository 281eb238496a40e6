"""What was worked out last for each farm, where that takes long.

A small farm's is worked out anew by whoever asks after something was recorded. That of a large farm, which takes
seconds, is worked out anew behind the pages, by the keeper; a page shows the last, and says as of when it is. Outlooks
and lessons, which hang together, are kept by rules of their own (``forecasts.py``, ``lessons.py``).
"""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Lock
from typing import Generic, TypeVar

from feedwright.errors import StillWorking
from feedwright.farm.learning import is_large
from feedwright.records.store import Store

T = TypeVar("T")
ASK_AGAIN_S = 4.0
SHOWN_FOR = timedelta(hours=1)
"""So long the last is shown; older than that, whoever asks waits for it."""
MOST_KEPT = 8


@dataclass(frozen=True, slots=True)
class _Held(Generic[T]):
    stamp: Hashable
    at_utc: datetime
    made: T


class Kept(Generic[T]):
    """What was worked out of one kind, by farm and by what was asked; the oldest gives way."""

    def __init__(self, *, behind: bool = False) -> None:
        self._behind = behind
        """True where the keeper works out all that can be asked for, the first time too."""
        self._held: dict[tuple[str, Hashable], _Held[T]] = {}
        self._turn = Lock()
        """Two who ask for the same wait for one working out."""

    def of(
        self, store: Store, now_utc: datetime, work_out: Callable[[], T], *, stamp: Hashable, asked: Hashable = ""
    ) -> T:
        """What was asked for, worked out where it is not at hand.

        ``stamp`` is all that it hangs on, such as the latest act: where it changed, what is kept is out of date.
        Raises StillWorking where the keeper has yet to work it out and whoever asks does not wait.
        """
        key = str(store.folder.resolve()), asked
        held = self._held.get(key)
        if held is not None and (held.stamp == stamp or self._will_do(store, now_utc, held)):
            return held.made
        if held is None and self._behind and not store.waits and is_large(store):
            raise StillWorking("what this page shows", place="the first time takes a while", wait_s=ASK_AGAIN_S)
        with self._turn:
            held = self._held.get(key)
            if held is None or held.stamp != stamp:
                held = _Held(stamp, now_utc, work_out())
                self._held.pop(key, None)
                while len(self._held) >= MOST_KEPT:
                    self._held.pop(next(iter(self._held)))
                self._held[key] = held
        return held.made

    @staticmethod
    def _will_do(store: Store, now_utc: datetime, held: _Held[T]) -> bool:
        """True where it is out of date and is shown all the same."""
        return not store.waits and timedelta() <= now_utc - held.at_utc < SHOWN_FOR and is_large(store)

    def last(self, store: Store, asked: Hashable = "") -> T | None:
        """What was worked out last, out of date or not; None where nothing was."""
        held = self._held.get((str(store.folder.resolve()), asked))
        return None if held is None else held.made

    def out_of_date(self, store: Store, *, stamp: Hashable, asked: Hashable = "") -> datetime | None:
        """When it was worked out, where that is out of date; None where it is not, or nothing is kept."""
        held = self._held.get((str(store.folder.resolve()), asked))
        return None if held is None or held.stamp == stamp else held.at_utc
