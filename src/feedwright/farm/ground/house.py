"""Where a farm lives and how it is opened; the moment an act happened."""

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

from feedwright.errors import BadInput
from feedwright.records.store import Store, open_store

FARM_VARIABLE = "FEEDWRIGHT_FARM"
EARLIEST, AHEAD = datetime(2000, 1, 1, tzinfo=UTC), timedelta(minutes=5)
"""What a record may be dated: clocks differ by some minutes (assumed)."""


def _data_folder() -> Path:
    from platformdirs import user_data_path

    return user_data_path("feedwright", appauthor=False)


def farm_folder(given: Path | None = None) -> Path:
    """The folder that holds the farm: the one given, else the environment's, else the user's own."""
    if given is not None:
        return given
    named = os.environ.get(FARM_VARIABLE)
    return Path(named) if named else _data_folder() / "farm"


def demo_folder() -> Path:
    """Where the invented demo farm is kept, apart from the user's own."""
    named = os.environ.get(FARM_VARIABLE)
    if not named:
        return _data_folder() / "demo"
    own = Path(named).resolve()
    return own.parent / f"{own.name}-demo"


def has_farm(folder: Path) -> bool:
    """True where a farm's records lie in that folder."""
    return (folder / "farm.sqlite").is_file()


def open_farm(folder: Path, *, create: bool = False) -> Store:
    """The farm's records, to be used as a context manager; ``create`` makes an empty farm where none is."""
    return open_store(folder, create=create)


def moment(at_utc: datetime | None, what: str = "time") -> datetime:
    """The time an act is recorded for: now, or the aware time given, to the whole second in UTC.

    ``what`` is how a refusal calls it; what is still to come cannot be recorded.
    """
    if at_utc is None:
        return datetime.now(UTC).replace(microsecond=0)
    if at_utc.tzinfo is None:
        raise BadInput(
            what,
            place=str(at_utc),
            expected="expected a time with its zone",
            remedy="give it in UTC, such as 2026-03-01T14:00Z",
        )
    if not EARLIEST <= at_utc <= datetime.now(UTC) + AHEAD:
        raise BadInput(
            what,
            place=f"{at_utc:%Y-%m-%d %H:%M%z}",
            expected="expected a time from 2000 until now",
            remedy="correct the date and its zone; what is still to come cannot be recorded",
        )
    return at_utc.astimezone(UTC).replace(microsecond=0)
