"""Photos taken at the bench: made small and plain, kept on disk by their content, tied to what they show."""

import io
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from feedwright.errors import BadInput, NotFound, StoreError
from feedwright.farm.ground.naming import text
from feedwright.records.photo_files import is_whole_photo, keep_photo_file, photo_path
from feedwright.records.photo_values import Photo, PhotoSubject
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store

LONGEST_BYTES = 25 * 1024 * 1024
MOST_PIXELS = 80_000_000
"""A phone takes up to fifty million; beyond, a small file can ask for gigabytes of memory."""
LONGEST_SIDE_PX = 2000
"""Enough to see a scratch on a nozzle's tip."""
QUALITY = 85
FORMATS = ("JPEG", "PNG", "WEBP")
REMEDY = "take it again, or save it as JPEG"


@dataclass(frozen=True, slots=True)
class CleanPhoto:
    """A photo as it is kept: a JPEG of bounded size, upright, with nothing in it but the picture."""

    data: bytes
    width_px: int
    height_px: int


def clean_photo(given: bytes) -> CleanPhoto:
    """Read a photo as a picture and write it anew, so that only the picture is left: no place, no name, no program.

    Raises BadInput for what is no photo, is damaged, or is larger than anybody photographs.
    """
    from PIL import Image, ImageOps

    if len(given) > LONGEST_BYTES:
        raise _refused(f"{len(given) / 2**20:.0f} MB", f"expected at most {LONGEST_BYTES / 2**20:.0f} MB")
    try:
        with Image.open(io.BytesIO(given), formats=FORMATS) as image:
            if image.width * image.height > MOST_PIXELS:
                raise _refused(
                    f"{image.width} x {image.height}", f"expected {MOST_PIXELS / 1e6:.0f} megapixels at most"
                )
            image.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))  # a JPEG is decoded no larger than needed
            image.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
            upright = ImageOps.exif_transpose(image)
            plain = Image.new("RGB", upright.size, "white")
            seen = upright.convert("RGBA") if upright.mode in ("RGBA", "LA", "P", "PA") else upright.convert("RGB")
            plain.paste(seen, mask=seen.getchannel("A") if seen.mode == "RGBA" else None)
    except BadInput:
        raise
    except Exception as error:  # a decoder may fail in any way on bytes that mean harm
        raise _refused("", "it is no photo that can be read (JPEG, PNG or WebP), or it is damaged") from error
    written = io.BytesIO()
    plain.save(written, "JPEG", quality=QUALITY, optimize=True)
    return CleanPhoto(written.getvalue(), *plain.size)


def _refused(place: str, expected: str) -> BadInput:
    return BadInput("photo", place=place, expected=expected, remedy=REMEDY)


def keep_photo(store: Store, given: bytes) -> "KeptPhoto":
    """Clean a photo and bring it to disk, before the act that records it: what is acknowledged is there."""
    clean = clean_photo(given)
    try:
        sha256 = keep_photo_file(store.folder, clean.data)
    except OSError as error:
        words = error.strerror or str(error)
        raise StoreError("photo", expected=words, remedy="check the disk and its space") from error
    return KeptPhoto(sha256, len(clean.data), clean.width_px, clean.height_px)


@dataclass(frozen=True, slots=True)
class KeptPhoto:
    """A photo that lies on disk and is not on record yet."""

    sha256: str
    bytes_count: int
    width_px: int
    height_px: int


def record_photo(
    act: ActInHand,
    machine_id: int,
    kept: KeptPhoto,
    taken_utc: datetime,
    *,
    visit_entry_id: int | None = None,
    note: str = "",
) -> int:
    """Write within an act that a kept photo was taken; returns its number."""
    photo = Photo(
        machine_id, taken_utc, kept.sha256, kept.bytes_count, kept.width_px, kept.height_px, visit_entry_id,
        text("note", note),
    )  # fmt: skip
    return act.add(photo)


def photo_file(store: Store, number: int) -> tuple[Photo, Path]:
    """A photo and its file; refuses one that is not on record, and one whose file is gone or damaged."""
    photo = store.one(Photo, number)
    if photo is None:
        raise NotFound("photo", place=f"number {number}", expected="no such photo, or void", remedy="look at its visit")
    path = photo_path(store.folder, photo.sha256)
    if not is_whole_photo(path, photo.sha256):
        raise StoreError(
            "photo", place=f"number {number}", expected="its file is gone or damaged",
            remedy="bring it back from a backup, or void the photo",
        )  # fmt: skip
    return photo, path


def photos_by_entry(records: Reads, machine_id: int) -> dict[int, list[Photo]]:
    """A machine's photos by the entry of a visit that they were taken with."""
    found: dict[int, list[Photo]] = defaultdict(list)
    for photo in records.every(Photo, machine_id=machine_id):
        if photo.visit_entry_id is not None:
            found[photo.visit_entry_id].append(photo)
    return dict(found)


@dataclass(frozen=True, slots=True)
class PhotosOf:
    """Numbers of the photos that show each fitting and each finding of a machine."""

    fittings: dict[int, tuple[int, ...]]
    findings: dict[int, tuple[int, ...]]

    def without_finding(self, fitting_id: int) -> tuple[int, ...]:
        """Photos of a part that show no finding of it: those taken when it was renewed."""
        shown = {number for numbers in self.findings.values() for number in numbers}
        return tuple(number for number in self.fittings.get(fitting_id, ()) if number not in shown)


def photos_of(records: Reads, machine_id: int) -> PhotosOf:
    """Which photos show which parts and findings of a machine."""
    fittings, findings = defaultdict[int, list[int]](list), defaultdict[int, list[int]](list)
    for subject in records.every(PhotoSubject, machine_id=machine_id):
        fittings[subject.fitting_id].append(subject.photo_id)
        if subject.finding_id is not None:
            findings[subject.finding_id].append(subject.photo_id)
    return PhotosOf(*({key: tuple(held) for key, held in each.items()} for each in (fittings, findings)))


def tie(act: ActInHand, photos: Iterable[Photo], fitting_id: int, finding_id: int | None = None) -> None:
    """Write within an act that the photos show a part, and what was found of it."""
    for photo in photos:
        act.add(PhotoSubject(photo.machine_id, photo.id, fitting_id, finding_id))


def void_photos(act: ActInHand, machine_id: int, entry_ids: Collection[int]) -> None:
    """Void the photos that were taken with these entries."""
    for photo in act.every(Photo, machine_id=machine_id):
        if photo.visit_entry_id in entry_ids:
            void_photo(act, photo)


def void_photo(act: ActInHand, photo: Photo) -> None:
    """Void one photo, and what was said that it shows."""
    for subject in act.every(PhotoSubject, photo_id=photo.id):
        act.void(subject)
    act.void(photo)


def untie(act: ActInHand, *, fittings: Iterable[int] = (), findings: Iterable[int] = ()) -> None:
    """Void what was said that photos show of these parts or findings; the photos stay."""
    for fitting_id in fittings:
        for subject in act.every(PhotoSubject, fitting_id=fitting_id):
            act.void(subject)
    for finding_id in findings:
        for subject in act.every(PhotoSubject, finding_id=finding_id):
            act.void(subject)
