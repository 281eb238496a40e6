"""Photos come back as they were, and what they show is not voided under them."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.records.test_engine import at_revision

from feedwright.errors import Conflict
from feedwright.records.photo_files import is_whole_photo, keep_photo_file, photo_path
from feedwright.records.photo_values import Photo, PhotoSubject
from feedwright.records.store import Store, open_store
from feedwright.records.values import Finding, Fitting, Machine, Visit, VisitEntry

AT = datetime(2026, 3, 1, 9, 30, 15, tzinfo=UTC)
SHA = "ab" * 32


@pytest.fixture
def photo(store: Store, machine: Machine, fitting: Fitting) -> Photo:
    with store.act("visit") as act:
        visit = act.add(Visit(machine.id, AT, json.dumps(["trim_tube"]), "pla"))
        entry = act.add(VisitEntry(visit, AT, "done", "device-1", "trim_tube.look"))
        number = act.add(Photo(machine.id, AT, SHA, 1234, 800, 600, entry, "a ring"))
        finding = act.add(Finding(fitting.id, AT, "ring"))
        act.add(PhotoSubject(machine.id, number, fitting.id, finding))
    return store.every(Photo)[0]


def test_a_photo_and_what_it_shows_come_back(store: Store, fitting: Fitting, photo: Photo) -> None:
    assert (photo.sha256, photo.bytes_count, photo.width_px, photo.height_px) == (SHA, 1234, 800, 600)
    assert (photo.taken_utc, photo.note) == (AT, "a ring")
    (subject,) = store.every(PhotoSubject, machine_id=photo.machine_id)
    assert (subject.photo_id, subject.fitting_id, subject.finding_id) == (photo.id, fitting.id, 1)


@pytest.mark.parametrize(
    ("kind", "words"),
    [(VisitEntry, "photos taken with it"), (Finding, "photos that show it"), (Photo, "what it shows"),
     (Fitting, "photos that show it|findings")],
)  # fmt: skip
def test_nothing_is_voided_under_a_photo(store: Store, photo: Photo, kind: type[object], words: str) -> None:
    with pytest.raises(Conflict, match=words), store.act("void", reason="a slip") as act:
        act.void(act.every(kind)[-1])


def test_a_farm_from_before_photos_takes_one(tmp_path: Path, store: Store, machine: Machine) -> None:
    """Migration 0010 on data: what was there stays, and photos can be added to it."""
    at_revision(tmp_path / "old", "0009")
    with open_store(tmp_path / "old") as old:
        with old.act("write") as act:
            number = act.add(machine)
            act.add(Photo(number, AT, SHA, 1, 1, 1))
        assert [one.machine_id for one in old.every(Photo)] == [number]


def test_a_file_is_kept_once_and_known_by_its_content(tmp_path: Path) -> None:
    sha256 = keep_photo_file(tmp_path, b"a picture")
    assert keep_photo_file(tmp_path, b"a picture") == sha256
    assert [held.name for held in (tmp_path / "photos").iterdir()] == [f"{sha256}.jpg"]
    assert is_whole_photo(photo_path(tmp_path, sha256), sha256)
    photo_path(tmp_path, sha256).write_bytes(b"another")
    assert not is_whole_photo(photo_path(tmp_path, sha256), sha256)
    assert not is_whole_photo(photo_path(tmp_path, "00" * 32), "00" * 32)
