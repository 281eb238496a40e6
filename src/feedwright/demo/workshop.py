"""The invented workshop "Larkspur Yard": a dozen machines that print invented things for ten months.

Each machine's days are lived through one by one; then the yard's shelves, cases, measurements and the week ahead are
written. What the two keepers write down is all the program ever sees.
"""

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from feedwright.catalogue.load import load_catalogue
from feedwright.demo.brought_true import bring_true
from feedwright.demo.cases_told import tell_cases
from feedwright.demo.machine_life import Lived, MachineLife
from feedwright.demo.stores_kept import begin_stores, keep_stores
from feedwright.demo.toolpath_maker import THINGS, Thing, toolpath_of
from feedwright.demo.truth import Truth
from feedwright.demo.week_ahead import plan_week
from feedwright.demo.yard import DAYS, KEEPERS, MACHINES
from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.people import add_person
from feedwright.farm.ground.settings import set_farm_name, set_zone
from feedwright.farm.toolpaths.toolpaths import keep_toolpath
from feedwright.records.store import Store
from feedwright.records.values import Toolpath
from feedwright.records.whole_folder import whole_folder

DEFAULT_SEED = 2


@dataclass(frozen=True, slots=True)
class DemoReport:
    """What was made."""

    machines: int
    runs: int
    failures: int
    renewals: int


def make_demo(
    folder: Path,
    *,
    seed: int = DEFAULT_SEED,
    progress: Callable[[float, float], None] | None = None,
    now_utc: datetime | None = None,
) -> DemoReport:
    """Make the demo farm in a new or empty folder; the same seed and day give the same records.

    It is made beside and takes its place when whole, so that breaking off leaves no half farm. ``progress`` is told
    steps done and all. Raises BadInput where the folder holds something, Conflict where another was first.
    """
    today = (now_utc or datetime.now(UTC)).replace(hour=0, minute=0, second=0, microsecond=0)
    with whole_folder(folder) as aside:
        return _live_ten_months(aside, seed, today - timedelta(days=DAYS), progress)


def _live_ten_months(
    folder: Path, seed: int, begun: datetime, progress: Callable[[float, float], None] | None
) -> DemoReport:
    truth = Truth(load_catalogue(), seed)
    with open_farm(folder, create=True) as store:
        set_farm_name(store, "Larkspur Yard (demo)")
        set_zone(store, "Europe/Vienna")
        for keeper in KEEPERS:
            add_person(store, keeper)
        toolpaths = _keep_toolpaths(store)
        begin_stores(store, begun)
        afterwards = (keep_stores, bring_true, tell_cases, plan_week)
        steps = len(MACHINES) + len(afterwards)
        lives: list[Lived] = []
        for keeping in MACHINES:
            lives.append(MachineLife(store, truth, keeping, toolpaths, begun, DAYS, seed).live())
            _tell(progress, len(lives), steps)
        for number, write in enumerate(afterwards, len(MACHINES) + 1):
            write(store, begun, begun + timedelta(days=DAYS), seed)
            _tell(progress, number, steps)
    return DemoReport(
        len(lives), sum(one.runs for one in lives), sum(one.failures for one in lives),
        sum(one.renewals for one in lives),
    )  # fmt: skip


def _tell(progress: Callable[[float, float], None] | None, done: int, steps: int) -> None:
    if progress is not None:
        progress(done, steps)


def _keep_toolpaths(store: Store) -> dict[str, tuple[Thing, Toolpath]]:
    kept = {}
    with tempfile.TemporaryDirectory() as held:
        for thing in THINGS:
            path = Path(held) / f"{thing.name}.gcode"
            path.write_text(toolpath_of(thing))
            kept[thing.name] = (thing, keep_toolpath(store, path)[0])
    return kept
