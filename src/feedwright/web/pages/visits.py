"""Visits on the phone: what is due, one step a screen, entries that survive a lost connection, and the release."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Query, UploadFile
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from feedwright.catalogue.entry import Material, PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.procedures import Procedure, load_procedures
from feedwright.errors import BadInput
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import pick_entry
from feedwright.farm.ground.people import people
from feedwright.farm.machines.machines import machine_named, machines
from feedwright.farm.parts.photos import photos_by_entry
from feedwright.farm.service.releases import HeldMachine, ProofState, add_proof, held_machines, proofs_of, release
from feedwright.farm.service.service_visits import (
    VisitSheet,
    begin_visit,
    end_visit,
    enter,
    open_visit,
    take_back,
    visit_sheet,
)
from feedwright.farm.service.visit_plan import chosen, due_procedures, merged_for, suiting
from feedwright.farm.service.visit_words import recorded_words
from feedwright.farm.stores.spares import Spare, spares_for
from feedwright.records.photo_values import Photo
from feedwright.records.store import Store
from feedwright.records.values import Machine, Person, Release, Visit, VisitEnding
from feedwright.service.merging import Merged
from feedwright.web.fields import number as typed_number
from feedwright.web.fields import number_or_none
from feedwright.web.pages.bench import NOTHING
from feedwright.web.pages.photos import photo_bytes
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()

STATE_WORDS = {
    "hot": "nozzle hot", "ready": "nozzle and bed hot", "pull": "nozzle cooling", "cold": "cold, switched on",
    "off": "cold, plug out", "any": "at the bench",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ListContext:
    """Machines held, and those a visit can be begun on."""

    held: list[HeldMachine]
    machines: list[Machine]
    past: list[tuple[Visit, Machine, VisitEnding, Release | None]]


@dataclass(frozen=True, slots=True)
class PlanContext:
    """What can be done to a machine, what is chosen, and what that takes."""

    machine: Machine
    procedures: list[Procedure]
    due: tuple[str, ...]
    chosen: tuple[str, ...]
    material: str
    materials: list[Material]
    merged: Merged | None
    people: list[Person]
    under_way: Visit | None
    spares: list[Spare]
    """What the stores hold for the renewals chosen."""


@dataclass(frozen=True, slots=True)
class VisitContext:
    """One visit, its steps with what each records, and its proofs."""

    sheet: VisitSheet
    closed: dict[str, str]
    parts: dict[str, PartKind]
    positions: dict[str, list[int]]
    """Where each of these parts sits on the machine: which ones there are of a kind."""
    proofs: tuple[ProofState, ...]
    release: Release | None
    people: list[Person]
    states: dict[str, str]
    cautions: dict[str, str]
    photos: dict[str, list[Photo]]
    """By step."""
    recorded_words: dict[str, str]
    """What was recorded at each step, in words."""
    as_of_utc: datetime
    """When this was so: a page may be looked at later, without the connection."""


@router.get("/visits")
def show_list(request: Request) -> Response:
    """Machines in service or waiting for their release, and where a visit may begin."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        held, known = held_machines(store), {machine.id: machine for machine in store.machines()}
        visits, releases = {one.id: one for one in store.visits()}, {one.visit_id: one for one in store.releases()}
        past = [
            (visits[ending.visit_id], known[visits[ending.visit_id].machine_id], ending, releases.get(ending.visit_id))
            for ending in sorted(store.visit_endings(), key=lambda one: (one.ended_utc, one.id), reverse=True)
            if ending.visit_id in visits
        ]
        return answer(request, "visits", ListContext(held, machines(store), past[:20]))


@router.get("/machines/{name}/visit")
def plan(
    request: Request, name: str, job: Annotated[list[str] | None, Query()] = None, material: str = "pla", part: str = ""
) -> Response:
    """Choose what is to be done; shows heat-ups, minutes, tools and parts before anything begins.

    ``part`` chooses the jobs that renew one part kind, as a case or the bench leads here.
    """
    with farm(request) as store:
        machine = machine_named(store, name)
        due = due_procedures(store, machine, moment(None))
        ids = tuple(job) if job else tuple(held.id for held in suiting(store, machine) if part and held.renews == part)
        material = pick_entry(load_catalogue().materials, material, "material").id
        merged = merged_for(machine, chosen(store, machine, ids), material)[0] if ids else None
        return answer(
            request, "visit_new",
            PlanContext(
                machine, suiting(store, machine), due, ids or due, material, list(load_catalogue().materials.values()),
                merged, people(store), open_visit(store, machine),
                spares_for(store, machine, [one.renews for one in merged.procedures if one.renews]) if merged else [],
            ),
        )  # fmt: skip


@router.post("/machines/{name}/visit")
def begin(
    request: Request, name: str, job: Annotated[list[str] | None, Form()] = None,
    material: Annotated[str, Form()] = "pla", person: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Begin the visit."""
    with farm(request) as store:
        made = begin_visit(store, name, job or [], material=material, person=person or None)
    return _to(request, made.id, made)


@router.get("/visits/{number}")
def show(request: Request, number: int) -> Response:
    """One visit, one step a screen."""
    with farm(request) as store:
        return answer(request, "visit", _context(store, number))


@router.get("/visits/{number}/state")
def state(request: Request, number: int) -> Response:
    """Which steps are closed, for another device that works along."""
    with farm(request) as store:
        sheet = visit_sheet(store, number)
        proofs = proofs_of(store, sheet.visit)
    readings = {state.proof.id: state.measurement.value for state in proofs if state.measurement}
    closed = {step: entry.kind for step, entry in sheet.closed.items()}
    stands = {"closed": closed, "ended": sheet.ending is not None, "paused": sheet.paused}
    return JSONResponse({**stands, "readings": readings, "as_of": datetime.now(UTC).isoformat()})


def _context(store: Store, number: int) -> VisitContext:
    sheet = visit_sheet(store, number)
    recorded = [screen.step.record for screen in sheet.screens if screen.step.record]
    parts = {record.part: load_catalogue().parts[record.part] for record in recorded if record.part}
    closed = {step: str(entry.kind) for step, entry in sheet.closed.items()}
    made = next((one for one in store.releases(sheet.machine.id) if one.visit_id == number), None)
    proofs, cautions = proofs_of(store, sheet.visit), load_procedures().cautions
    taken = photos_by_entry(store, sheet.machine.id)
    photos = {entry.step: taken[entry.id] for entry in sheet.closed.values() if entry.id in taken}
    fitted = store.fittings(sheet.machine.id, open_only=True)
    positions = {part: sorted(one.position for one in fitted if one.part_kind == part) for part in parts}
    return VisitContext(
        sheet, closed, parts, positions, proofs, made, people(store), STATE_WORDS, cautions, photos,
        recorded_words(sheet), datetime.now(UTC),
    )  # fmt: skip


@router.post("/visits/{number}/entries")
def entry(
    request: Request, number: int, entry_key: Annotated[str, Form()], step: Annotated[str, Form()] = "",
    kind: Annotated[str, Form()] = "done", cautions_read: Annotated[str, Form()] = "",
    grade: Annotated[str, Form()] = "", product: Annotated[str, Form()] = "", reason: Annotated[str, Form()] = "",
    trimmed_mm: Annotated[str, Form()] = "", length_mm: Annotated[str, Form()] = "",
    value: Annotated[str, Form()] = "", note: Annotated[str, Form()] = "", at: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "", photo: Annotated[UploadFile | None, File()] = None,
    position: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Enter one step; the same entry may come again and counts once."""
    held: dict[str, Any] = {"grade": grade, "product": product, "reason": reason}
    numbers = {"trimmed_mm": trimmed_mm, "length_mm": length_mm, "value": value, "position": position}
    held.update({field: number_or_none(field, given) for field, given in numbers.items()})
    with farm(request) as store:
        visit = visit_sheet(store, number).visit
        made = enter(
            store, number, step, entry_key=entry_key, kind=kind, cautions_read=bool(cautions_read), note=note,
            value={name: given for name, given in held.items() if given not in ("", None)},
            photo=photo_bytes(photo), entered_utc=_entered(visit, at), person=person or None,
        )  # fmt: skip
    taken = _to(request, number, made)
    taken.headers["As-Of"] = datetime.now(UTC).isoformat()
    return taken


def _entered(visit: Visit, at: str) -> datetime:
    """When the button was pressed by the device's clock, kept between the visit's beginning and now."""
    now = moment(None)
    try:
        given = datetime.fromisoformat(at.replace("Z", "+00:00")) if at else now
    except ValueError:
        given = now
    given = given if given.tzinfo else given.replace(tzinfo=UTC)
    return max(min(given, now), visit.begun_utc)


@router.post("/visits/{number}/take-back")
def reopen(request: Request, number: int, step: Annotated[str, Form()]) -> Response:
    """Take back a step that was entered wrongly."""
    with farm(request) as store:
        take_back(store, number, step)
    return _to(request, number, {"done": step})


@router.post("/visits/{number}/end")
def end(
    request: Request, number: int, outcome: Annotated[str, Form()] = "done", note: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """End the visit: its renewals, findings and readings are written together."""
    if outcome not in ("done", "given_up"):
        raise BadInput("outcome", place=outcome, expected="expected done or given_up", remedy="use the form")
    with farm(request) as store:
        made = end_visit(store, number, outcome=outcome, note=note, person=person or None)  # type: ignore[arg-type]
    return _to(request, number, made, "#release")


@router.post("/visits/{number}/proof")
def proof(
    request: Request, number: int, kind: Annotated[str, Form()], value: Annotated[str, Form()],
    person: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Record a further reading of one proof."""
    with farm(request) as store:
        machine = visit_sheet(store, number).machine
        made = add_proof(store, machine.name, kind, typed_number("value", value), person=person or None)
    return _to(request, number, made, "#release")


@router.post("/visits/{number}/release")
def release_machine(
    request: Request, number: int, override: Annotated[str, Form()] = "", person: Annotated[str, Form()] = ""
) -> Response:
    """Release the machine."""
    with farm(request) as store:
        made = release(store, number, override=override, person=person or None)
    return _to(request, number, made, "#release")


def _to(request: Request, number: int, data: Any, part: str = "") -> Response:
    return done(request, f"/visits/{number}{part}", data)
