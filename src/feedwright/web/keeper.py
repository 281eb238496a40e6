"""The keeper: works out behind the pages what would keep a reader waiting."""

import gc
import logging
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from feedwright.errors import FeedwrightError
from feedwright.farm.behind.behind import Behind
from feedwright.farm.behind.behind_worker import WORK
from feedwright.farm.ground.house import open_farm
from feedwright.farm.outlook.forecasts import refresh
from feedwright.farm.outlook.learning import is_large
from feedwright.farm.outlook.lessons import lessons_are_due
from feedwright.records.store import Store
from feedwright.web.render import Farms


class _Over(Exception):
    """The keeper has ended: no process is begun any more."""


NEVER = datetime.min.replace(tzinfo=UTC)
LOOKS_EVERY_S = 60.0
LESSONS_AGAIN = timedelta(hours=1)
"""After lessons that did not come about, which take minutes each time."""
PLANS_EVERY, FIGURES_EVERY = timedelta(minutes=5), timedelta(minutes=10)
"""A plan is made at once where a form asks, else so often."""


class Keeper:
    """Threads beside the server: outlooks are at hand before they are asked for, and those of a large farm stay so.

    So do its queue's plan, its reorder advice and its figures, which a process beside this one works out, and its
    lessons, which take minutes and have a process of their own for as long.
    """

    def __init__(self, farms: Farms) -> None:
        self._farms = farms
        farms.hasten = self._hasten
        self._over = False
        self._outlooks_sooner, self._plans_sooner, self._lessons_sooner = (threading.Event() for _ in range(3))
        self._planned_utc = self._figured_utc = self._taught_utc = NEVER
        self._beginning = threading.Lock()
        """Held while a process is begun, and while the keeper ends: none slips between."""
        self._beside: set[Behind] = set()
        """Processes at work."""
        self._planner: Behind | None = None
        self._threads = [
            threading.Thread(target=self._keep, args=(look, sooner), name=f"keeper of {what}", daemon=True)
            for what, look, sooner in (
                ("outlooks", self._outlooks, self._outlooks_sooner),
                ("plans", self._plans, self._plans_sooner),
                ("lessons", self._lessons, self._lessons_sooner),
            )
        ]

    def start(self) -> None:
        """Begin."""
        for thread in self._threads:
            thread.start()

    def stop(self) -> None:
        """Let it end; what it is at is left unfinished, in the processes beside this one too."""
        with self._beginning:
            self._over = True
        for sooner in (self._outlooks_sooner, self._plans_sooner, self._lessons_sooner):
            sooner.set()
        for beside in list(self._beside):
            beside.end()

    def look(self) -> None:
        """Work out once, in this process and one after the other, all that there is to."""

        def all_of_it(store: Store, now_utc: datetime) -> None:
            refresh(store, now_utc)
            for pieces in WORK.values() if is_large(store) else ():
                for piece in pieces:
                    piece(store, now_utc)

        self._look(all_of_it)

    def _hasten(self, *, plans: bool) -> None:
        """Go to work at once: a form recorded something, or a page could not show what it was asked for."""
        self._outlooks_sooner.set()
        if plans:
            self._planned_utc = NEVER
            self._plans_sooner.set()

    def _keep(self, look: Callable[[Store, datetime], None], sooner: threading.Event) -> None:
        while not self._over:
            try:
                self._look(look)
            except _Over:
                return
            except FeedwrightError:
                pass  # whoever opens a page is told
            except Exception:
                logging.getLogger("feedwright.web").exception("what is worked out behind the pages failed")
            sooner.wait(LOOKS_EVERY_S)
            sooner.clear()

    def _look(self, look: Callable[[Store, datetime], None]) -> None:
        if self._farms.exists():
            with open_farm(self._farms.folder) as store:
                look(store, datetime.now(UTC).replace(microsecond=0))

    def _outlooks(self, store: Store, now_utc: datetime) -> None:
        if refresh(store, now_utc) and is_large(store):
            gc.unfreeze()
            gc.collect()
            _set_aside()

    def _plans(self, store: Store, now_utc: datetime) -> None:
        if self._planner is not None and (self._planner.folder != store.folder or not is_large(store)):
            self._ended(self._planner)
            self._planner, self._planned_utc, self._figured_utc = None, NEVER, NEVER
        if not is_large(store):
            return
        if now_utc - self._planned_utc >= PLANS_EVERY:
            self._planned_utc = now_utc  # before it is planned: what is recorded meanwhile asks for another plan
            if not self._planner_of(store).ask("plans"):
                self._planned_utc = NEVER
        if now_utc - self._figured_utc >= FIGURES_EVERY:
            self._figured_utc = now_utc  # a young farm refuses a part of them: that is no reason to ask each minute
            if not self._planner_of(store).ask("figures"):
                self._figured_utc = NEVER
        self._lessons_sooner.set()

    def _planner_of(self, store: Store) -> Behind:
        """The process that plans for the farm that is shown, begun anew where it has died."""
        if self._planner is not None and not self._planner.alive:
            self._ended(self._planner)
            self._planner = None
        if self._planner is None:
            self._planner = self._begun(store)
        return self._planner

    def _lessons(self, store: Store, now_utc: datetime) -> None:
        # what is asked for more often goes first
        due = self._figured_utc != NEVER and now_utc - self._taught_utc >= LESSONS_AGAIN
        if due and lessons_are_due(store, now_utc):
            self._taught_utc = now_utc
            beside = self._begun(store)
            try:
                beside.ask("lessons")
            finally:
                self._ended(beside)
            _set_aside()

    def _begun(self, store: Store) -> Behind:
        with self._beginning:
            if self._over:
                raise _Over
            beside = Behind(store.folder)
            self._beside.add(beside)
        return beside

    def _ended(self, beside: Behind) -> None:
        self._beside.discard(beside)
        beside.end()


def _set_aside() -> None:
    """Take what is kept for hours out of the collector's rounds: going through it would hold pages up for a second."""
    gc.freeze()
