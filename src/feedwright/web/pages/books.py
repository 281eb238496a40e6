"""The books: the farm's figures, its people, and what was recorded lately."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Figures
from feedwright.farm.acts import ActSheet, act_sheet
from feedwright.farm.people import add_person, people
from feedwright.farm.settings import (
    farm_name,
    figures,
    set_currency,
    set_farm_name,
    set_figure,
    set_zone,
    zone,
)
from feedwright.farm.values import ActLine
from feedwright.farm.voids import recent_acts
from feedwright.records.values import Person
from feedwright.web.fields import number
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """Figures, people and the latest acts."""

    figures: Figures
    name: str
    zone: str
    people: list[Person]
    acts: list[ActLine]
    who: dict[int, str]


@router.get("/books")
def show(request: Request) -> Response:
    """The books."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        known = people(store)
        who = {person.id: person.name for person in known}
        context = Context(figures(store), farm_name(store), str(zone(store)), known, recent_acts(store, 40), who)
        return answer(request, "books", context)


@router.post("/books/figures")
async def change(request: Request) -> Response:
    """Set those of the farm's figures and words that were changed on the page."""
    form = {name: str(value) for name, value in (await request.form()).items()}
    return await run_in_threadpool(_change, request, form)


def _change(request: Request, form: dict[str, str]) -> Response:
    words = {"name": set_farm_name, "zone": set_zone}
    with farm(request) as store:
        now = {name: held.value for name, held in figures(store).numbers.items()}
        said = {"name": farm_name(store), "zone": str(zone(store)), "currency": figures(store).currency}
        changed = {name: value for name, value in form.items() if value != said.get(name, value) or name in now}
        read = {name: number(name, value) for name, value in changed.items() if name in now}
        asked = {name: figure for name, figure in read.items() if figure != now[name]}
        for name, value in changed.items():
            if name in words:
                words[name](store, value)
        if "currency" in changed:  # with its ratio, which the form holds among the figures
            set_currency(store, form["currency"], price_ratio=asked.pop("price_ratio", None))
        for name, figure in asked.items():
            set_figure(store, name, figure)
    return done(request, "/books", form)


@router.post("/books/person")
def person(request: Request, name: Annotated[str, Form()]) -> Response:
    """Remember somebody."""
    with farm(request, create=True) as store:
        made = add_person(store, name)
    return done(request, "/books", made)


@dataclass(frozen=True, slots=True)
class ActContext:
    """One act of the books."""

    sheet: ActSheet


@router.get("/books/{number}")
def act(request: Request, number: int) -> Response:
    """One act: what it wrote, and what took it back."""
    with farm(request) as store:
        return answer(request, "act", ActContext(act_sheet(store, number)))
