"""Cases: from a symptom picked by picture to the next check, the cause, and the written answer."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import Cause, Network, Observation, Step, load_network
from feedwright.diagnosis.answer import WrittenAnswer, as_text
from feedwright.diagnosis.search import find_observations
from feedwright.errors import BadInput
from feedwright.farm.cases.case_lists import CaseLine, case_lines
from feedwright.farm.cases.cases import (
    CaseSheet,
    case_sheet,
    close_case,
    open_case,
    tell,
    written_answer,
)
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import NAME
from feedwright.farm.ground.people import people
from feedwright.farm.ground.plain import plain
from feedwright.farm.machines.machines import machines
from feedwright.records.values import Machine, Person
from feedwright.web.fields import number_or_none
from feedwright.web.render import done, farm, no_farm_yet, page, wants_json

router = APIRouter()
FORM_GROUPS = {"print": "What the print shows", "hear": "What you hear", "machine": "What the machine shows",
               "smell": "What you smell", "history": "How it began"}  # fmt: skip
"""Groups of observations that the opening form offers; the rest is asked for when it tells something."""


@dataclass(frozen=True, slots=True)
class ListContext:
    """Every case, open ones first."""

    lines: list[CaseLine]
    network: Network


@dataclass(frozen=True, slots=True)
class NewContext:
    """The short form that opens a case."""

    machines: list[Machine]
    materials: list[Material]
    groups: dict[str, list[Observation]]
    network: Network
    machine: str
    people: list[Person]


@dataclass(frozen=True, slots=True)
class CaseContext:
    """One case: next step, ranking, what was told."""

    sheet: CaseSheet
    network: Network
    asked: str
    found: list[Observation]
    """Observations that fit the words asked for."""
    people: list[Person]
    who: str
    """Who tells it, kept from one answer to the next."""


@dataclass(frozen=True, slots=True)
class EndContext:
    """The form that ends a case."""

    sheet: CaseSheet
    causes: list[Cause]
    repairs: list[Step]
    network: Network
    cause: str
    cure: str
    people: list[Person]
    who: str


@dataclass(frozen=True, slots=True)
class AnswerContext:
    """The written answer as a page."""

    number: int
    written: WrittenAnswer
    text: str


def _answer(request: Request, name: str, context: Any, data: Any) -> Response:
    """The page, or as JSON what is special to it: not the whole network with each case."""
    return JSONResponse(plain(data)) if wants_json(request) else page(request, name, context)


def _now() -> datetime:
    return moment(None)


async def _form(request: Request) -> dict[str, str]:
    """The form's fields; several of one name count by their last."""
    return {name: value for name, value in (await request.form()).items() if isinstance(value, str)}


Fields = Annotated[dict[str, str], Depends(_form)]


def _named(fields: dict[str, str], kind: str) -> dict[str, str]:
    """Fields called ``kind.NAME`` by name, empty ones left out."""
    start = f"{kind}."
    return {name.removeprefix(start): value for name, value in fields.items() if name.startswith(start) and value}


@router.get("/cases")
def list_(request: Request) -> Response:
    """Every case."""
    if no_farm_yet(request):
        return _answer(request, "cases", ListContext([], load_network()), {"lines": []})
    with farm(request) as store:
        lines = case_lines(store)
        return _answer(request, "cases", ListContext(lines, load_network()), {"lines": lines})


@router.get("/cases/new")
def new(request: Request, machine: str = "") -> Response:
    """The short form; nothing in it must be known."""
    network = load_network()
    groups = {words: [seen for seen in network.observations.values() if seen.group == group]
              for group, words in FORM_GROUPS.items()}  # fmt: skip
    materials = list(load_catalogue().materials.values())
    own: list[Machine] = []
    known: list[Person] = []
    if not no_farm_yet(request):
        with farm(request) as store:
            own, known = machines(store), people(store)
    context = NewContext(own, materials, groups, network, machine, known)
    return _answer(request, "case_new", context, {"groups": groups, "circumstances": network.circumstances})


@router.post("/cases/new")
def begin(request: Request, fields: Fields) -> Response:
    """Open a case."""
    with farm(request, create=True) as store:
        case = open_case(
            store,
            machine=fields.get("machine") or None,
            label=fields.get("label", ""),
            drive=fields.get("drive", ""),
            hot_end=fields.get("hot_end", ""),
            material=fields.get("material", ""),
            facts=_named(fields, "fact"),
            answers=_named(fields, "answer"),
            person=fields.get("person") or None,
        )
    return done(request, f"/cases/{case.id}{_told_by(fields.get('person', ''))}", case)


@router.get("/cases/{number}")
def show(request: Request, number: int, asked: str = "", person: str = "") -> Response:
    """One case as it stands."""
    network = load_network()
    found = find_observations(network, asked[:200]) if asked else []
    with farm(request) as store:
        sheet = case_sheet(store, number, _now())
        return _answer(request, "case", CaseContext(sheet, network, asked, found, people(store), person[:NAME]), sheet)


@router.post("/cases/{number}")
def add(request: Request, number: int, fields: Fields, person: str = "") -> Response:
    """Add what was seen, measured or tried."""
    readings = {name: number_or_none(name, value) for name, value in _named(fields, "reading").items()}
    with farm(request) as store:
        tell(
            store,
            number,
            answers=_named(fields, "answer"),
            facts=_named(fields, "fact"),
            readings={name: value for name, value in readings.items() if value is not None},
            tried=fields.get("tried", ""),
            state=fields.get("state", ""),
            person=person or None,
        )
        sheet = case_sheet(store, number, _now()) if wants_json(request) else None
    return done(request, f"/cases/{number}{_told_by(person)}#next", sheet)


@router.get("/cases/{number}/end")
def end_form(request: Request, number: int, cause: str = "", cure: str = "", person: str = "") -> Response:
    """The form that ends a case."""
    network = load_network()
    with farm(request) as store:
        sheet, known = case_sheet(store, number, _now()), people(store)
    likely = [network.causes[one.cause] for one in sheet.suspects]
    causes = [*likely, *(one for one in network.causes.values() if one not in likely)]
    context = EndContext(sheet, causes, list(network.repairs.values()), network, cause, cure, known, person)
    return _answer(request, "case_end", context, sheet)


@router.post("/cases/{number}/end")
def end(request: Request, number: int, fields: Fields) -> Response:
    """End a case with the cause and the cure."""
    cause = fields.get("cause", "")
    cure = fields.get("cure", "") or (load_network().causes[cause].cure if cause in load_network().causes else "")
    with farm(request) as store:
        ending = close_case(
            store, number, cause=cause, cure=cure, note=fields.get("note", ""), person=fields.get("person") or None
        )
    return done(request, f"/cases/{number}", ending)


@router.get("/cases/{number}/answer")
def answer_page(request: Request, number: int) -> Response:
    """The written answer, to read or to copy."""
    with farm(request) as store:
        written = written_answer(store, number, _now())
    return _answer(request, "case_answer", AnswerContext(number, written, as_text(written)), written)


@router.get("/cases/{number}/answer.{kind}")
def answer_file(request: Request, number: int, kind: str) -> Response:
    """The written answer as plain text or PDF."""
    with farm(request) as store:
        written = written_answer(store, number, _now())
    if kind == "txt":
        return PlainTextResponse(as_text(written), headers=_kept_as(f"answer-{number}.txt"))
    if kind == "pdf":
        from feedwright.farm.cases.case_pdf import answer_pdf

        return Response(answer_pdf(written), media_type="application/pdf", headers=_kept_as(f"answer-{number}.pdf"))
    raise BadInput("answer", place=kind, expected="expected txt or pdf", remedy="choose one of these")


def _told_by(person: str) -> str:
    """The part of an address that keeps in mind who tells it."""
    return f"?person={quote(person)}" if person else ""


def _kept_as(name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{quote(name)}"'}
