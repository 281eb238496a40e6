"""Shelves of spools: the places that spools were put, and what lies on each."""

from feedwright.errors import NotFound
from feedwright.farm.ground.naming import nearest
from feedwright.farm.stores.spools import SpoolSheet, spools
from feedwright.records.store import Store


def shelves(store: Store) -> list[str]:
    """Every place that a spool was ever put, by name."""
    return sorted(store.places_of_spools(), key=str.casefold)


def shelf_named(store: Store, name: str) -> str:
    """The shelf of that name as it is written, whatever the letter case; refuses with the nearest names."""
    known = {place.casefold(): place for place in shelves(store)}
    if name.casefold() in known:
        return known[name.casefold()]
    raise NotFound("shelf", place=f"“{name}”", expected="no spool was put there", remedy=nearest(name, known.values()))


def spools_on(store: Store, shelf: str) -> list[SpoolSheet]:
    """The spools that lie on a shelf and are not empty."""
    return [one for one in spools(store) if one.place == shelf and one.machine is None and not one.empty]
