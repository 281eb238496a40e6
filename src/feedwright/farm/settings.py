"""The farm's own name, zone and figures; the catalogue's figures hold where the farm has said nothing."""

import json
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from feedwright.catalogue.entry import Figures, Sourced
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.naming import nearest, pick_entry, within
from feedwright.farm.people import person_id
from feedwright.records.store import Store
from feedwright.records.values import Setting

OWN_FIGURE = "farm"
"""Source mark of a figure the farm has set itself."""


def _read(store: Store, name: str, otherwise: Any) -> Any:
    held = store.settings()
    return json.loads(held[name]) if name in held else otherwise


def _write(store: Store, name: str, value: Any, person: str | None) -> None:
    with store.act("set", person_id=person_id(store, person)) as act:
        act.add(Setting(name, json.dumps(value)))


def farm_name(store: Store) -> str:
    """What the farm calls itself."""
    return str(_read(store, "name", "My farm"))


def set_farm_name(store: Store, name: str, *, person: str | None = None) -> None:
    """Give the farm a name."""
    if not name.strip():
        raise BadInput("name", expected="expected a name for the farm", remedy="give one or more letters")
    _write(store, "name", name.strip(), person)


def zone(store: Store) -> ZoneInfo:
    """The zone in which pages and commands show times."""
    return ZoneInfo(str(_read(store, "zone", "UTC")))


def set_zone(store: Store, name: str, *, person: str | None = None) -> None:
    """Choose the zone by its IANA name."""
    if name not in available_timezones():
        remedy = nearest(name, available_timezones())
        raise BadInput("zone", place=f"“{name}”", expected="expected an IANA zone such as Europe/Vienna", remedy=remedy)
    _write(store, "zone", name, person)


def figures(store: Store) -> Figures:
    """The figures in force: the farm's own where it has set one, else the catalogue's."""
    base, held = load_catalogue().figures, store.settings()
    own = {name: _own(sourced, held.get(f"figure.{name}")) for name, sourced in base.numbers.items()}
    currency = json.loads(held["currency"]) if "currency" in held else base.currency
    return replace(base, currency=currency, numbers=own)


def _own(base: Sourced, text: str | None) -> Sourced:
    if text is None:
        return base
    value = float(json.loads(text))
    return Sourced(value, value, value, base.unit, OWN_FIGURE, note="set by this farm")


def set_figure(store: Store, name: str, value: float, *, person: str | None = None) -> Sourced:
    """Set one of the farm's own figures; refuses an unknown name and a number that is not one."""
    numbers = load_catalogue().figures.numbers
    spelt = pick_entry({known: known for known in numbers}, name, "figure")
    within(spelt, value, 0.0, 1e9)
    _write(store, f"figure.{spelt}", value, person)
    return figures(store).numbers[spelt]


def set_currency(store: Store, code: str, *, person: str | None = None) -> None:
    """Choose the currency the farm reckons in, by its ISO 4217 code."""
    if not (len(code) == 3 and code.isascii() and code.isalpha()):
        raise BadInput(
            "currency", place=f"“{code}”", expected="expected three letters (ISO 4217)", remedy="such as EUR"
        )
    _write(store, "currency", code.upper(), person)
