"""``python -m feedwright.farm.behind.behind_worker FARM``: work out for a farm what would hold its pages up.

What is wanted comes on stdin, a name a line; each answer on stdout is a pickle: what refused it, if
anything did, and what was made since the last one. It ends when stdin does, whatever it is at.
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
from feedwright.farm.dispatch.dispatch import dispatch
from feedwright.farm.figures.figures import farm_figures
from feedwright.farm.figures.savings import savings
from feedwright.farm.ground.house import open_farm
from feedwright.farm.outlook import kept
from feedwright.farm.outlook.forecasts import refresh
from feedwright.farm.outlook.lessons import lessons
from feedwright.farm.stores.lots import lots_shown
from feedwright.farm.stores.reordering import reordering
from feedwright.records.store import Store

Work = tuple[Callable[[Store, datetime], object], ...]
WORK: dict[str, Work] = {
    "plans": (refresh, dispatch, reordering, lots_shown), "figures": (farm_figures, savings), "lessons": (lessons,),
}  # fmt: skip
"""What can be asked for, and the pieces of each: one that is refused does not keep the others."""


def main() -> None:
    """Work for the farm named on the command line."""
    if os.name == "posix":
        os.nice(5)  # at less haste than whoever shows pages
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # whatever a library prints is no answer
    wanted, sent = queue.SimpleQueue[str](), kept.Made()
    threading.Thread(target=_listen, args=(wanted,), daemon=True).start()
    while True:
        refusal = _done(Path(sys.argv[1]), wanted.get())
        made = kept.everything()
        news = {name: held for name, held in made.items() if sent.get(name) is not held}
        pickle.dump((refusal, news), answers, protocol=pickle.HIGHEST_PROTOCOL)
        answers.flush()
        sent = made


def _listen(wanted: "queue.SimpleQueue[str]") -> None:
    for line in sys.stdin:
        wanted.put(line.strip())
    os._exit(0)  # whoever asked is gone


def _done(folder: Path, work: str) -> FeedwrightError | None:
    """Do it; what refused the first of its pieces that could not be done."""
    refused = None
    for piece in WORK[work]:
        try:
            with open_farm(folder) as store:
                piece(store, datetime.now(UTC).replace(microsecond=0))
        except FeedwrightError as refusal:
            refused = refused or refusal
        except Exception:
            logging.getLogger("feedwright.farm").exception("what is worked out behind the pages failed")
    return refused


if __name__ == "__main__":
    main()
