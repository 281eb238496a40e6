"""Photos are made small, upright and plain; they show parts and findings; what is no photo is refused."""

import io
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image

from feedwright.errors import BadInput, NotFound, StoreError
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.photos import LONGEST_SIDE_PX, clean_photo, photo_file, photos_by_entry, photos_of
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.voids import void
from feedwright.farm.service.service_visits import begin_visit, end_visit, enter, take_back, visit_sheet
from feedwright.records.backup import backup, restore
from feedwright.records.photo_values import Photo, PhotoSubject
from feedwright.records.store import Store, open_store

AT = datetime(2026, 4, 1, 9, tzinfo=UTC)
ORIENTATION, MAKER, GPS = 0x0112, 0x010F, 0x8825
"""Tags of Exif (CIPA DC-008)."""


def picture(kind: str = "JPEG", size: tuple[int, int] = (60, 40), **saving: object) -> bytes:
    """A picture, left half red and right half blue."""
    image = Image.new("RGB", size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    held = io.BytesIO()
    image.save(held, kind, **saving)
    return held.getvalue()


def of(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data)).convert("RGB")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_any_usual_photo_becomes_a_jpeg_of_the_same_picture(kind: str) -> None:
    clean = clean_photo(picture(kind))
    assert clean.data[:3] == b"\xff\xd8\xff"
    assert (clean.width_px, clean.height_px) == of(clean.data).size == (60, 40)
    red, _, blue = of(clean.data).getpixel((10, 20))
    assert (red > 200, blue < 60) == (True, True)


def test_nothing_but_the_picture_is_kept_and_it_stands_upright() -> None:
    """Exif (CIPA DC-008) orientation 6: to be turned a quarter clockwise; left half becomes the top."""
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKER] = 6, "somebody's phone"
    exif.get_ifd(GPS)[1] = "N"
    clean = clean_photo(picture(exif=exif, comment=b"a secret"))
    assert (clean.width_px, clean.height_px) == (40, 60)
    red, _, blue = of(clean.data).getpixel((20, 10))
    assert (red > 200, blue < 60) == (True, True)
    assert b"secret" not in clean.data
    assert b"somebody" not in clean.data
    assert not Image.open(io.BytesIO(clean.data)).getexif()


def test_a_large_photo_is_made_small_and_a_clear_one_lies_on_white() -> None:
    clean = clean_photo(picture(size=(5000, 3000)))
    assert (clean.width_px, clean.height_px) == (LONGEST_SIDE_PX, LONGEST_SIDE_PX * 3 // 5)
    held = io.BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(held, "PNG")
    assert min(of(clean_photo(held.getvalue()).data).getpixel((4, 4))) > 250


def huge() -> bytes:
    """A small file that says it is a picture of 20 000 by 20 000."""
    held = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(held, "PNG")
    return held.getvalue()


@pytest.mark.parametrize(
    "given",
    [b"<script>alert(1)</script>", b"", picture()[:200], b"\xff\xd8\xff" + bytes(400), huge(), bytes(26 * 1024 * 1024),
     picture("GIF"), picture("BMP"), b"<svg xmlns='http://www.w3.org/2000/svg'/>"],
    ids=["html", "empty", "cut", "noise", "huge", "long", "gif", "bmp", "svg"],
)  # fmt: skip
def test_what_is_no_photo_is_refused_and_nothing_is_kept(farm: Store, given: bytes) -> None:
    with pytest.raises(BadInput) as refused:
        clean_photo(given)
    assert refused.value.subject == "photo"
    assert refused.value.remedy
    number = begin_visit(farm, "Alder", ["trim_tube"], begun_utc=AT).id
    before = farm.counts()
    if given:
        with pytest.raises(BadInput):
            enter(farm, number, "trim_tube.look", entry_key="1", value={"grade": "ring"}, photo=given)
        assert farm.counts() == before
    assert not list((farm.folder / "photos").glob("*"))


def visited(farm: Store) -> int:
    """A whole visit with a photo at the look and at the cut."""
    number = begin_visit(farm, "Alder", ["trim_tube"], begun_utc=AT).id
    for screen in visit_sheet(farm, number).screens:
        step = screen.step.id
        value = {"trim_tube.look": {"grade": "ring"}, "trim_tube.cut": {"trimmed_mm": 15}}.get(step)
        photo = {"trim_tube.look": picture(), "trim_tube.cut": picture(size=(90, 50))}.get(step)
        enter(
            farm, number, step, entry_key=step, value=value, cautions_read=True, photo=photo,
            entered_utc=AT + timedelta(minutes=screen.number),
        )  # fmt: skip
    end_visit(farm, number)
    return number


def test_a_visit_ties_its_photos_to_the_finding_and_the_part(farm: Store) -> None:
    number = visited(farm)
    machine = visit_sheet(farm, number).machine
    assert sum(len(photos) for photos in photos_by_entry(farm, machine.id).values()) == 2
    held, (finding,) = photos_of(farm, machine.id), farm.findings()
    assert held.findings == {finding.id: (1,)}
    assert held.fittings == {finding.fitting_id: (1, 2)}
    photo, path = photo_file(farm, 1)
    assert path.read_bytes()[:3] == b"\xff\xd8\xff"
    assert photo.taken_utc == finding.found_utc


def test_a_backup_and_its_restore_hold_the_photos(farm: Store, tmp_path: Path) -> None:
    visited(farm)
    counts = backup(farm, tmp_path / "copy")
    assert counts["photos"] == counts["photo_files"] == 2
    restore(tmp_path / "copy", tmp_path / "back")
    with open_store(tmp_path / "back") as back:
        for number in (1, 2):
            assert photo_file(back, number)[1].read_bytes() == photo_file(farm, number)[1].read_bytes()


def test_a_second_photo_of_a_step_that_somebody_else_closed_is_kept(farm: Store) -> None:
    number = begin_visit(farm, "Alder", ["trim_tube"], begun_utc=AT).id
    grade = {"grade": "ring"}
    first = enter(farm, number, "trim_tube.look", entry_key="phone 1", value=grade, photo=picture())
    again = enter(farm, number, "trim_tube.look", entry_key="phone 1", value=grade, photo=picture())
    other = enter(farm, number, "trim_tube.look", entry_key="tablet 1", value=grade, photo=picture(size=(90, 30)))
    assert first == again == other
    assert [photo.visit_entry_id for photo in farm.every(Photo)] == [first.id, first.id]
    take_back(farm, number, "trim_tube.look")
    assert farm.every(Photo) == []
    enter(farm, number, "trim_tube.look", entry_key="phone 2", value=grade, photo=picture())
    assert len(farm.every(Photo)) == 1


def test_a_finding_by_itself_takes_a_photo(farm: Store) -> None:
    made = add_finding(farm, "Alder", "nozzle", grade="worn", photo=picture())
    (subject,) = farm.every(PhotoSubject)
    assert (subject.fitting_id, subject.finding_id) == (made.fitting_id, made.id)
    assert void(farm, "finding", made.id, "wrong machine") == f"Finding {made.id} is void."
    assert farm.every(PhotoSubject) == []
    assert len(farm.every(Photo)) == 1


def test_what_a_visit_wrote_is_voided_with_its_photos(farm: Store) -> None:
    number = visited(farm)
    removal = farm.removals()[-1]
    renew(farm, "Alder", "nozzle")
    void(farm, "renewal", removal.id, "not done")
    void(farm, "finding", farm.findings()[0].id, "not seen")
    void(farm, "photo", 1, "a face in it")
    with pytest.raises(NotFound):
        photo_file(farm, 1)
    void(farm, "visit", number, "a rehearsal")
    assert farm.every(Photo) == []


def test_a_photo_whose_file_is_gone_says_so(farm: Store) -> None:
    visited(farm)
    photo_file(farm, 1)[1].write_bytes(b"something else")
    with pytest.raises(StoreError, match="gone or damaged"):
        photo_file(farm, 1)


def test_steps_of_one_second_stay_in_order(farm: Store) -> None:
    """Two steps within one second: the look belongs to the old end, the cut ends it."""
    number = begin_visit(farm, "Alder", ["trim_tube"], begun_utc=AT).id
    at = AT + timedelta(minutes=5)
    for screen in visit_sheet(farm, number).screens:
        step = screen.step.id
        value = {"trim_tube.look": {"grade": "ring"}, "trim_tube.cut": {"trimmed_mm": 15}}.get(step)
        enter(farm, number, step, entry_key=step, value=value, cautions_read=True, entered_utc=at)
    entered = [entry for entry in farm.visit_entries(number) if entry.kind == "done"]
    moments = [entry.entered_utc for entry in entered]
    assert moments == sorted(set(moments))
    assert moments[-1] - at < timedelta(seconds=1)
    end_visit(farm, number)
    (finding,), (removal,) = farm.findings(), farm.removals()
    assert finding.fitting_id == removal.fitting_id
    assert finding.found_utc < removal.removed_utc
