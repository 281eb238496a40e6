"""Recording what happened to a machine outside its plain printing."""

from dataclasses import replace
from datetime import datetime
from typing import get_args

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import one_of, pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.machines.charging import charge_of_event, states_of
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.machines.totals import apply_charges
from feedwright.farm.parts.heat import with_heat
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Event, EventKind, Machine

HOTTEST_C = 450.0
"""What an event's nozzle may have been."""


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
    whose = machine_named(store, machine)
    event = event_of(whose, kind, moment(at_utc), nozzle_c=nozzle_c, minutes=minutes, material=material, note=note)
    with store.act("event", person_id=person_id(store, person)) as act:
        return add_within(act, whose, event)


def event_of(
    machine: Machine, kind: EventKind, at_utc: datetime, *, nozzle_c: float | None, minutes: float | None,
    material: str, note: str,
) -> Event:  # fmt: skip
    """The event as it will be written, checked, with what its heat did."""
    one_of("event", kind, get_args(EventKind))
    event = Event(
        machine_id=machine.id,
        kind=kind,
        at_utc=at_utc,
        nozzle_c=None if nozzle_c is None else within("nozzle temperature", nozzle_c, 0, HOTTEST_C, "°C"),
        minutes=None if minutes is None else within("minutes", minutes, 0, 100_000, "min"),
        material=pick_entry(load_catalogue().materials, material, "material").id if material else "",
        note=text("note", note),
    )
    return with_heat(event, machine)


def add_within(act: ActInHand, machine: Machine, event: Event) -> Event:
    """Write an event and charge its heat, within an act that may write more."""
    charge = charge_of_event(event, states_of(act, machine))
    apply_charges(act, load_catalogue(), machine, [] if charge is None else [charge])
    return replace(event, id=act.add(event), act_id=act.id)
