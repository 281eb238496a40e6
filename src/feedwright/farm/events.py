"""Recording what happened to a machine outside its plain printing."""

from datetime import datetime
from typing import get_args

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.charging import apply_charge, charge_of_event, fitted_at
from feedwright.farm.house import moment
from feedwright.farm.machines import machine_named
from feedwright.farm.naming import nearest, pick_entry, within
from feedwright.farm.people import person_id
from feedwright.farm.totals import exposures
from feedwright.records.store import Store
from feedwright.records.values import Event, EventKind


def add_event(
    store: Store,
    machine: str,
    kind: EventKind,
    *,
    at_utc: datetime | None = None,
    nozzle_c: float | None = None,
    minutes: float | None = None,
    material: str = "",
    note: str = "",
    person: str | None = None,
) -> Event:
    """Record a power cut, a stalled fan and the like; minutes spent hot are charged to the parts."""
    if kind not in get_args(EventKind):
        raise BadInput(
            "event",
            place=f"“{kind}”",
            expected="expected one of " + ", ".join(get_args(EventKind)),
            remedy=nearest(kind, get_args(EventKind)),
        )
    whose = machine_named(store, machine)
    event = Event(
        machine_id=whose.id,
        kind=kind,
        at_utc=moment(at_utc),
        nozzle_c=None if nozzle_c is None else within("nozzle temperature", nozzle_c, 0, 500, "°C"),
        minutes=None if minutes is None else within("minutes", minutes, 0, 100_000, "min"),
        material=pick_entry(load_catalogue().materials, material, "material").id if material else "",
        note=note,
    )
    exposures(store, [whose])
    removals = {removal.fitting_id: removal for removal in store.removals(whose.id)}
    fittings = fitted_at(store.fittings(whose.id), removals, event.at_utc)
    charge = charge_of_event(event)
    with store.act("event", person_id=person_id(store, person)) as act:
        event_id = act.add(event)
        if charge is not None:
            apply_charge(act, load_catalogue(), whose, fittings, charge, 1)
    return next(kept for kept in store.events(whose.id) if kept.id == event_id)
