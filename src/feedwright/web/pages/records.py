"""Findings, renewals, events and voiding: the other acts at the bench."""

from dataclasses import dataclass
from typing import Annotated, get_args
from urllib.parse import quote

from fastapi import APIRouter, File, Form, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.naming import pick_entry
from feedwright.farm.ground.people import people
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.undo import undo
from feedwright.farm.prints.voids import void
from feedwright.farm.stores.spares import Spare, spares_for
from feedwright.records.values import EventKind, Machine, Person, RemovalReason
from feedwright.web.fields import local_moment, number_or_none, own_place
from feedwright.web.pages.photos import photo_bytes
from feedwright.web.render import answer, done, farm

router = APIRouter()


@dataclass(frozen=True, slots=True)
class PartContext:
    """A form about one part of one machine."""

    machine: Machine
    kind: PartKind
    position: int
    people: list[Person]
    spares: list[Spare]
    """What the stores hold for its renewal."""
    reasons: tuple[str, ...] = get_args(RemovalReason)


@dataclass(frozen=True, slots=True)
class EventContext:
    """The form for an event."""

    machine: Machine
    kinds: tuple[str, ...]
    people: list[Person]


@dataclass(frozen=True, slots=True)
class VoidContext:
    """The form that takes a record back."""

    what: str
    number: int
    back: str


def _part_form(request: Request, template: str, machine: str, part: str, position: int) -> Response:
    with farm(request) as store:
        kind, whose = pick_entry(load_catalogue().parts, part, "part kind"), machine_named(store, machine)
        spares = spares_for(store, whose, [kind.id])
        return answer(request, template, PartContext(whose, kind, position, people(store), spares))


@router.get("/machines/{name}/finding")
def finding_form(request: Request, name: str, part: str, position: int = 1) -> Response:
    """The form for a finding."""
    return _part_form(request, "finding_new", name, part, position)


@router.post("/machines/{name}/finding")
def finding(
    request: Request,
    name: str,
    part: Annotated[str, Form()],
    position: Annotated[int, Form()] = 1,
    grade: Annotated[str, Form()] = "",
    reading: Annotated[str, Form()] = "",
    unit: Annotated[str, Form()] = "",
    when: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "",
    photo: Annotated[UploadFile | None, File()] = None,
) -> Response:
    """Record a finding."""
    with farm(request) as store:
        made = add_finding(
            store, name, part, position=position, grade=grade, reading=number_or_none("reading", reading),
            reading_unit=unit, found_utc=local_moment(store, when), note=note, person=person or None,
            photo=photo_bytes(photo),
        )  # fmt: skip
    return done(request, f"/machines/{quote(name)}?act={made.act_id}", made)


@router.get("/machines/{name}/renewal")
def renewal_form(request: Request, name: str, part: str, position: int = 1) -> Response:
    """The form for a renewal."""
    return _part_form(request, "renewal_new", name, part, position)


@router.post("/machines/{name}/renewal")
def renewal(
    request: Request,
    name: str,
    part: Annotated[str, Form()],
    position: Annotated[int, Form()] = 1,
    reason: Annotated[RemovalReason, Form()] = "worn",
    grade: Annotated[str, Form()] = "",
    product: Annotated[str, Form()] = "",
    trim: Annotated[str, Form()] = "",
    length: Annotated[str, Form()] = "",
    minutes: Annotated[str, Form()] = "",
    elsewhere: Annotated[bool, Form()] = False,
    when: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "",
) -> Response:
    """Record a renewal."""
    with farm(request) as store:
        receipt = renew(
            store, name, part, position=position, reason=reason, grade_found=grade, product=product or None,
            trimmed_mm=number_or_none("trim", trim), length_mm=number_or_none("length", length),
            minutes=number_or_none("minutes", minutes), renewed_utc=local_moment(store, when), note=note,
            from_stores=not elsewhere, person=person or None,
        )  # fmt: skip
    return done(request, f"/machines/{quote(name)}?act={receipt.removal.act_id}", receipt)


@router.post("/machines/{name}/undo")
def take_back(request: Request, name: str, act: Annotated[int, Form()]) -> Response:
    """Take back what was recorded of a part within the last minute."""
    with farm(request) as store:
        back = undo(store, act)
    return done(request, f"/machines/{quote(name)}?recorded=back-{back.act_id}", {"done": back.words})


@router.get("/machines/{name}/event")
def event_form(request: Request, name: str) -> Response:
    """The form for an event."""
    with farm(request) as store:
        return answer(
            request, "event_new", EventContext(machine_named(store, name), get_args(EventKind), people(store))
        )


@router.post("/machines/{name}/event")
def event(
    request: Request,
    name: str,
    kind: Annotated[EventKind, Form()],
    nozzle_c: Annotated[str, Form()] = "",
    minutes: Annotated[str, Form()] = "",
    when: Annotated[str, Form()] = "",
    material: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "",
) -> Response:
    """Record an event."""
    with farm(request) as store:
        made = add_event(
            store, name, kind, at_utc=local_moment(store, when), note=note, person=person or None,
            nozzle_c=number_or_none("nozzle temperature", nozzle_c), minutes=number_or_none("minutes", minutes),
            material=material,
        )  # fmt: skip
    return done(request, f"/machines/{quote(name)}?recorded=event-{made.id}", made)


@router.get("/void")
def void_form(request: Request, what: str, number: int, back: str = "/") -> Response:
    """Asks for the reason before a record is taken back."""
    own = own_place(back)
    with farm(request):
        return answer(request, "void", VoidContext(what, number, own))


@router.post("/void")
def void_record(
    request: Request,
    what: Annotated[str, Form()],
    number: Annotated[int, Form()],
    reason: Annotated[str, Form()] = "",
    back: Annotated[str, Form()] = "/",
) -> Response:
    """Take a record back."""
    own = own_place(back)
    with farm(request) as store:
        said = void(store, what, number, reason)
    return done(request, own, {"done": said})
