"""The keeper: works out behind the pages what would keep a reader waiting."""

import gc
import logging
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from feedwright.errors import FeedwrightError
from feedwright.farm.dispatch import dispatch
from feedwright.farm.figures import farm_figures
from feedwright.farm.forecasts import are_at_hand, refresh
from feedwright.farm.house import open_farm
from feedwright.farm.learning import is_large
from feedwright.farm.lessons import lessons
from feedwright.farm.lots import lots_shown
from feedwright.farm.reordering import reordering
from feedwright.farm.savings import savings
from feedwright.records.store import Store
from feedwright.web.render import Farms

NEVER = datetime.min.replace(tzinfo=UTC)
LOOKS_EVERY_S = 60.0
PLANS_EVERY, FIGURES_EVERY = timedelta(minutes=5), timedelta(minutes=10)
"""A plan takes seconds, in which pages are slower: it is made at once where a form asks, else so often."""


class Keeper:
    """Threads beside the server: outlooks are at hand before they are asked for, and those of a large farm stay so.

    So do its queue's plan, its reorder advice and its figures; its lessons, which take minutes, have a thread of their
    own.
    """

    def __init__(self, farms: Farms) -> None:
        self._farms = farms
        self._over = False
        self._wanted = farms.wanted = threading.Event()
        self._outlooks_at_hand = threading.Event()
        self._planned_utc = self._figured_utc = NEVER
        self._threads = [
            threading.Thread(target=self._keep, args=(self._outlooks, self._wanted), name="keeper", daemon=True),
            threading.Thread(target=self._keep, args=(self._lessons, self._outlooks_at_hand), name="keeper of lessons",
                             daemon=True),
        ]  # fmt: skip

    def start(self) -> None:
        """Begin."""
        for thread in self._threads:
            thread.start()

    def stop(self) -> None:
        """Let it end; what it is at is left unfinished."""
        self._over = True
        self._wanted.set()
        self._outlooks_at_hand.set()

    def _keep(self, look: Callable[[Store, datetime], None], sooner: threading.Event) -> None:
        while not self._over:
            sooner.clear()
            try:
                self._look(look)
            except FeedwrightError:
                pass  # whoever opens a page is told
            except Exception:
                logging.getLogger("feedwright.web").exception("what is worked out behind the pages failed")
            if sooner.wait(LOOKS_EVERY_S) and sooner is self._wanted:
                self._planned_utc = NEVER

    def look(self) -> None:
        """Work out once, one after the other, all that there is to."""
        self._planned_utc = NEVER
        self._look(self._outlooks)
        self._look(self._lessons)

    def _look(self, look: Callable[[Store, datetime], None]) -> None:
        if self._farms.exists():
            with open_farm(self._farms.folder) as store:
                look(store, datetime.now(UTC).replace(microsecond=0))

    def _outlooks(self, store: Store, now_utc: datetime) -> None:
        anew = refresh(store, now_utc)
        if is_large(store):
            if anew:
                gc.unfreeze()
                gc.collect()
                _set_aside()
            if now_utc - self._planned_utc >= PLANS_EVERY:
                self._planned_utc = now_utc
                dispatch(store, now_utc)
                reordering(store, now_utc)
                lots_shown(store, now_utc)
            if now_utc - self._figured_utc >= FIGURES_EVERY:
                farm_figures(store, now_utc)
                self._figured_utc = now_utc
                savings(store, now_utc)
            _set_aside()
        self._outlooks_at_hand.set()

    def _lessons(self, store: Store, now_utc: datetime) -> None:
        if is_large(store) and are_at_hand(store):
            lessons(store, now_utc)
            _set_aside()


def _set_aside() -> None:
    """Take what is kept for hours out of the collector's rounds: going through it would hold pages up for a second."""
    gc.freeze()
