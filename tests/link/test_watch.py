"""The watched folder: what settles is taken once, what is half-written or out of bounds is not."""

import gzip
import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest

from feedwright.errors import BadInput, Conflict
from feedwright.farm.exchange.ways import watching
from feedwright.farm.ground.house import open_farm
from feedwright.farm.prints.voids import void
from feedwright.farm.toolpaths.arrivals import (
    answer_arrival,
    arrivals,
    put_all_aside,
    set_watched_folder,
    watched_folder,
)
from feedwright.farm.toolpaths.toolpaths import keep_toolpath
from feedwright.link.watch import AGAIN_S, SETTLED_S, Folder, take_settled, watch
from feedwright.records.exchange_values import Arrival
from feedwright.records.store import Store

SAMPLES = Path(__file__).parents[1] / "data" / "toolpaths"
CLIP = gzip.decompress((SAMPLES / "d14.gcode.gz").read_bytes())
Open = Callable[[], AbstractContextManager[Store]]


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    folder = tmp_path / "saved"
    folder.mkdir()
    return folder


@pytest.fixture
def opened(tmp_path: Path) -> Open:
    def opening() -> AbstractContextManager[Store]:
        return open_farm(tmp_path / "farm", create=True)

    return opening


@pytest.fixture
def store(opened: Open) -> Iterator[Store]:
    with opened() as held:
        yield held


def looked(folder: Folder, opened: Open, *at_s: float) -> list[Arrival]:
    told: list[Arrival] = []
    for now_s in at_s:
        take_settled(folder, opened, now_s, told.append)
    return told


def test_a_file_is_taken_once_it_rests_and_then_never_again(saved: Path, opened: Open, store: Store) -> None:
    (saved / "clip.gcode").write_bytes(CLIP)
    folder = Folder(saved)
    assert looked(folder, opened, 0.0, SETTLED_S - 0.1) == []
    (taken,) = looked(folder, opened, SETTLED_S)
    assert (taken.name, taken.refused) == ("clip.gcode", "")
    assert looked(folder, opened, 10.0, 100.0) == []
    (offer,) = arrivals(store).offers
    assert offer.toolpath.sha256 == taken.sha256
    assert looked(Folder(saved), opened, 0.0, 5.0) == [], "after a restart it is known by its content"


def test_a_file_that_grows_is_waited_for(saved: Path, opened: Open) -> None:
    folder, path = Folder(saved), saved / "clip.gcode"
    for second, share in enumerate((0.2, 0.5, 0.8, 1.0)):
        path.write_bytes(CLIP[: int(len(CLIP) * share)])
        assert looked(folder, opened, float(second)) == []
    (taken,) = looked(folder, opened, 3.0 + SETTLED_S)
    assert taken.bytes_count == len(CLIP)


def test_a_file_that_stalled_half_written_is_replaced_by_the_whole_one(saved: Path, opened: Open, store: Store) -> None:
    folder, path = Folder(saved), saved / "clip.gcode"
    path.write_bytes(CLIP[: len(CLIP) // 2])
    looked(folder, opened, 0.0, 3.0)
    part = saved / "clip.part"
    part.write_bytes(CLIP)
    part.replace(path)
    looked(folder, opened, 4.0, 7.0)
    (offer,) = arrivals(store).offers
    assert offer.arrival.bytes_count == len(CLIP)


def test_a_file_written_to_while_it_is_copied_is_left_for_later(saved: Path, tmp_path: Path) -> None:
    folder, path = Folder(saved), saved / "clip.gcode"
    path.write_bytes(CLIP)
    folder.settled(0.0)
    path.write_bytes(CLIP + b"\n; more")
    assert not folder.copy_out("clip.gcode", tmp_path / "copy")
    path.unlink()
    assert not folder.copy_out("clip.gcode", tmp_path / "copy")


def test_refused_kinds_are_listed_with_the_reason(saved: Path, opened: Open, store: Store) -> None:
    (saved / "mesh.stl").write_bytes(b"solid clip\nfacet normal 0 0 0\n" * 20)
    (saved / "notes.txt").write_text("bring more filament\n")
    looked(Folder(saved), opened, 0.0, 3.0)
    assert arrivals(store).offers == ()
    refused = {one.name: one.refused for one in arrivals(store).refused}
    assert refused.keys() == {"mesh.stl", "notes.txt"}
    assert all(refused.values())


def test_empty_hidden_and_unfinished_files_and_folders_are_passed_over(saved: Path, opened: Open) -> None:
    for name in (".clip.gcode", "~clip.gcode", "clip.gcode.part", "CLIP.TMP"):
        (saved / name).write_bytes(CLIP)
    (saved / "empty.gcode").touch()
    (saved / "inner").mkdir()
    (saved / "inner" / "clip.gcode").write_bytes(CLIP)
    assert looked(Folder(saved), opened, 0.0, 3.0) == []


def test_a_link_is_never_followed(saved: Path, opened: Open, tmp_path: Path, store: Store) -> None:
    outside = tmp_path / "outside.gcode"
    outside.write_bytes(CLIP)
    (saved / "clip.gcode").symlink_to(outside)
    folder = Folder(saved)
    assert looked(folder, opened, 0.0, 3.0) == []
    assert "link" in folder.troubles["clip.gcode"]
    (saved / "swap.gcode").write_bytes(CLIP)
    folder.settled(4.0)
    (saved / "swap.gcode").unlink()
    (saved / "swap.gcode").symlink_to(outside)
    with pytest.raises(OSError, match="symbolic links"):
        folder.copy_out("swap.gcode", tmp_path / "copy")
    assert store.every(Arrival) == []


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read_is_named_and_tried_again(saved: Path, opened: Open) -> None:
    path = saved / "clip.gcode"
    path.write_bytes(CLIP)
    path.chmod(0)
    folder = Folder(saved)
    assert looked(folder, opened, 0.0, 3.0) == []
    assert "denied" in folder.troubles["clip.gcode"].lower()
    path.chmod(0o600)
    assert len(looked(folder, opened, 4.0, 4.0 + AGAIN_S)) == 1
    assert folder.troubles == {}


def test_trouble_with_one_file_keeps_no_other_from_being_taken(
    saved: Path, opened: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    (saved / "a.gcode").write_bytes(CLIP)
    (saved / "b.gcode").write_bytes(CLIP + b"\n")
    folder = Folder(saved)
    whole = Folder.copy_out

    def fails_once(self: Folder, name: str, target: Path) -> bool:
        if name == "a.gcode":
            raise PermissionError(13, "Permission denied")
        return whole(self, name, target)

    monkeypatch.setattr(Folder, "copy_out", fails_once)
    assert [one.name for one in looked(folder, opened, 0.0, 3.0)] == ["b.gcode"]
    assert folder.troubles == {"a.gcode": "Permission denied"}


def test_what_the_farm_knew_already_is_not_offered(saved: Path, opened: Open, store: Store) -> None:
    (saved / "clip.gcode").write_bytes(CLIP)
    keep_toolpath(store, saved / "clip.gcode")
    assert looked(Folder(saved), opened, 0.0, 3.0) == []


def test_an_answer_ends_the_offer_and_holds(saved: Path, opened: Open, store: Store) -> None:
    (saved / "clip.gcode").write_bytes(CLIP)
    (taken,) = looked(Folder(saved), opened, 0.0, 3.0)
    first = answer_arrival(store, taken.id, "printed")
    assert answer_arrival(store, taken.id, "printed") == first
    assert arrivals(store).offers == ()
    with pytest.raises(Conflict, match="printed"):
        answer_arrival(store, taken.id, "put_aside")
    void(store, "arrival_answer", first.id, "a slip")
    assert len(arrivals(store).offers) == 1
    (saved / "notes.txt").write_text("no toolpath")
    looked(Folder(saved), opened, 0.0, 3.0)
    assert put_all_aside(store) == 2
    assert arrivals(store).refused == ()


def test_watching_outlives_a_folder_that_vanishes(saved: Path, opened: Open, store: Store) -> None:
    stop, told = threading.Event(), []
    thread = threading.Thread(target=watch, args=(opened, saved, stop), kwargs={"tell": told.append}, daemon=True)
    shutil.rmtree(saved)
    thread.start()
    try:
        _until(lambda: (state := watching(store)) is not None and "cannot be looked at" in state.problem)
        saved.mkdir()
        (saved / "clip.gcode").write_bytes(CLIP)
        _until(lambda: bool(told))
        _until(lambda: (state := watching(store)) is not None and state.alive and not state.problem)
    finally:
        stop.set()
        thread.join(10)


def _until(holds: Callable[[], bool], within_s: float = 15) -> None:
    until = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < until, "it did not come about in time"
        time.sleep(0.1)


def test_the_folder_is_a_setting_and_the_farms_own_is_refused(saved: Path, store: Store) -> None:
    assert watched_folder(store) is None
    assert set_watched_folder(store, str(saved)) == saved.resolve() == watched_folder(store)
    set_watched_folder(store, "")
    assert watched_folder(store) is None
    for wrong in (store.folder, store.folder / "toolpaths", saved / "none"):
        with pytest.raises(BadInput):
            set_watched_folder(store, str(wrong))
