"""The ways that work beside the pages follow the settings while those are served."""

import gzip
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from real_broker import PASSWORD, USER, RealBroker

from feedwright.farm.exchange.ways import Broker, listening, set_broker, watching
from feedwright.farm.ground.house import open_farm
from feedwright.farm.toolpaths.arrivals import arrivals, set_watched_folder
from feedwright.link.alongside import Alongside
from feedwright.records.store import Store

Open = Callable[[], AbstractContextManager[Store]]
CLIP = gzip.decompress((Path(__file__).parents[1] / "data" / "toolpaths" / "d14.gcode.gz").read_bytes())
pytestmark = pytest.mark.filterwarnings("default::DeprecationWarning", "default::ResourceWarning")


def until(holds: Callable[[], bool], within_s: float = 25) -> None:
    end = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.1)


def test_settings_begin_and_end_the_ways(yard: Open, broker: RealBroker, tmp_path: Path) -> None:
    saved = tmp_path / "saved"
    saved.mkdir()
    with yard() as store, Alongside(store.folder):
        set_watched_folder(store, str(saved))
        set_broker(store, Broker("127.0.0.1", broker.port, USER), password=PASSWORD)
        (saved / "clip.gcode").write_bytes(CLIP)
        until(lambda: len(arrivals(store).offers) == 1)
        until(lambda: (state := listening(store)) is not None and state.connected)
        set_watched_folder(store, "")
        set_broker(store, None)
        until(lambda: not watching(store).alive)  # type: ignore[union-attr]
        until(lambda: not listening(store).alive)  # type: ignore[union-attr]
        set_watched_folder(store, str(saved))
        until(lambda: watching(store).alive)  # type: ignore[union-attr]
    with yard() as store:
        state = watching(store)
        assert state is not None
        assert not state.alive, "it says that it ended"


def test_a_farm_that_is_not_there_yet_is_waited_for(tmp_path: Path) -> None:
    with Alongside(tmp_path / "later"):
        time.sleep(0.3)
        assert not (tmp_path / "later").exists()
        with open_farm(tmp_path / "later", create=True) as store:
            saved = tmp_path / "saved"
            saved.mkdir()
            set_watched_folder(store, str(saved))
            until(lambda: (state := watching(store)) is not None and state.alive)
