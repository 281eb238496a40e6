"""The demo farm beside a person's own: made on request in the background, shown, and thrown away."""

import logging
import shutil
import threading
from collections.abc import Callable
from pathlib import Path

from feedwright.errors import Conflict, FeedwrightError
from feedwright.farm.ground.house import has_farm, open_farm
from feedwright.farm.ground.settings import farm_name

Maker = Callable[[Path, Callable[[float, float], None]], None]
"""Makes the demo farm in a folder and tells steps done and all."""
MARK = "(demo)"
"""Ends the name of a demo farm; no other farm is ever thrown away."""


class DemoFarm:
    """Where the demo farm is, and how far it is made."""

    def __init__(self, folder: Path, make: Maker) -> None:
        self.folder = folder
        self.done_frac = 0.0
        self.fault = ""
        """Why it could not be made; empty while all is well."""
        self._make = make
        self._thread: threading.Thread | None = None
        self._lock = threading.Lock()

    @property
    def ready(self) -> bool:
        """True where it is there to be shown."""
        return has_farm(self.folder)

    def begin(self) -> None:
        """Make it in the background, unless it is there or being made."""
        with self._lock:
            if self.ready or (self._thread is not None and self._thread.is_alive()):
                return
            self.done_frac, self.fault = 0.0, ""
            self._thread = threading.Thread(target=self._work, name="demo farm", daemon=True)
            self._thread.start()

    def _work(self) -> None:
        try:
            self._make(self.folder, self._tell)
        except FeedwrightError as error:
            self.fault = str(error)
        except Exception:
            logging.getLogger("feedwright.web").exception("the demo farm could not be made")
            self.fault = "something went wrong that should not; the log says what"

    def _tell(self, done: float, of: float) -> None:
        self.done_frac = done / of if of else 0.0

    def throw_away(self) -> None:
        """Delete it; refuses what does not bear a demo's name."""
        with open_farm(self.folder) as store:
            name = farm_name(store)
        if not name.endswith(MARK):
            raise Conflict(
                str(self.folder), expected=f"its name, “{name}”, is not that of a demo farm",
                remedy="it is left as it is; remove the folder yourself if it is play",
            )  # fmt: skip
        shutil.rmtree(self.folder)
