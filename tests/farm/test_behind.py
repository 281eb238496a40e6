"""What would hold pages up is worked out in a process of its own, and found where pages look for it."""

import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from feedwright.errors import StoreError
from feedwright.farm import kept, lots, reordering
from feedwright.farm.behind import Behind
from feedwright.farm.behind_worker import WORK
from feedwright.farm.dispatch import dispatch
from feedwright.farm.queue import add_to_queue
from feedwright.records.store import Store


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    for kind in kept.KINDS.values():
        kind._held.clear()


def test_what_it_plans_is_what_this_process_would_plan(farm: Store) -> None:
    line = add_to_queue(farm, "d20.gcode", material="pla", copies=2)
    beside = Behind(farm.folder)
    try:
        beside.ask("plans")
    finally:
        beside.end()
    (handed,) = kept.KINDS["plan of the queue"]._held.values()
    assert handed.stamp[0] == farm.latest_act_id()
    assert reordering._KEPT.last(farm) is not None
    assert lots._KEPT.last(farm) == []
    kept.KINDS["plan of the queue"]._held.clear()
    own = dispatch(farm, handed.made.at_utc)
    assert own == handed.made
    assert [one.line.entry for one in own.left_over] == [line.entry], "the file is cut off: no machine takes it"


def test_only_what_is_new_is_handed_over(farm: Store) -> None:
    beside = Behind(farm.folder)
    try:
        beside.ask("figures")
        assert set(kept.KINDS["figures"]._held)
        kept.KINDS["figures"]._held.clear()
        beside.ask("figures")
        assert not kept.KINDS["figures"]._held
    finally:
        beside.end()


def test_its_refusal_is_raised_here(tmp_path: Path) -> None:
    beside = Behind(tmp_path / "none")
    try:
        with pytest.raises(StoreError):
            beside.ask("plans")
        assert beside.alive
    finally:
        beside.end()


def test_once_it_is_gone_nothing_is_handed_over_and_nothing_fails(farm: Store) -> None:
    beside = Behind(farm.folder)
    beside._process.kill()
    beside.ask("lessons")
    assert not beside.alive
    assert not any(kind._held for kind in kept.KINDS.values())


def test_it_ends_when_whoever_asked_is_gone(farm: Store) -> None:
    command = [sys.executable, "-m", "feedwright.farm.behind_worker", str(farm.folder)]
    done = subprocess.run(command, input=b"plans\n", stdout=subprocess.PIPE, timeout=60, check=False)
    assert done.returncode == 0


def test_all_that_is_worked_out_behind_can_be_asked_for(farm: Store) -> None:
    now_utc = datetime.now(UTC).replace(microsecond=0)
    for work in WORK.values():
        work(farm, now_utc)
    assert {kind for kind, _ in kept.everything()} >= {
        "plan of the queue",
        "reorder advice",
        "lots",
        "figures",
        "lessons",
    }
