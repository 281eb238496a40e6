"""Runs: the list, and recording one."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import Observation
from feedwright.farm.dispatch.print_choices import UndoOffer, likely_material, undo_offer
from feedwright.farm.ground.people import people
from feedwright.farm.ground.values import Change, RunLine, RunReceipt
from feedwright.farm.machines.machines import machines
from feedwright.farm.prints.prints import looks_of
from feedwright.farm.prints.runs import add_run, run_lines, run_receipt
from feedwright.farm.stores.spools import SpoolSheet, spools
from feedwright.farm.toolpaths.toolpaths import known_toolpaths
from feedwright.records.values import Machine, Person, RunOutcome, Toolpath
from feedwright.web.fields import local_moment, number_or_none, share
from feedwright.web.form_keys import SentKey
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()
SHOWN, MOST_SHOWN = 30, 1000


@dataclass(frozen=True, slots=True)
class ListContext:
    """The latest runs, of one machine or all."""

    lines: list[RunLine]
    machines: list[Machine]
    machine: str
    most: int


@dataclass(frozen=True, slots=True)
class NewContext:
    """The form for a run."""

    machines: list[Machine]
    toolpaths: list[Toolpath]
    materials: list[Material]
    people: list[Person]
    machine: str
    toolpath: str
    material: str
    """What is in the machine that is named; empty = not known."""
    spools: list[SpoolSheet]
    """Of a machine that is named: its own, and those that hang nowhere."""


@dataclass(frozen=True, slots=True)
class ReceiptContext:
    """What a run did to each part, the most worn by it first."""

    receipt: RunReceipt
    changes: list[Change]
    toolpath: Toolpath | None
    looks: list[Observation]
    """How it looked, where it went wrong."""
    undo: UndoOffer | None


@router.get("/runs")
def list_(request: Request, machine: str = "", most: int = SHOWN) -> Response:
    """The latest runs."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        shown = max(1, min(most, MOST_SHOWN))
        lines = run_lines(store, machine or None, limit=shown)
        return answer(request, "runs", ListContext(lines, machines(store), machine, shown))


@router.get("/runs/new")
def new(request: Request, machine: str = "", toolpath: str = "") -> Response:
    """The form for a run."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        known = machines(store)
        whose = next((one for one in known if one.name == machine), None)
        context = NewContext(
            known, known_toolpaths(store), list(load_catalogue().materials.values()), people(store), machine, toolpath,
            "" if whose is None else likely_material(store, whose),
            [one for one in spools(store) if whose is None or one.machine in (None, whose)],
        )  # fmt: skip
        return answer(request, "run_new", context)


@router.post("/runs/new")
def add(
    request: Request,
    machine: Annotated[str, Form()],
    material: Annotated[str, Form()],
    key: SentKey,
    toolpath: Annotated[str, Form()] = "",
    hours: Annotated[str, Form()] = "",
    outcome: Annotated[RunOutcome, Form()] = "complete",
    percent: Annotated[str, Form()] = "",
    copies: Annotated[int, Form()] = 1,
    nozzle_c: Annotated[str, Form()] = "",
    when: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
    spool: Annotated[int | None, Form()] = None,
    person: Annotated[str, Form()] = "",
) -> Response:
    """Record a run, then show what it did to each part: sending the page again shows it, and records nothing."""
    done_frac = share("how far it came", percent)
    with farm(request) as store:
        receipt = add_run(
            store,
            machine,
            toolpath=toolpath or None,
            hours=number_or_none("hours", hours),
            material=material,
            outcome=outcome,
            fraction=done_frac,
            copies=copies,
            started_utc=local_moment(store, when),
            nozzle_c=number_or_none("nozzle temperature", nozzle_c),
            note=note,
            spool=spool,
            entry_key=key,
            person=person or None,
        )
    return done(request, f"/runs/{receipt.run.id}?recorded=run-{receipt.run.id}&act={receipt.run.act_id}", receipt)


@router.get("/runs/{number}")
def show(request: Request, number: int, act: int | None = None) -> Response:
    """What one run did to each part."""
    with farm(request) as store:
        receipt = run_receipt(store, number)
        changes = sorted(receipt.changes, key=lambda change: change.share_before_frac - change.share_after_frac)
        toolpath = next((one for one in known_toolpaths(store) if one.id == receipt.run.toolpath_id), None)
        context = ReceiptContext(receipt, changes, toolpath, looks_of(store, number), undo_offer(store, act))
        return answer(request, "run_receipt", context)
