"""Rows to values and back. Times are whole microseconds UTC in storage, so that they come back exactly."""

import dataclasses
import hashlib
import json
import zlib
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache, lru_cache
from typing import Any, TypeVar

from feedwright.records.values import Machine
from feedwright.toolpath.values import Duty, MotionLimits, Profile, Reading, Remark, Stretch

V = TypeVar("V")
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


def time_to_row(at_utc: datetime) -> int:
    """Microseconds since 1970 in UTC."""
    return (at_utc - EPOCH) // _MICROSECOND


def time_from_row(microseconds: int) -> datetime:
    """The aware time."""
    return EPOCH + timedelta(microseconds=microseconds)


def to_row(value: Any) -> dict[str, Any]:
    """A value's fields as columns; number and act are the store's to give."""
    row = {field.name: getattr(value, field.name) for field in dataclasses.fields(value)}
    row.pop("id", None)
    row.pop("act_id", None)
    for name, held in row.items():
        if isinstance(held, datetime):
            row[name] = time_to_row(held)
        elif isinstance(held, Stretch):
            row[name] = stretch_to_text(held)
        elif isinstance(held, Decimal):
            row[name] = str(held)
    return row


def from_row(kind: type[V], row: Mapping[Any, Any]) -> V:
    """The value of that class from a row that holds at least its columns."""
    columns = _columns_of(kind)  # type: ignore[arg-type]
    return kind(**{name: read(row[name]) if read else row[name] for name, read in columns})


@cache
def _columns_of(kind: type[Any]) -> tuple[tuple[str, Callable[[Any], Any] | None], ...]:
    """The fields of a value, each with how its column is read; None where it is kept as it is."""
    return tuple((field.name, _reader_of(field.name)) for field in dataclasses.fields(kind))


def _reader_of(name: str) -> Callable[[Any], Any] | None:
    if name.endswith("_utc"):
        return lambda at: None if at is None else time_from_row(at)
    if name.endswith("price"):
        return lambda price: None if price is None else Decimal(price)
    if name == "stretch":
        return lambda text: stretch_from_text(text) if text else None
    return bool if name == "complete" else None


def machine_to_rows(machine: Machine) -> tuple[dict[str, Any], dict[str, Any]]:
    """A machine's lasting row, and the row of its state from some moment on."""
    lasting = {"name": machine.name, "registered_utc": time_to_row(machine.registered_utc)}
    state = {
        "build": machine.build,
        "drive": machine.drive,
        "hot_end": machine.hot_end,
        "box_mm": json.dumps(machine.box_mm),
        "motion": motion_to_text(machine.motion),
        "tube_needed_mm": machine.tube_needed_mm,
        "enclosure_c": machine.enclosure_c,
        "note": machine.note,
    }
    return lasting, state


def machine_from_row(row: Mapping[Any, Any]) -> Machine:
    """A machine from its lasting row joined with one state."""
    return _machine(**{name: row[name] for name in _MACHINE_COLUMNS})


_MACHINE_COLUMNS = tuple(field.name for field in dataclasses.fields(Machine))


@lru_cache(maxsize=4096)
def _machine(box_mm: str, motion: str, registered_utc: int, **others: Any) -> Machine:
    """The machine of those columns; kept, since nearly every page asks for all of them."""
    x_mm, y_mm, z_mm = json.loads(box_mm)
    at_utc = time_from_row(registered_utc)
    return Machine(box_mm=(x_mm, y_mm, z_mm), motion=motion_from_text(motion), registered_utc=at_utc, **others)


def motion_to_text(motion: MotionLimits) -> str:
    """Motion limits as JSON, the same text for the same limits."""
    return json.dumps(dataclasses.asdict(motion), sort_keys=True, separators=(",", ":"))


@lru_cache(maxsize=1024)
def motion_from_text(text: str) -> MotionLimits:
    """Motion limits from JSON; limits that a later version added take their defaults."""
    held: dict[str, Any] = {name: tuple(v) if isinstance(v, list) else v for name, v in json.loads(text).items()}
    return MotionLimits(**held)


def limits_key(limits: MotionLimits) -> str:
    """A digest of motion limits, under which a reading is kept."""
    return hashlib.sha256(motion_to_text(limits).encode()).hexdigest()


def stretch_to_text(stretch: Stretch) -> str:
    """A stretch as JSON, without what is nought."""
    held = {name: value for name, value in dataclasses.asdict(stretch).items() if value}
    return json.dumps(held, separators=(",", ":"))


@lru_cache(maxsize=16384)
def stretch_from_text(text: str) -> Stretch:
    """A stretch from JSON; the very same one for the same text, since the same toolpath is printed over and over."""
    return _stretch(json.loads(text))


def _stretch(held: dict[str, Any]) -> Stretch:
    for name in ("nozzle_s", "bed_s"):
        if name in held:
            held[name] = tuple((at_c, seconds) for at_c, seconds in held[name])
    return Stretch(**held)


def reading_to_bytes(reading: Reading) -> bytes:
    """A whole reading, packed."""
    return zlib.compress(reading_to_text(reading).encode(), 6)


def reading_from_bytes(packed: bytes) -> Reading:
    """A reading as it was kept."""
    return reading_from_text(zlib.decompress(packed).decode())


def reading_to_text(reading: Reading) -> str:
    """A whole reading as JSON."""
    return json.dumps(dataclasses.asdict(reading), separators=(",", ":"))


def reading_from_text(text: str) -> Reading:
    """A reading from JSON."""
    held = json.loads(text)
    duty = held["duty"]
    if duty is not None:
        profile = duty["profile"]
        slices = tuple(_stretch(piece) for piece in profile["slices"])
        lists = {name: tuple(value) for name, value in profile.items() if name not in ("slices", "slice_s")}
        duty = {name: tuple(value) if isinstance(value, list) else value for name, value in duty.items()}
        duty["profile"] = Profile(slice_s=profile["slice_s"], slices=slices, **lists)
        duty["whole"] = _stretch(duty["whole"])
        held["duty"] = Duty(**duty)
    held["warnings"] = tuple(Remark(**remark) for remark in held["warnings"])
    return Reading(**held)
