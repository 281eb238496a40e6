"""Taking back a record that was a mistake: it stays, marked void with the reason."""

from collections.abc import Callable, Iterable
from typing import TypeVar

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, NotFound
from feedwright.farm.access.access_log import hands_by_name
from feedwright.farm.ground.naming import one_of, text
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.values import ActLine
from feedwright.farm.machines.charging import charge_of_event, charge_of_run, states_of
from feedwright.farm.machines.totals import apply_charges, recount
from feedwright.farm.parts.photos import untie, void_photo, void_photos
from feedwright.farm.prints.prints import let_go
from feedwright.farm.stores.spool_draws import put_back
from feedwright.farm.stores.stores import give_back
from feedwright.records.exchange_values import ArrivalAnswer, HotSpell
from feedwright.records.photo_values import Photo
from feedwright.records.prints_values import Print
from feedwright.records.rounds_values import BenchHours, BusyWindow
from feedwright.records.store import ActInHand, Store
from feedwright.records.stores_values import Item, ItemTerms, Movement, Spool, SpoolEntry, SpoolUse
from feedwright.records.values import (
    Case,
    Event,
    Finding,
    Fitting,
    MachineSetting,
    Measurement,
    Person,
    Removal,
    Touched,
    Visit,
)

R = TypeVar("R")


def void(store: Store, what: str, record_id: int, reason: str, *, person: str | None = None) -> str:
    """Void one record by kind and number; what it had charged is taken back. Returns what was done, in words."""
    reason = text("reason", reason)
    if not reason:
        raise BadInput("reason", expected="a voided record says why", remedy="give the reason in a few words")
    voider = VOIDERS[one_of("record", what, tuple(VOIDERS))]
    with store.act("void", person_id=person_id(store, person), reason=reason) as act:
        return voider(act, record_id)


ONE_OF = {
    "people": "person", "machine_states": "description", "removals": "renewal", "case_entries": "case entry",
    "case_endings": "ending of a case", "visit_endings": "ending of a visit",
    "visit_entries": "visit entry", "machine_settings": "value", "spool_entries": "spool entry", "item_terms": "terms",
    "bench_hours": "bench hours", "busy_windows": "busy window", "round_plans": "plan of rounds",
    "planned_stops": "planned stop", "round_wishes": "wish",
    "queue_entries": "queue entry", "print_endings": "ending of a print", "run_looks": "look", "form_keys": "form",
    "arrivals": "new file", "arrival_answers": "word on a new file", "hot_spells": "hot spell",
}  # fmt: skip
"""What one row of a table is called where it is not the table's name without its last letter."""


def recent_acts(store: Store, limit: int = 30) -> list[ActLine]:
    """What was done lately and to which records, latest first; what was voided stays and is named here."""
    acts = store.acts(limit)
    numbers = [act.id for act in acts]
    touched, through = store.touched_by(numbers), hands_by_name(store, numbers)
    return [
        ActLine(act, _named(touched[act.id][0]), _named(touched[act.id][1]), through.get(act.id, "")) for act in acts
    ]


def _named(records: Iterable[Touched]) -> str:
    """'run 12', '5 runs, fitting 3'."""
    return ", ".join(
        name_of_record(one.table, one.first) if one.many == 1 else f"{one.many} {one.table.replace('_', ' ')}"
        for one in records
    )


def name_of_record(table: str, number: int) -> str:
    """'run 12'."""
    return f"{ONE_OF.get(table, table[:-1])} {number}"


def _found(act: ActInHand, kind: type[R], record_id: int, what: str) -> R:
    return _given(act.one(kind, record_id), record_id, what)


def _given(record: R | None, record_id: int, what: str) -> R:
    if record is None:
        raise NotFound(
            what, place=f"number {record_id}", expected=f"no such {what}, or void already", remedy="list them"
        )
    return record


def _void_run(act: ActInHand, record_id: int) -> str:
    run, stretch = _given(act.charged_run(record_id), record_id, "run")
    machine = _given(act.machine(run.machine_id), run.machine_id, "machine")
    charge = charge_of_run(run, stretch, states_of(act, machine))
    apply_charges(act, load_catalogue(), machine, [charge], sign=-1)
    put_back(act, run.id)
    let_go(act, run.id, with_print=True)
    act.void(run)
    return f"Run {record_id} is void; what it had charged is taken back."


def _void_event(act: ActInHand, record_id: int) -> str:
    event = _found(act, Event, record_id, "event")
    machine = _given(act.machine(event.machine_id), event.machine_id, "machine")
    charge = charge_of_event(event, states_of(act, machine))
    apply_charges(act, load_catalogue(), machine, [] if charge is None else [charge], sign=-1)
    act.void(event)
    return f"Event {record_id} is void; what it had charged is taken back."


def _void_finding(act: ActInHand, record_id: int) -> str:
    finding = _found(act, Finding, record_id, "finding")
    untie(act, findings=[record_id])
    act.void(finding)
    return f"Finding {record_id} is void."


def _void_renewal(act: ActInHand, record_id: int) -> str:
    """The removal and what was written with it at that moment: the new fitting, and the finding on the old one.

    A visit's act renews several parts, each at its own moment; the others stay.
    """
    removal = _found(act, Removal, record_id, "renewal")
    machine_id = _found(act, Fitting, removal.fitting_id, "fitting").machine_id
    fittings = {fitting.id: fitting for fitting in act.fittings(machine_id)}
    moment = (removal.act_id, removal.removed_utc)
    together = [kept for kept in act.removals(machine_id) if (kept.act_id, kept.removed_utc) == moment]
    for finding in act.findings([kept.fitting_id for kept in together]):
        if (finding.act_id, finding.found_utc) == moment:
            untie(act, findings=[finding.id])
            act.void(finding)
    give_back(act, (kept.id for kept in together))
    for kept in together:
        act.void(kept)
        if kept.replaced_by is not None:
            untie(act, fittings=[kept.replaced_by])
            act.void(fittings[kept.replaced_by])
    recount(act, load_catalogue(), machine_id)
    return f"Renewal {record_id} is void; the part taken off counts as fitted again."


def _void_fitting(act: ActInHand, record_id: int) -> str:
    act.void(_found(act, Fitting, record_id, "fitting"))
    return f"Fitting {record_id} is void: the machine never had that part."


def _void_machine(act: ActInHand, record_id: int) -> str:
    machine = _given(act.machine(record_id), record_id, "machine")
    for fitting in act.fittings(machine.id):
        act.void(fitting)
    act.void(machine)
    return f"Machine {machine.name} is void with its fittings."


def _void_person(act: ActInHand, record_id: int) -> str:
    someone = _found(act, Person, record_id, "person")
    act.void(someone)
    return f"{someone.name} is void."


def _void_case(act: ActInHand, record_id: int) -> str:
    """The case with all that was told of it; closed, it no longer refines the network."""
    case = _found(act, Case, record_id, "case")
    for entry in act.case_entries([record_id]):
        act.void(entry)
    for ending in act.case_endings():
        if ending.case_id == record_id:
            act.void(ending)
    act.void(case)
    return f"Case {record_id} is void; what it had taught is taken back."


def _void_visit(act: ActInHand, record_id: int) -> str:
    """The visit with what was entered and measured at it; the parts it renewed are voided one by one."""
    visit = _found(act, Visit, record_id, "visit")
    hanging: list[object] = [one for one in act.releases(visit.machine_id) if one.visit_id == record_id]
    hanging += [one for one in act.measurements(visit.machine_id) if one.visit_id == record_id]
    hanging += [one for one in act.visit_endings() if one.visit_id == record_id]
    entries = act.visit_entries(record_id)
    void_photos(act, visit.machine_id, [entry.id for entry in entries])
    for one in (*hanging, *entries, visit):
        act.void(one)
    return f"Visit {record_id} is void with its entries and readings; void what it renewed or found by itself."


def _void_photo(act: ActInHand, record_id: int) -> str:
    void_photo(act, _found(act, Photo, record_id, "photo"))
    return f"Photo {record_id} is void and shown no more."


def _void_hot_spell(act: ActInHand, record_id: int) -> str:
    act.void(_found(act, HotSpell, record_id, "hot spell"))
    return f"Hot spell {record_id} is void and says nothing of the heater any more."


def _void_arrival_answer(act: ActInHand, record_id: int) -> str:
    answer = _found(act, ArrivalAnswer, record_id, "word on a new file")
    act.void(answer)
    return f"New file {answer.arrival_id} waits again."


def _void_print(act: ActInHand, record_id: int) -> str:
    act.void(_found(act, Print, record_id, "print"))
    return f"Print {record_id} is void: it was never begun."


def _void_measurement(act: ActInHand, record_id: int) -> str:
    act.void(_found(act, Measurement, record_id, "measurement"))
    return f"Measurement {record_id} is void."


def _void_value(act: ActInHand, record_id: int) -> str:
    act.void(_found(act, MachineSetting, record_id, "value"))
    return f"Value {record_id} is void; the one before it holds again."


def _void_item(act: ActInHand, record_id: int) -> str:
    """The item with its terms and movements, what arrived before what was ordered."""
    item = _found(act, Item, record_id, "item")
    for one in (*act.every(ItemTerms, item_id=item.id), *reversed(act.every(Movement, item_id=item.id)), item):
        act.void(one)
    return f"{item.name} is void with its movements: it was never kept."


def _void_movement(act: ActInHand, record_id: int) -> str:
    act.void(_found(act, Movement, record_id, "movement"))
    return f"Movement {record_id} is void; what is on hand is the sum without it."


def _void_spool(act: ActInHand, record_id: int) -> str:
    spool = _found(act, Spool, record_id, "spool")
    for one in (*act.every(SpoolUse, spool_id=spool.id), *act.every(SpoolEntry, spool_id=spool.id), spool):
        act.void(one)
    return f"Spool {record_id} is void with all that was done with it."


def _void_spool_entry(act: ActInHand, record_id: int) -> str:
    act.void(_found(act, SpoolEntry, record_id, "spool entry"))
    return f"Spool entry {record_id} is void."


def _void_busy_window(act: ActInHand, record_id: int) -> str:
    act.void(_found(act, BusyWindow, record_id, "busy window"))
    return f"Busy window {record_id} is void: the machine counts as free then."


def _void_bench_hours(act: ActInHand, record_id: int) -> str:
    act.void(_found(act, BenchHours, record_id, "bench hours"))
    return f"Bench hours {record_id} are void; what was said before holds again."


VOIDERS: dict[str, Callable[[ActInHand, int], str]] = {
    "run": _void_run,
    "event": _void_event,
    "finding": _void_finding,
    "renewal": _void_renewal,
    "fitting": _void_fitting,
    "machine": _void_machine,
    "person": _void_person,
    "case": _void_case,
    "visit": _void_visit,
    "measurement": _void_measurement,
    "photo": _void_photo,
    "print": _void_print,
    "value": _void_value,
    "item": _void_item,
    "movement": _void_movement,
    "spool": _void_spool,
    "spool_entry": _void_spool_entry,
    "busy_window": _void_busy_window,
    "bench_hours": _void_bench_hours,
    "hot_spell": _void_hot_spell,
    "arrival_answer": _void_arrival_answer,
}
