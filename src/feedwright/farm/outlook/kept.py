"""What was worked out last for each farm, where that takes long.

A small farm's is worked out anew by whoever asks after something was recorded. That of a large farm, which takes
seconds, is worked out anew behind the pages, in a process of the keeper's (``behind.py``) that hands over what it made;
a page shows the last, and says as of when it is. Outlooks are kept by rules of their own (``forecasts.py``).
"""

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Lock
from typing import Any, Generic, TypeVar

from feedwright.errors import StillWorking
from feedwright.farm.outlook.learning import is_large
from feedwright.records.store import Store

T = TypeVar("T")
Key = tuple[str, Hashable]
"""A farm's folder, and what was asked."""
ASK_AGAIN_S = 4.0
SHOWN_FOR = timedelta(hours=1)
"""So long the last is shown; older than that, whoever asks waits for it."""
MOST_KEPT = 8


@dataclass(frozen=True, slots=True)
class _Held(Generic[T]):
    stamp: Hashable
    at_utc: datetime
    made: T


KINDS: dict[str, "Kept[Any]"] = {}
"""Every kind that is kept, by its name, which is the same in another process."""
Made = dict[tuple[str, Key], _Held[Any]]
"""What is kept of every kind."""


class Kept(Generic[T]):
    """What was worked out of one kind, by farm and by what was asked; the oldest gives way."""

    def __init__(self, kind: str, *, behind: bool = False, shown_for: timedelta = SHOWN_FOR) -> None:
        self._behind = behind
        """True where the keeper works out all that can be asked for: no page of a large farm does."""
        self._shown_for = shown_for
        self._held: dict[Key, _Held[T]] = {}
        self._turn = Lock()
        """Two who ask for the same wait for one working out."""
        self._writing = Lock()
        KINDS[kind] = self

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
        if self._behind and not store.waits and is_large(store):
            raise StillWorking("what this page shows", place="the first time takes a while", wait_s=ASK_AGAIN_S)
        with self._turn:
            held = self._held.get(key)
            if held is None or held.stamp != stamp:
                held = _Held(stamp, now_utc, work_out())
                self._keep(key, held)
        return held.made

    def _keep(self, key: Key, held: _Held[T]) -> None:
        with self._writing:
            others = {other: one for other, one in self._held.items() if other != key}
            for oldest in list(others)[: max(0, len(others) + 1 - MOST_KEPT)]:
                del others[oldest]
            self._held = {**others, key: held}  # at once: a reader finds the one or the other

    def _will_do(self, store: Store, now_utc: datetime, held: _Held[T]) -> bool:
        """True where it is out of date and is shown all the same."""
        return not store.waits and timedelta() <= now_utc - held.at_utc < self._shown_for and is_large(store)

    def is_at_hand(self, store: Store, now_utc: datetime, *, stamp: Hashable, asked: Hashable = "") -> bool:
        """True where it is shown without anything being worked out."""
        held = self._held.get((str(store.folder.resolve()), asked))
        return held is not None and (held.stamp == stamp or self._will_do(store, now_utc, held))

    def last(self, store: Store, asked: Hashable = "") -> T | None:
        """What was worked out last, out of date or not; None where nothing was."""
        held = self._held.get((str(store.folder.resolve()), asked))
        return None if held is None else held.made

    def out_of_date(self, store: Store, *, stamp: Hashable, asked: Hashable = "") -> datetime | None:
        """When it was worked out, where that is out of date; None where it is not, or nothing is kept."""
        held = self._held.get((str(store.folder.resolve()), asked))
        return None if held is None or held.stamp == stamp else held.at_utc


def everything() -> Made:
    """All that this process keeps."""
    return {(kind, key): held for kind, kept in KINDS.items() for key, held in list(kept._held.items())}


def take_over(made: Mapping[tuple[str, Key], _Held[Any]]) -> None:
    """Keep what another process has made, but for what was made here since."""
    for (kind, key), held in made.items():
        own = KINDS[kind]._held.get(key)
        if own is None or own.at_utc <= held.at_utc:
            KINDS[kind]._keep(key, held)
