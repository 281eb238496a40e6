"""The keeper: works out behind the pages what would keep a reader waiting."""

import logging
import threading
from datetime import UTC, datetime

from feedwright.errors import FeedwrightError
from feedwright.farm.figures import farm_figures
from feedwright.farm.forecasts import refresh
from feedwright.farm.house import open_farm
from feedwright.farm.learning import farm_lives
from feedwright.farm.lessons import lessons
from feedwright.web.render import Farms

LOOKS_EVERY_S = 60.0


class Keeper:
    """A thread beside the server: outlooks are at hand before they are asked for, and those of a large farm stay so."""

    def __init__(self, farms: Farms) -> None:
        self._farms = farms
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="keeper", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self) -> None:
        """Let it end; what it is at is left unfinished."""
        self._over.set()

    def _keep(self) -> None:
        while not self._over.is_set():
            try:
                self._look()
            except FeedwrightError:
                pass  # whoever opens a page is told
            except Exception:
                logging.getLogger("feedwright.web").exception("what is worked out behind the pages failed")
            self._over.wait(LOOKS_EVERY_S)

    def _look(self) -> None:
        if not self._farms.exists():
            return
        with open_farm(self._farms.folder) as store:
            now_utc = datetime.now(UTC).replace(microsecond=0)
            refresh(store, now_utc)
            if farm_lives(store).is_large:
                lessons(store, now_utc)
                farm_figures(store, now_utc)
