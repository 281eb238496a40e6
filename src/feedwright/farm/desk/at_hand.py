"""A machine that somebody stands before, phone in hand: how it stands, and the three things they likeliest want."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from feedwright.farm.desk.sheets import pressing
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.prints.prints import UnderWay, under_way
from feedwright.farm.service.releases import held
from feedwright.records.store import Store
from feedwright.records.values import Machine, Visit

Wish = Literal[
    "continue visit", "finish print", "spoil print", "start print", "look at part", "plan visit", "open case",
    "tell event", "see machine",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class AtHand:
    """One machine as it stands."""

    machine: Machine
    visit: Visit | None
    """The visit for which it is held."""
    under_way: UnderWay | None
    """The print on it."""
    pressing: FittedPart | None
    """The part that asks for service, if one does."""
    wishes: tuple[Wish, Wish, Wish]
    """The likeliest first."""


def at_hand(store: Store, name: str, now_utc: datetime) -> AtHand:
    """How the machine of that name stands."""
    machine = machine_named(store, name)
    visit = held(store, machine)
    on = next((one for one in under_way(store) if one.machine.id == machine.id), None)
    parts = sorted(fitted_parts(store, now_utc, machines=[machine]), key=pressing)
    due = next((part for part in parts[:1] if part.advice.status in ("service now", "service soon")), None)
    return AtHand(machine, visit, on, due, _wishes(visit is not None, on is not None, due))


def _wishes(in_service: bool, printing: bool, due: FittedPart | None) -> tuple[Wish, Wish, Wish]:
    if in_service:
        return "continue visit", "open case", "see machine"
    if printing:
        return "finish print", "spoil print", "tell event"
    if due is not None and due.advice.status == "service now":
        return "look at part", "plan visit", "start print"
    if due is not None:
        return "start print", "look at part", "open case"
    return "start print", "open case", "see machine"
