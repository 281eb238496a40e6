"""Spools: where they hang, what is left on them, and whether a lot goes with trouble."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Query
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.people import people
from feedwright.farm.machines.machines import machines
from feedwright.farm.stores import spools as use_cases
from feedwright.farm.stores.lots import LotLine, lots_shown
from feedwright.farm.stores.spools import SpoolSheet
from feedwright.records.values import Machine, Person
from feedwright.web.fields import local_moment, number, number_or_none
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()
Text = Annotated[str, Form()]
MOST_SHOWN = 60
"""Spools on machines, and spools put away, on one page of the list."""


@dataclass(frozen=True, slots=True)
class ListContext:
    """Spools and lots."""

    hanging: list[SpoolSheet]
    """On machines, the least left first."""
    put_away: list[SpoolSheet]
    empty: bool
    skip: int
    """So many of each come on the pages before ..."""
    most: int
    """... and so many at most on this one."""
    lots: list[LotLine]


@dataclass(frozen=True, slots=True)
class NewContext:
    """The form for a spool."""

    materials: list[Material]
    machines: list[Machine]
    people: list[Person]


@dataclass(frozen=True, slots=True)
class SpoolContext:
    """One spool."""

    sheet: SpoolSheet
    machines: list[Machine]
    people: list[Person]


@router.get("/spools")
def list_(request: Request, empty: bool = False, skip: Annotated[int, Query(ge=0)] = 0) -> Response:
    """Spools, so many at a time, and every lot that goes with trouble."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        listed = use_cases.spools(store, empty=empty)
        hanging = sorted((one for one in listed if one.machine), key=lambda one: one.left.interval.mid)
        put_away = sorted((one for one in listed if not one.machine), key=lambda one: one.spool.material)
        context = ListContext(hanging, put_away, empty, skip, MOST_SHOWN, lots_shown(store, moment(None)))
        return answer(request, "spools", context)


@router.get("/spools/new")
def new(request: Request) -> Response:
    """The form for a spool."""
    with farm(request) as store:
        context = NewContext(list(load_catalogue().materials.values()), machines(store), people(store))
        return answer(request, "spools_new", context)


@router.post("/spools/new")
def add(
    request: Request,
    material: Text,
    net_g: Text = "1000",
    tare_g: Text = "",
    label: Text = "",
    lot: Text = "",
    price: Text = "",
    machine: Text = "",
    note: Text = "",
    when: Text = "",
    person: Text = "",
) -> Response:
    """Take a spool on record."""
    with farm(request) as store:
        sheet = use_cases.add_spool(
            store, material, net_g=number("filament on it", net_g), tare_g=number_or_none("empty spool", tare_g),
            label=label, lot=lot, price_paid=price or None, machine=machine or None, note=note,
            at_utc=local_moment(store, when), person=person or None,
        )  # fmt: skip
    return done(request, f"/spools/{sheet.spool.id}?recorded=spool-{sheet.spool.id}", sheet)


@router.get("/spools/{number}")
def show(request: Request, number: int) -> Response:
    """One spool."""
    with farm(request) as store:
        context = SpoolContext(use_cases.spool_sheet(store, number), machines(store), people(store))
        return answer(request, "spool", context)


def _shown(request: Request, sheet: SpoolSheet) -> Response:
    return done(request, f"/spools/{sheet.spool.id}?recorded=spool-{sheet.spool.id}", sheet)


@router.post("/spools/{number}/hang")
def hang(request: Request, number: int, machine: Text, when: Text = "", person: Text = "") -> Response:
    """Hang it on a machine."""
    with farm(request) as store:
        sheet = use_cases.hang_spool(store, number, machine, at_utc=local_moment(store, when), person=person or None)
    return _shown(request, sheet)


@router.post("/spools/{number}/shelve")
def shelve(request: Request, number: int, place: Text = "", when: Text = "", person: Text = "") -> Response:
    """Put it away."""
    with farm(request) as store:
        sheet = use_cases.shelve_spool(store, number, place, at_utc=local_moment(store, when), person=person or None)
    return _shown(request, sheet)


@router.post("/spools/{number}/weigh")
def weigh(
    request: Request, number: int, gross_g: Text = "", left_g: Text = "", when: Text = "", person: Text = ""
) -> Response:
    """Record what the scale said."""
    with farm(request) as store:
        sheet = use_cases.weigh_spool(
            store, number, gross_g=number_or_none("mass with the spool", gross_g),
            left_g=number_or_none("filament left", left_g), at_utc=local_moment(store, when), person=person or None,
        )  # fmt: skip
    return _shown(request, sheet)


@router.post("/spools/{number}/dry")
def dry(
    request: Request, number: int, dry_c: Text = "", dry_h: Text = "", when: Text = "", person: Text = ""
) -> Response:
    """Record that it was dried."""
    with farm(request) as store:
        sheet = use_cases.dry_spool(
            store, number, dry_c=number_or_none("drying temperature", dry_c),
            dry_h=number_or_none("drying time", dry_h), at_utc=local_moment(store, when), person=person or None,
        )  # fmt: skip
    return _shown(request, sheet)


@router.post("/spools/{number}/open")
def opened(request: Request, number: int, when: Text = "", person: Text = "") -> Response:
    """Record that its bag was opened."""
    with farm(request) as store:
        sheet = use_cases.open_spool(store, number, at_utc=local_moment(store, when), person=person or None)
    return _shown(request, sheet)


@router.post("/spools/{number}/empty")
def emptied(request: Request, number: int, when: Text = "", person: Text = "") -> Response:
    """Record that it is used up."""
    with farm(request) as store:
        sheet = use_cases.empty_spool(store, number, at_utc=local_moment(store, when), person=person or None)
    return _shown(request, sheet)
