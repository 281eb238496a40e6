"""Recording what happened to a machine outside its plain printing."""

from dataclasses import replace
from datetime import datetime
from typing import get_args

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.charging import charge_of_event, states_of
from feedwright.farm.heat import with_heat
from feedwright.farm.house import moment
from feedwright.farm.machines import machine_named
from feedwright.farm.naming import one_of, pick_entry, text, within
from feedwright.farm.people import person_id
from feedwright.farm.totals import apply_charges
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
    """Record a power cut, a stalled fan and the like; the heat that crept up the feed path is charged to the parts."""
    one_of("event", kind, get_args(EventKind))
    whose = machine_named(store, machine)
    event = Event(
        machine_id=whose.id,
        kind=kind,
        at_utc=moment(at_utc),
        nozzle_c=None if nozzle_c is None else within("nozzle temperature", nozzle_c, 0, 450, "°C"),
        minutes=None if minutes is None else within("minutes", minutes, 0, 100_000, "min"),
        material=pick_entry(load_catalogue().materials, material, "material").id if material else "",
        note=text("note", note),
    )
    event = with_heat(event, whose)
    with store.act("event", person_id=person_id(store, person)) as act:
        charge = charge_of_event(event, states_of(act, whose))
        apply_charges(act, load_catalogue(), whose, [] if charge is None else [charge])
        number = act.add(event)
    return replace(event, id=number, act_id=act.id)
