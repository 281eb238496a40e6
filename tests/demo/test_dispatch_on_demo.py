"""On the demo farm the proposals cost less than giving each print to the first free machine, and spoil fewer hours."""

import random
import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from tests.demo.conftest import MADE, Demo

from feedwright.demo.toolpath_maker import THINGS
from feedwright.farm.dispatch.dispatch import prices_of
from feedwright.farm.dispatch.stations import yard_of
from feedwright.farm.ground.house import open_farm
from feedwright.farm.prints.queue import add_to_queue
from feedwright.planning.dispatch import Reckoning, planned
from feedwright.planning.dispatch_search import first_free, plan


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_dispatch_beats_first_free_in_cost_and_in_spoiled_hours(demo: Demo, tmp_path: Path, seed: int) -> None:
    shutil.copytree(demo.store.folder, tmp_path / "farm")
    things = list(THINGS)
    random.Random(seed).shuffle(things)
    with open_farm(tmp_path / "farm") as store:
        lines = [
            add_to_queue(store, f"{thing.name}.gcode", material=thing.material, copies=max(1, thing.copies // 2))
            for thing in things
        ]
        yard = yard_of(store, [(line, line.left) for line in lines], MADE + timedelta(hours=1))
        reckoning = Reckoning([bay.station for bay in yard.bays], [job.asked for job in yard.jobs], prices_of(store))
    made, plain = plan(reckoning), planned(reckoning, first_free(reckoning))
    assert len(made.turns) == len(plain.turns)
    assert made.cost < plain.cost
    assert made.spoiled_h < plain.spoiled_h
