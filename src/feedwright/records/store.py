"""The farm's memory: one writer's transaction per act, plain reads of values.

What an act wrote is on disk when its ``with`` block has ended. Nothing is deleted; a mistake is voided.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

from sqlalchemy import Connection, Engine, insert
from sqlalchemy.dialects.sqlite import insert as upsert

from feedwright.records import rows, tables
from feedwright.records.access import AccessRecords, write_hand
from feedwright.records.access_values import Hand
from feedwright.records.act import ActInHand, last_number
from feedwright.records.bookkeeping import Bookkeeping
from feedwright.records.engine import FILE_NAME, open_engine, refusing
from feedwright.records.reads import OneMoment, Reads
from feedwright.toolpath.values import MotionLimits, Reading

__all__ = ["ActInHand", "Store", "open_store"]


def open_store(folder: Path, *, create: bool = False) -> "Store":
    """Open the farm in that folder; raises StoreError with the remedy where that cannot be."""
    return Store(folder, open_engine(folder, create=create))


class Store(Reads):
    """The open records of one farm; a context manager."""

    def __init__(self, folder: Path, engine: Engine) -> None:
        self.folder = folder
        self._engine = engine
        self.hand = Hand()
        """Whose hand the acts to come are; nobody's in particular at the machine itself."""
        self.waits = True
        """False for a page of a farm with a keeper: of a large one it shows what was worked out last."""

    def __enter__(self) -> "Store":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database file."""
        self._engine.dispose()

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with refusing(self.folder / FILE_NAME), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def snapshot(self) -> Iterator[Reads]:
        """Reads that all see the records as they were at the first of them, whatever others write meanwhile."""
        with self._reading() as connection, connection.begin():
            yield OneMoment(connection, self.folder)

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        with (
            refusing(self.folder / FILE_NAME),
            self._engine.connect().execution_options(writes=True) as connection,
            connection.begin(),
        ):
            yield connection

    @property
    def access(self) -> AccessRecords:
        """What is kept of who may do what."""
        return AccessRecords(self._reading, self._writing)

    @property
    def ways(self) -> Bookkeeping:
        """What is kept of the ways in and out besides records."""
        return Bookkeeping(self._reading, self._writing)

    @contextmanager
    def act(
        self, kind: str, *, person_id: int | None = None, reason: str = "", at_utc: datetime | None = None
    ) -> Iterator[ActInHand]:
        """One act: commits on a clean end, leaves nothing behind otherwise.

        It carries the hand it was done by. An entry key marks one act alone: raises Conflict where it marked another.
        """
        moment = at_utc or datetime.now(UTC)
        who = self.hand.person_id if person_id is None else person_id
        row = {"kind": kind, "at_utc": rows.time_to_row(moment), "person_id": who, "reason": reason}
        with self._writing() as connection:
            number = last_number(connection.execute(insert(tables.acts).values(**row)))
            write_hand(connection, number, self.hand)
            yield ActInHand(connection, self.folder, number, moment)
        self.hand = replace(self.hand, entry_key="", request_sha256="")

    def keep_reading(self, reading: Reading, reader_version: str, limits: MotionLimits) -> None:
        """Keep a reading; not a record, so that it needs no act."""
        row = {
            "sha256": reading.sha256,
            "reader_version": reader_version,
            "limits_key": rows.limits_key(limits),
            "reading": rows.reading_to_bytes(reading),
        }
        with self._writing() as connection:
            connection.execute(upsert(tables.readings).values(**row).on_conflict_do_nothing())
