"""One act of the books: what it wrote and took back, and which later act took back what it wrote."""

from dataclasses import dataclass
from functools import cache, partial
from typing import Any

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import NotFound
from feedwright.farm.access_log import hands_by_name
from feedwright.farm.voids import name_of_record
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import Act, Fitting

OWN = ("id", "act_id", "void_act_id")
SECRET = ("secret", "hash", "token", "passphrase")
"""Columns that hold what nobody should read off a page."""
LONGEST = 200


@dataclass(frozen=True, slots=True)
class WrittenRecord:
    """One record as the act wrote it."""

    name: str
    """'run 12'."""
    number: int
    table: str
    fields: tuple[tuple[str, Any], ...]
    """What it holds, by name; empty fields are left out."""
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
        names = _Names(reads)
        held = [names.told(table, row) for table, row in reads.rows_of_act(number)]
        people = {person.id: person.name for person in reads.people()}
    return ActSheet(
        act, people.get(act.person_id or 0, ""), hands_by_name(store, [number]).get(number, ""),
        tuple(one for one in held if one.wrote_act == number),
        tuple(one for one in held if one.void_act == number and one.wrote_act != number),
    )  # fmt: skip


class _Names:
    """Puts names in the place of numbers."""

    def __init__(self, reads: Reads) -> None:
        self._machines = {machine.id: machine.name for machine in reads.machines()}
        self._fitting = cache(partial(reads.one, Fitting))

    def told(self, table: str, row: dict[str, Any]) -> WrittenRecord:
        """One row as a record."""
        fields = [self._field(name, value) for name, value in row.items() if name not in OWN]
        shown = tuple(field for field in fields if field[1] not in (None, ""))
        return WrittenRecord(
            name_of_record(table, row["id"]), row["id"], table, shown, row["act_id"], row["void_act_id"]
        )

    def _field(self, name: str, value: Any) -> tuple[str, Any]:
        if value is not None and any(word in name for word in SECRET):
            return name, "kept out of sight"
        if name == "machine_id" and value in self._machines:
            return "machine", self._machines[value]
        if name in ("fitting_id", "replaced_by") and value and (fitting := self._fitting(value)):
            title = load_catalogue().parts[fitting.part_kind].title.lower()
            where = f" {fitting.position}" if fitting.position > 1 else ""
            words = f"{title}{where} on {self._machines.get(fitting.machine_id, '?')} (fitting {value})"
            return {"fitting_id": "part", "replaced_by": "replaced by"}[name], words
        if isinstance(value, bytes):
            return name, f"{len(value):,} bytes"
        if isinstance(value, str) and len(value) > LONGEST:
            return name, f"{value[:LONGEST]}…"
        return name, value
