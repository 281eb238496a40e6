"""A farm with two machines, and a real broker to listen to."""

import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine
from feedwright.records.store import Store

sys.path.insert(0, str(Path(__file__).parent))  # the broker stands beside the tests

from real_broker import RealBroker

Open = Callable[[], AbstractContextManager[Store]]


@pytest.fixture
def yard(tmp_path: Path) -> Open:
    """Opens a farm of its own for the test, with two machines described a month ago."""
    folder = tmp_path / "farm"
    with open_farm(folder, create=True) as store:
        for name in ("Larch", "Ash #2"):
            add_machine(store, name, "moving_bed_remote", history="new", at_utc=datetime.now(UTC) - timedelta(days=30))

    def opening() -> AbstractContextManager[Store]:
        return open_farm(folder)

    return opening


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[RealBroker]:
    """A broker with one user."""
    held = RealBroker(tmp_path)
    held.begin()
    yield held
    held.close()
