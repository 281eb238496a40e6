"""One act of the books: what it wrote and took back, and which later act took back what it wrote."""

from dataclasses import dataclass
from typing import Any

from feedwright.errors import NotFound
from feedwright.farm.access.access_log import hands_by_name
from feedwright.farm.desk.record_words import RecordWords
from feedwright.farm.prints.voids import name_of_record
from feedwright.records.store import Store
from feedwright.records.values import Act

OWN = ("id", "act_id", "void_act_id")


@dataclass(frozen=True, slots=True)
class WrittenRecord:
    """One record as the act wrote it."""

    name: str
    """'run 12'."""
    number: int
    table: str
    fields: tuple[tuple[str, Any], ...]
    """What it holds, by name and in words; empty fields are left out."""
    wrote_act: int
    void_act: int | None
    """The act that took it back."""


@dataclass(frozen=True, slots=True)
class ActSheet:
    """One act and all that hangs on it."""

    act: Act
    person: str
    through: str
    """The device or browser over the network that it came through; empty for this machine itself."""
    wrote: tuple[WrittenRecord, ...]
    voided: tuple[WrittenRecord, ...]


def act_sheet(store: Store, number: int) -> ActSheet:
    """One act; refuses a number that no act has."""
    with store.snapshot() as reads:
        act = reads.one_act(number)
        if act is None:
            raise NotFound("act", place=f"number {number}", expected="no such act", remedy="list them with `acts`")
        words = RecordWords(reads)
        held = [_told(words, table, row) for table, row in reads.rows_of_act(number)]
        people = {person.id: person.name for person in reads.people()}
    return ActSheet(
        act, people.get(act.person_id or 0, ""), hands_by_name(store, [number]).get(number, ""),
        tuple(one for one in held if one.wrote_act == number),
        tuple(one for one in held if one.void_act == number and one.wrote_act != number),
    )  # fmt: skip


def _told(words: RecordWords, table: str, row: dict[str, Any]) -> WrittenRecord:
    fields = [words.told(table, row, name) for name in row if name not in OWN]
    shown = tuple(field for field in fields if field[1] is not None)
    return WrittenRecord(name_of_record(table, row["id"]), row["id"], table, shown, row["act_id"], row["void_act_id"])
