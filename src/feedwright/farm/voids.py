"""Taking back a record that was a mistake: it stays, marked void with the reason."""

from collections.abc import Callable
from typing import TypeVar

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, NotFound
from feedwright.farm.naming import nearest
from feedwright.farm.people import person_id
from feedwright.farm.totals import recount
from feedwright.records.store import Store
from feedwright.records.values import Act, Event, Finding, Fitting, Machine, Person, Removal, Run

R = TypeVar("R", Run, Event, Finding, Removal, Machine, Person, Fitting)


def void(store: Store, what: str, record_id: int, reason: str, *, person: str | None = None) -> str:
    """Void one record by kind and number; what it had charged is taken back. Returns what was done, in words."""
    if not reason.strip():
        raise BadInput("reason", expected="a voided record says why", remedy="give the reason in a few words")
    if what not in VOIDERS:
        raise BadInput(
            "record",
            place=f"“{what}”",
            expected="expected one of " + ", ".join(VOIDERS),
            remedy=nearest(what, VOIDERS),
        )
    return VOIDERS[what](store, record_id, reason.strip(), person_id(store, person))


def recent_acts(store: Store, limit: int = 30) -> list[Act]:
    """What was done lately, latest first."""
    return store.acts(limit)


def _found(records: list[R], record_id: int, what: str) -> R:
    for record in records:
        if record.id == record_id:
            return record
    raise NotFound(what, place=f"number {record_id}", expected=f"no such {what}, or void already", remedy="list them")


def _machine(store: Store, machine_id: int) -> Machine:
    return next(machine for machine in store.machines() if machine.id == machine_id)


def _void_run(store: Store, record_id: int, reason: str, who: int | None) -> str:
    run = _found(store.runs(), record_id, "run")
    _void_and_recount(store, run, _machine(store, run.machine_id), reason, who)
    return f"Run {record_id} is void; what it had charged is taken back."


def _void_event(store: Store, record_id: int, reason: str, who: int | None) -> str:
    event = _found(store.events(), record_id, "event")
    _void_and_recount(store, event, _machine(store, event.machine_id), reason, who)
    return f"Event {record_id} is void; what it had charged is taken back."


def _void_and_recount(store: Store, record: Run | Event, machine: Machine, reason: str, who: int | None) -> None:
    with store.act("void", person_id=who, reason=reason) as act:
        act.void(record)
        recount(act, load_catalogue(), machine)


def _void_finding(store: Store, record_id: int, reason: str, who: int | None) -> str:
    finding = _found(store.findings(), record_id, "finding")
    with store.act("void", person_id=who, reason=reason) as act:
        act.void(finding)
    return f"Finding {record_id} is void."


def _void_renewal(store: Store, record_id: int, reason: str, who: int | None) -> str:
    """The removal and all that its act wrote with it: the new fitting, and the finding on the old one."""
    removal = _found(store.removals(), record_id, "renewal")
    fittings = {fitting.id: fitting for fitting in store.fittings()}
    machine = _machine(store, fittings[removal.fitting_id].machine_id)
    together = [kept for kept in store.removals(machine.id) if kept.act_id == removal.act_id]
    findings = [kept for kept in store.findings() if kept.act_id == removal.act_id]
    with store.act("void", person_id=who, reason=reason) as act:
        for finding in findings:
            act.void(finding)
        for kept in together:
            act.void(kept)
            if kept.replaced_by is not None:
                act.void(fittings[kept.replaced_by])
        recount(act, load_catalogue(), machine)
    return f"Renewal {record_id} is void; the part taken off counts as fitted again."


def _void_machine(store: Store, record_id: int, reason: str, who: int | None) -> str:
    machine = _found(store.machines(), record_id, "machine")
    with store.act("void", person_id=who, reason=reason) as act:
        for fitting in store.fittings(machine.id):
            act.void(fitting)
        act.void(machine)
    return f"Machine {machine.name} is void with its fittings."


def _void_person(store: Store, record_id: int, reason: str, who: int | None) -> str:
    someone = _found(store.people(), record_id, "person")
    with store.act("void", person_id=who, reason=reason) as act:
        act.void(someone)
    return f"{someone.name} is void."


VOIDERS: dict[str, Callable[[Store, int, str, int | None], str]] = {
    "run": _void_run,
    "event": _void_event,
    "finding": _void_finding,
    "renewal": _void_renewal,
    "machine": _void_machine,
    "person": _void_person,
}
