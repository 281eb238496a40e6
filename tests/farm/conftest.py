"""A small farm made once: every test works on its own copy of it."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.people import add_person
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.toolpaths.toolpaths import keep_toolpath
from feedwright.records.store import Store

SAMPLES = Path(__file__).parents[1] / "data" / "toolpaths"
BEGUN = datetime(2026, 3, 2, 8, tzinfo=UTC)


@pytest.fixture(scope="session")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three machines, two keepers, two known toolpaths, nothing printed yet."""
    folder = tmp_path_factory.mktemp("ground") / "farm"
    with open_farm(folder, create=True) as store:
        for name, build in (
            ("Alder", "moving_bed_remote"),
            ("Beech", "moving_bed_direct"),
            ("Hazel", "crossed_gantry_enclosed"),
        ):
            add_machine(store, name, build, history="new", at_utc=BEGUN)
        for name in ("Ines", "Tobias"):
            add_person(store, name)
        for file in ("d20.gcode", "d09.gcode.gz"):
            keep_toolpath(store, SAMPLES / file)
    return folder


@pytest.fixture
def farm(ground: Path, tmp_path: Path) -> Iterator[Store]:
    shutil.copytree(ground, tmp_path / "farm")
    with open_farm(tmp_path / "farm") as store:
        yield store
