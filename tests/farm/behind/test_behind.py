"""What would hold pages up is worked out in a process of its own, and found where pages look for it."""

import contextlib
import pickle
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from feedwright.errors import BadInput, StoreError
from feedwright.farm.behind import behind_worker
from feedwright.farm.behind.behind import Behind
from feedwright.farm.behind.behind_worker import WORK
from feedwright.farm.dispatch.dispatch import dispatch
from feedwright.farm.outlook import kept
from feedwright.farm.prints.queue import add_to_queue
from feedwright.farm.stores import lots, reordering
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
        with contextlib.suppress(BadInput):  # the farm is too young for savings
            beside.ask("figures")
        assert set(kept.KINDS["figures"]._held)
        kept.KINDS["figures"]._held.clear()
        with contextlib.suppress(BadInput):
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
    beside._process.wait()
    assert not beside.ask("lessons")
    assert not beside.alive
    assert not any(kind._held for kind in kept.KINDS.values())


def test_it_ends_when_whoever_asked_is_gone(farm: Store) -> None:
    command = [sys.executable, "-m", "feedwright.farm.behind.behind_worker", str(farm.folder)]
    done = subprocess.run(command, input=b"plans\n", stdout=subprocess.PIPE, timeout=60, check=False)
    assert done.returncode == 0


def test_all_that_is_worked_out_behind_can_be_asked_for(farm: Store) -> None:
    now_utc = datetime.now(UTC).replace(microsecond=0)
    for piece in (piece for pieces in WORK.values() for piece in pieces):
        piece(farm, now_utc)
    assert {kind for kind, _ in kept.everything()} >= {
        "plan of the queue",
        "reorder advice",
        "lots",
        "figures",
        "lessons",
    }


def test_what_one_piece_refuses_does_not_keep_the_others(farm: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[str] = []

    def refuses(*_: object) -> None:
        raise StoreError("here", expected="no", remedy="none")

    monkeypatch.setitem(WORK, "plans", (refuses, lambda *_: made.append("plan")))
    assert isinstance(behind_worker._done(farm.folder, "plans"), StoreError)
    assert made == ["plan"]


def test_what_was_made_is_handed_over_with_the_refusal(farm: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    key, held = ("some farm", ""), kept._Held(1, datetime.now(UTC), [])
    answer = pickle.dumps((StoreError("here", expected="no", remedy="none"), {("lots", key): held}))
    beside = Behind(farm.folder)
    try:
        monkeypatch.setattr(pickle, "load", lambda _: pickle.loads(answer))
        with pytest.raises(StoreError):
            beside.ask("plans")
    finally:
        beside.end()
    assert kept.KINDS["lots"]._held[key] == held


def test_no_module_of_the_folder_it_was_started_in_is_run(
    farm: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "queue.py").write_text("raise SystemExit('a stray file was run')")
    (tmp_path / "json.py").write_text("raise SystemExit('a stray file was run')")
    monkeypatch.chdir(tmp_path)
    beside = Behind(farm.folder)
    try:
        assert beside.ask("plans")
    finally:
        beside.end()


def test_an_older_result_does_not_take_the_place_of_a_newer_one() -> None:
    now_utc = datetime.now(UTC)
    key = "lots", ("some farm", "")
    kept.take_over({key: kept._Held(2, now_utc, ["new"])})
    kept.take_over({key: kept._Held(1, now_utc - timedelta(minutes=1), ["old"])})
    assert kept.KINDS["lots"]._held[key[1]].made == ["new"]


def test_the_oldest_gives_way_where_much_is_kept() -> None:
    for number in range(kept.MOST_KEPT + 3):
        kept.take_over({("lots", ("some farm", number)): kept._Held(number, datetime.now(UTC), [])})
    assert [asked for _, asked in kept.KINDS["lots"]._held] == list(range(3, kept.MOST_KEPT + 3))
