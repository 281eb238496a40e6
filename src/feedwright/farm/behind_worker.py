"""``python -m feedwright.farm.behind_worker FARM``: work out for a farm what would hold its pages up.

What is wanted comes on stdin, a name a line; each answer on stdout is a pickle: what was made since the last one, or
the refusal. It ends when stdin does, whatever it is at.
"""

import logging
import os
import pickle
import queue
import sys
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from feedwright.errors import FeedwrightError
from feedwright.farm import kept
from feedwright.farm.dispatch import dispatch
from feedwright.farm.figures import farm_figures
from feedwright.farm.forecasts import refresh
from feedwright.farm.house import open_farm
from feedwright.farm.lessons import lessons
from feedwright.farm.lots import lots_shown
from feedwright.farm.reordering import reordering
from feedwright.farm.savings import savings
from feedwright.records.store import Store


def _plans(store: Store, now_utc: datetime) -> None:
    refresh(store, now_utc)
    dispatch(store, now_utc)
    reordering(store, now_utc)
    lots_shown(store, now_utc)


def _figures(store: Store, now_utc: datetime) -> None:
    farm_figures(store, now_utc)
    savings(store, now_utc)


WORK: dict[str, Callable[[Store, datetime], object]] = {"plans": _plans, "figures": _figures, "lessons": lessons}
"""What can be asked for."""


def main() -> None:
    """Work for the farm named on the command line."""
    if os.name == "posix":
        os.nice(5)  # at less haste than whoever shows pages
    wanted, sent = queue.SimpleQueue[str](), kept.Made()
    threading.Thread(target=_listen, args=(wanted,), daemon=True).start()
    while True:
        refusal = _done(Path(sys.argv[1]), wanted.get())
        made = kept.everything()
        news = {name: held for name, held in made.items() if sent.get(name) is not held}
        pickle.dump(refusal or news, sys.stdout.buffer, protocol=pickle.HIGHEST_PROTOCOL)
        sys.stdout.buffer.flush()
        sent = made


def _listen(wanted: "queue.SimpleQueue[str]") -> None:
    for line in sys.stdin:
        wanted.put(line.strip())
    os._exit(0)  # whoever asked is gone


def _done(folder: Path, work: str) -> FeedwrightError | None:
    """Do it; the refusal where it cannot be done."""
    try:
        with open_farm(folder) as store:
            WORK[work](store, datetime.now(UTC).replace(microsecond=0))
    except FeedwrightError as refusal:
        return refusal
    except Exception:
        logging.getLogger("feedwright.farm").exception("what is worked out behind the pages failed")
    return None


if __name__ == "__main__":
    main()
