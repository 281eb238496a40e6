"""The demo farm, made once for all tests: it takes some twenty seconds."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from feedwright.demo.workshop import DemoReport, make_demo
from feedwright.farm.ground.house import open_farm
from feedwright.records.store import Store

MADE = datetime(2026, 6, 15, 9, 30, tzinfo=UTC)


@dataclass(frozen=True)
class Demo:
    """The open farm and what making it reported."""

    store: Store
    report: DemoReport
    told: list[tuple[float, float]]


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    """Larkspur Yard as its default seed makes it."""
    folder: Path = tmp_path_factory.mktemp("demo") / "farm"
    told: list[tuple[float, float]] = []
    report = make_demo(folder, now_utc=MADE, progress=lambda done, total: told.append((done, total)))
    with open_farm(folder) as store:
        yield Demo(store, report, told)
