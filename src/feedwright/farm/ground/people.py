"""The people who keep the machines."""

from feedwright.errors import Conflict
from feedwright.farm.ground.naming import NAME, pick, text
from feedwright.records.store import Store
from feedwright.records.values import Person


def add_person(store: Store, name: str) -> Person:
    """Remember somebody; refuses an empty or a known name."""
    name = text("name", name, NAME, lines=False, needed=True)
    with store.act("add person") as act:
        if any(known.name.casefold() == name.casefold() for known in act.people()):
            raise Conflict("name", place=f"“{name}”", expected="this person is known already", remedy="add a surname")
        number = act.add(Person(name))
    return Person(name, number, act.id)


def people(store: Store) -> list[Person]:
    """Everybody who is known, by name."""
    return sorted(store.people(), key=lambda person: person.name.casefold())


def person_named(store: Store, name: str) -> Person:
    """The person of that name."""
    return pick({person.name: person for person in store.people()}, name, "person")


def person_id(store: Store, name: str | None) -> int | None:
    """Who did it, where that was said."""
    return None if name is None else person_named(store, name).id
