"""What a row of the records holds, in words: titles in the place of ids, names in the place of numbers."""

import json
from calendar import day_name
from collections.abc import Callable
from functools import cache
from typing import Any

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import load_network
from feedwright.catalogue.procedures import load_procedures
from feedwright.farm.stores.spools import title as spool_title
from feedwright.farm.stores.stock import Fit, fit_words
from feedwright.records.reads import Reads
from feedwright.records.stores_values import Item, Spool
from feedwright.records.values import Fitting, Toolpath
from feedwright.units import BY_SUFFIX, unit_of

SECRET = ("secret", "hash", "token", "passphrase")
"""Columns that hold what nobody should read off a page."""
LONGEST = 200
YES_OR_NO = ("complete",)
IDS = ("kind", "outcome", "history", "drive", "hot_end", "step", "answer")
"""Columns that hold short ids where no title stands for them; in all others an underscore is the writer's own."""
ID_TABLES = ("case_entries", "machine_settings")
"""Tables whose name and value are such ids as well."""


class RecordWords:
    """Puts words in the place of ids and numbers, for the rows of one act."""

    def __init__(self, reads: Reads) -> None:
        self._reads = reads
        self._machines = {machine.id: machine.name for machine in reads.machines()}
        self._linked, self._part_kind = cache(self._name_of), cache(self._kind_of)

    def told(self, table: str, row: dict[str, Any], name: str) -> tuple[str, Any]:
        """One field of a row by its name: what it is called, and what it holds."""
        value = row[name]
        if value is not None and any(word in name for word in SECRET):
            return name, "kept out of sight"
        if value in (None, "", "[]", "{}"):
            return name, None
        if name.endswith("_id") or name == "replaced_by":
            return self._linked(name, value)
        if name == "grade":
            return name, self._grade(row["fitting_id"], value)
        return name, _in_words(table, row, name, value)

    def _name_of(self, name: str, number: int) -> tuple[str, str]:
        makers: dict[str, tuple[str, Callable[[int], str | None]]] = {
            "machine_id": ("machine", self._machines.get), "toolpath_id": ("file", self._file),
            "fitting_id": ("part", self._part), "replaced_by": ("replaced by", self._part),
            "spool_id": ("spool", self._spool), "item_id": ("item", self._item),
        }  # fmt: skip
        words, maker = makers.get(name, (name.removesuffix("_id").replace("_", " "), lambda _: None))
        return words, maker(number) or f"number {number}"

    def _file(self, number: int) -> str | None:
        found = self._reads.one(Toolpath, number)
        return found.name if found else None

    def _item(self, number: int) -> str | None:
        found = self._reads.one(Item, number)
        return found.name if found else None

    def _spool(self, number: int) -> str | None:
        found = self._reads.one(Spool, number)
        return spool_title(found) if found else None

    def _grade(self, number: int, grade: str) -> str:
        part_kind = self._part_kind(number)
        return load_catalogue().parts[part_kind].grade_title(grade) if part_kind else grade

    def _kind_of(self, number: int) -> str | None:
        fitting = self._reads.one(Fitting, number)
        return fitting.part_kind if fitting else None

    def _part(self, number: int) -> str | None:
        fitting = self._reads.one(Fitting, number)
        if fitting is None:
            return None
        title = load_catalogue().parts[fitting.part_kind].title.lower()
        where = f" {fitting.position}" if fitting.position > 1 else ""
        return f"{title}{where} on {self._machines.get(fitting.machine_id, '?')} (fitting {number})"


def _in_words(table: str, row: dict[str, Any], name: str, value: Any) -> Any:
    if isinstance(value, bytes):
        return f"{len(value):,} bytes"
    if name in YES_OR_NO:
        return "yes" if value else "no"
    if name == "weekday":
        return day_name[value]
    if not isinstance(value, str):
        return value
    if name == "unit" and value in BY_SUFFIX:
        return BY_SUFFIX[value].symbol
    is_id = name in IDS or (name in ("name", "value") and table in ID_TABLES)
    told = _title(table, row, name, value) or _opened(value) or (value.replace("_", " ") if is_id else value)
    return f"{told[:LONGEST]}…" if len(told) > LONGEST else told


def _title(table: str, row: dict[str, Any], name: str, value: str) -> str:
    """What the catalogue calls it; empty where it is no id of the catalogue."""
    if name == "fits":
        return "; ".join(fit_words(Fit(*held)) for held in json.loads(value))
    catalogue, network = load_catalogue(), load_network()
    if name == "product" and row["part_kind"] in catalogue.parts:
        product = catalogue.parts[row["part_kind"]].product(value)
        return product.title if product else ""
    asked = network.observations | network.circumstances | network.readings | network.checks | network.repairs
    entries: dict[str, Any] = {
        "material": catalogue.materials, "part_kind": catalogue.parts, "build": catalogue.builds,
        "cause": network.causes, "cure": network.repairs, "observation": network.observations,
        "name": asked if table == "case_entries" else {},
    }  # fmt: skip
    found = entries.get(name, {}).get(value)
    return found.title if found else ""


def _opened(value: str) -> str:
    """A list or table that is kept as JSON; empty where the text is none."""
    if not value.startswith(("[", "{", '"')):
        return ""
    try:
        return _plain(json.loads(value))
    except ValueError:
        return ""


def _plain(held: Any) -> str:
    if isinstance(held, dict):
        return "; ".join(_pair(name, one) for name, one in held.items())
    if isinstance(held, list):
        return ", ".join(_plain(one) for one in held)
    if isinstance(held, bool):
        return "yes" if held else "no"
    if isinstance(held, float):
        return f"{held:.4g}"
    entries: dict[str, Any] = load_procedures().procedures | load_catalogue().parts
    return entries[held].title if held in entries else str(held)


def _pair(name: str, held: Any) -> str:
    unit = unit_of(name)
    words = name.removesuffix(f"_{unit.suffix}" if unit else "").replace("_", " ")
    return f"{words}: {_plain(held)}{f' {unit.symbol}' if unit else ''}"
