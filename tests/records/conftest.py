"""An empty farm to write in, one machine's worth of records, and children that may be killed."""

import os
import traceback
import warnings
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from feedwright.records.store import Store, open_store
from feedwright.records.values import Fitting, Machine
from feedwright.toolpath.values import MotionLimits

AT = datetime(2026, 3, 1, 9, 30, 15, 250_001, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "farm"


@pytest.fixture
def store(folder: Path) -> Iterator[Store]:
    with open_store(folder, create=True) as opened:
        yield opened


@pytest.fixture
def machine(store: Store) -> Machine:
    described = Machine("Alder", "moving_bed_remote", "remote", "lined", (220.0, 220.0, 250.0), MotionLimits(), AT)
    with store.act("add machine") as act:
        act.add(described)
    return store.machines()[0]


@pytest.fixture
def fitting(store: Store, machine: Machine) -> Fitting:
    with store.act("fit") as act:
        act.add(Fitting(machine.id, "nozzle", 1, "brass", AT))
    return store.fittings()[0]


@pytest.fixture
def forked() -> Callable[[Callable[[Callable[[str], None]], None]], tuple[int, int]]:
    """Starts a child that runs a function given ``say``; returns its process id and the pipe it says lines into.

    A fork of this process, so that nothing need be imported again. An error in the child is its last line.
    """
    return fork


def fork(work: Callable[[Callable[[str], None]], None]) -> tuple[int, int]:
    heard, said = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # 3.12 and later warn where other threads live
        pid = os.fork()
    if pid:
        os.close(said)
        return pid, heard
    try:
        os.close(heard)
        work(lambda line: os.write(said, f"{line}\n".encode()) and None)
        os._exit(0)
    except BaseException:
        os.write(said, f"error {traceback.format_exc()!r}\n".encode())
        os._exit(1)
