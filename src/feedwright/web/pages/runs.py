"""Runs: the list, and recording one."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.machines import machines
from feedwright.farm.people import people
from feedwright.farm.runs import add_run, run_lines, run_receipt
from feedwright.farm.toolpaths import known_toolpaths
from feedwright.farm.values import RunLine, RunReceipt
from feedwright.records.store import Store
from feedwright.records.values import Machine, Person, RunOutcome, Toolpath
from feedwright.web.render import answer, done, farm

router = APIRouter()


@dataclass(frozen=True, slots=True)
class ListContext:
    """The latest runs."""

    lines: list[RunLine]


@dataclass(frozen=True, slots=True)
class NewContext:
    """The form for a run."""

    machines: list[Machine]
    toolpaths: list[Toolpath]
    materials: list[Material]
    people: list[Person]
    machine: str
    toolpath: str


@dataclass(frozen=True, slots=True)
class ReceiptContext:
    """What a run did to each part."""

    receipt: RunReceipt


def local_moment(store: Store, given: str) -> datetime | None:
    """The moment of a date-time field in the farm's zone; empty means now."""
    if not given:
        return None
    from feedwright.farm.settings import zone

    try:
        at = datetime.fromisoformat(given)
    except ValueError as error:
        raise BadInput("when", place=given, expected="expected a date and time", remedy="choose one") from error
    return at if at.tzinfo else at.replace(tzinfo=zone(store))


def number_or_none(field: str, given: str) -> float | None:
    """The number of a field that may stay empty."""
    if not given.strip():
        return None
    try:
        return float(given.replace(",", "."))
    except ValueError as error:
        raise BadInput(field, place=f"“{given}”", expected="expected a number", remedy="such as 12.5") from error


@router.get("/runs")
def list_(request: Request) -> Response:
    """The latest runs."""
    with farm(request) as store:
        return answer(request, "runs", ListContext(run_lines(store, limit=60)))


@router.get("/runs/new")
def new(request: Request, machine: str = "", toolpath: str = "") -> Response:
    """The form for a run."""
    with farm(request) as store:
        context = NewContext(
            machines(store), known_toolpaths(store), list(load_catalogue().materials.values()), people(store), machine,
            toolpath,
        )  # fmt: skip
        return answer(request, "run_new", context)


@router.post("/runs/new")
def add(
    request: Request,
    machine: Annotated[str, Form()],
    material: Annotated[str, Form()],
    toolpath: Annotated[str, Form()] = "",
    hours: Annotated[str, Form()] = "",
    outcome: Annotated[RunOutcome, Form()] = "complete",
    percent: Annotated[str, Form()] = "",
    copies: Annotated[int, Form()] = 1,
    nozzle_c: Annotated[str, Form()] = "",
    when: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "",
) -> Response:
    """Record a run, then show what it did to each part: sending the page again shows it, and records nothing."""
    done_percent = number_or_none("share done", percent)
    with farm(request) as store:
        receipt = add_run(
            store,
            machine,
            toolpath=toolpath or None,
            hours=number_or_none("hours", hours) if not toolpath else None,
            material=material,
            outcome=outcome,
            fraction=None if outcome == "complete" or done_percent is None else done_percent / 100,
            copies=copies,
            started_utc=local_moment(store, when),
            nozzle_c=number_or_none("nozzle temperature", nozzle_c),
            note=note,
            person=person or None,
        )
    return done(request, f"/runs/{receipt.run.id}", receipt)


@router.get("/runs/{number}")
def show(request: Request, number: int) -> Response:
    """What one run did to each part."""
    with farm(request) as store:
        return answer(request, "run_receipt", ReceiptContext(run_receipt(store, number)))
