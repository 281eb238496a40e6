"""Reading toolpath files, and remembering what was read by its content."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from feedwright.errors import BadInput, BadToolpath, NotFound, StoreError
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import nearest, text
from feedwright.records.copies import KEPT, copy_of, keep_copy
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Machine, Toolpath
from feedwright.toolpath.values import MotionLimits, Reading

Progress = Callable[[int, int], None]
LONGEST_NAME = 255
"""Letters in the name of a file, on most systems."""


def read_toolpaths(
    paths: Sequence[Path],
    limits: MotionLimits,
    *,
    store: Store | None = None,
    progress: Progress | None = None,
    workers: int | None = None,
) -> list[Reading]:
    """Read files as one machine would execute them, in parallel, taking from the records what was read before.

    A refused file gives a reading that says why; a file that cannot be opened raises BadInput. With a
    store, results are kept by content, reader version and limits. ``progress`` is told bytes done and all.
    """
    from feedwright.toolpath.read import READER_VERSION, read_many

    sizes = {path: _size(path) for path in paths}
    done = 0
    readings: dict[Path, Reading] = {}
    if store is not None:
        for path in paths:
            known = store.reading(content_hash(path), READER_VERSION, limits)
            if known is not None:
                readings[path] = replace(known, name=path.name)

    def tell(path: Path) -> None:
        nonlocal done
        done += sizes[path]
        if progress is not None:
            progress(done, sum(sizes.values()))

    for path in readings:
        tell(path)
    left = [path for path in dict.fromkeys(paths) if path not in readings]
    for path, reading in read_many(left, limits, workers=workers, on_done=tell):
        readings[path] = reading
        if store is not None:
            store.keep_reading(reading, READER_VERSION, limits)
    return [readings[path] for path in paths]


def _size(path: Path) -> int:
    try:
        if not path.is_file():
            raise BadInput(str(path), expected="expected a file", remedy="check the path")
        return path.stat().st_size
    except OSError as error:
        raise BadInput(str(path), expected=error.strerror or "cannot be read", remedy="check the path") from error


def content_hash(path: Path) -> str:
    """SHA-256 of the file's bytes as they lie on disk."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise BadInput(str(path), expected=error.strerror or "cannot be read", remedy="check the path") from error


def keep_toolpath(
    store: Store, path: Path, *, name: str | None = None, machine: Machine | None = None
) -> tuple[Toolpath, Reading]:
    """Read a file, remember it by its content and keep a compressed copy in the farm's folder.

    Raises BadToolpath where it is not a filament toolpath. A file known already is not recorded twice.
    """
    reading = take_in(store, path, name=name, machine=machine)
    known = store.toolpath(reading.sha256)
    if known is not None:
        return known, reading
    with store.act("add toolpath") as act:
        return record_toolpath(act, reading), reading


def take_in(store: Store, path: Path, *, name: str | None = None, machine: Machine | None = None) -> Reading:
    """Read a file and keep a compressed copy of it, without recording it yet."""
    limits = machine.motion if machine else MotionLimits()
    reading = read_toolpaths([path], limits, store=store)[0]
    called = text("file name", name or path.name, LONGEST_NAME, lines=False, needed=True)
    if reading.duty is None:
        raise BadToolpath(
            called,
            place=f"read as: {reading.kind}",
            expected=reading.refused_because,
            remedy="give the G-code file that the printer prints",
        )
    try:
        keep_copy(store.folder, path, reading.sha256)
    except OSError as error:
        folder, words = str(store.folder / KEPT), error.strerror or str(error)
        raise StoreError(folder, expected=words, remedy="check the disk and its space") from error
    return replace(reading, name=called)


def record_toolpath(act: ActInHand, reading: Reading) -> Toolpath:
    """Remember what was read, within an act; what is known already is not recorded twice."""
    known = act.toolpath(reading.sha256)
    if known is not None:
        return known
    toolpath = Toolpath(
        sha256=reading.sha256,
        name=reading.name,
        bytes_count=reading.bytes_count,
        kind=reading.kind,
        complete=reading.complete,
        read_utc=moment(None),
    )
    return replace(toolpath, id=act.add(toolpath), act_id=act.id)


def known_toolpaths(store: Store) -> list[Toolpath]:
    """Every toolpath that was read and kept, latest first."""
    return sorted(store.toolpaths(), key=lambda toolpath: toolpath.read_utc, reverse=True)


def toolpath_named(store: Store, name: str) -> Toolpath:
    """The toolpath of that name, or whose content hash begins so; the latest where a name was used twice."""
    toolpaths = known_toolpaths(store)
    for toolpath in toolpaths:
        if name == toolpath.name or (len(name) >= 6 and toolpath.sha256.startswith(name.lower())):
            return toolpath
    names = [toolpath.name for toolpath in toolpaths]
    raise NotFound("toolpath", place=f"“{name}”", expected="none of that name is known", remedy=nearest(name, names))


def reading_for(store: Store, toolpath: Toolpath, machine: Machine | None) -> Reading:
    """The reading of a known toolpath, timed for a machine; read again from the kept copy where needed."""
    from feedwright.toolpath.read import READER_VERSION

    limits = machine.motion if machine else MotionLimits()
    known = store.reading(toolpath.sha256, READER_VERSION, limits)
    if known is not None:
        return known
    return _read_copy(store, kept_copy(store, toolpath), toolpath, limits)


def kept_copy(store: Store, toolpath: Toolpath) -> Path:
    """The compressed copy of a known toolpath; raises NotFound where it is gone."""
    copy = copy_of(store.folder, toolpath.sha256)
    if not copy.is_file():
        raise NotFound(
            "toolpath",
            place=toolpath.name,
            expected=f"its kept copy is no longer in {copy.parent}",
            remedy="add the file again",
        )
    return copy


def _read_copy(store: Store, copy: Path, toolpath: Toolpath, limits: MotionLimits) -> Reading:
    """Read the kept copy: it is known by the hash of the file it was made from, not by its own."""
    from feedwright.toolpath.read import READER_VERSION, read_file

    reading = replace(
        read_file(copy, limits), name=toolpath.name, sha256=toolpath.sha256, bytes_count=toolpath.bytes_count
    )
    store.keep_reading(reading, READER_VERSION, limits)
    return reading
