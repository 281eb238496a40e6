"""Releasing a serviced machine: held until what its visit calls for is proved, or released with a reason."""

import json
from dataclasses import dataclass, replace
from datetime import datetime

from feedwright.catalogue.procedures import Proof, load_procedures, procedure_named
from feedwright.errors import Conflict
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.service.service_visits import VisitSheet, visit_sheet
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import Machine, Measurement, Release, Visit


@dataclass(frozen=True, slots=True)
class ProofState:
    """One proof that a visit calls for, and the latest reading of it since the visit began."""

    proof: Proof
    measurement: Measurement | None

    @property
    def good(self) -> bool:
        """True where it was read and lies within tolerance."""
        return self.measurement is not None and self.proof.low <= self.measurement.value <= self.proof.high


@dataclass(frozen=True, slots=True)
class HeldMachine:
    """A machine that was serviced and not yet released."""

    machine: Machine
    visit: Visit
    under_way: bool
    """True while its visit is not ended."""
    proofs: tuple[ProofState, ...]


def proofs_of(records: Reads, visit: Visit) -> tuple[ProofState, ...]:
    """What the visit calls for, in order, with the readings since it began."""
    known = load_procedures().proofs
    called = {
        proof
        for one in (procedure_named(each) for each in json.loads(visit.procedures))
        for proof in (*one.proofs, *one.proves)
    }
    latest: dict[str, Measurement] = {}
    for measurement in sorted(records.measurements(visit.machine_id), key=lambda one: (one.measured_utc, one.id)):
        if measurement.measured_utc >= visit.begun_utc:
            latest[measurement.kind] = measurement
    return tuple(ProofState(known[proof], latest.get(proof)) for proof in known if proof in called)


def held_machines(store: Store) -> list[HeldMachine]:
    """Machines in service or serviced and waiting for their release, by name."""
    with store.snapshot() as reads:
        released = {release.visit_id for release in reads.releases()}
        ended = {ending.visit_id for ending in reads.visit_endings()}
        machines = {machine.id: machine for machine in reads.machines()}
        found = [
            HeldMachine(machines[visit.machine_id], visit, visit.id not in ended, proofs)
            for visit in reads.visits()
            if visit.id not in released and ((proofs := proofs_of(reads, visit)) or visit.id not in ended)
        ]
    return sorted(found, key=lambda held: (held.machine.name.casefold(), held.visit.id))


def held(records: Reads, machine: Machine) -> Visit | None:
    """The visit for which a machine is held, if any: one under way, or ended with proofs and not released."""
    released = {release.visit_id for release in records.releases(machine.id)}
    ended = {ending.visit_id for ending in records.visit_endings()}
    for visit in records.visits(machine.id):
        if visit.id not in released and (visit.id not in ended or proofs_of(records, visit)):
            return visit
    return None


def add_proof(
    store: Store, machine: str, proof: str, value: float, *, note: str = "", measured_utc: datetime | None = None,
    person: str | None = None,
) -> Measurement:  # fmt: skip
    """Record a reading of a proof by itself, such as the second tramming of a held machine."""
    known = load_procedures().proofs
    if proof not in known:
        raise Conflict("proof", place=f"“{proof}”", expected="no such proof", remedy="known: " + ", ".join(known))
    it, whose = known[proof], machine_named(store, machine)
    within(it.what, value, it.least, it.most, it.unit)
    made = Measurement(whose.id, moment(measured_utc), proof, value, it.unit, note=text("note", note))
    with store.act("measure", person_id=person_id(store, person)) as act:
        return replace(made, id=act.add(made), act_id=act.id)


def release(
    store: Store, number: int, *, override: str = "", released_utc: datetime | None = None, person: str | None = None
) -> Release:
    """Release the machine of an ended visit; raises Conflict where a proof is missing and no reason is given.

    Releasing twice changes nothing.
    """
    at_utc, reason = moment(released_utc), text("reason", override)
    with store.act("release", person_id=person_id(store, person), reason=reason) as act:
        sheet = visit_sheet(act, number)
        known = next((one for one in act.releases(sheet.machine.id) if one.visit_id == number), None)
        if known is not None:
            return known
        states = proofs_of(act, sheet.visit)
        _refuse_unproved(sheet, states, reason)
        proofs = {state.proof.id: state.measurement.id for state in states if state.measurement}
        made = Release(sheet.machine.id, number, at_utc, json.dumps(proofs), reason)
        return replace(made, id=act.add(made), act_id=act.id)


def _refuse_unproved(sheet: VisitSheet, states: tuple[ProofState, ...], reason: str) -> None:
    if sheet.ending is None:
        raise Conflict(
            "release", place=f"visit {sheet.visit.id}", expected="the visit is not ended", remedy="end it first"
        )
    missing = [state for state in states if not state.good]
    if missing and not reason:
        raise Conflict(
            "release",
            place=sheet.machine.name,
            expected="; ".join(_missing(state) for state in missing),
            remedy="prove it, or release it with a reason",
        )


def _missing(state: ProofState) -> str:
    if state.measurement is None:
        return f"not proved that {state.proof.title}"
    read, it = state.measurement.value, state.proof
    return f"not proved that {it.title}: read {read:g}, wanted {it.low:g} to {it.high:g} {it.unit}"
