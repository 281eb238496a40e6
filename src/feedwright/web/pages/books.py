"""The books: the farm's figures, its people, and what was recorded lately."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Figures
from feedwright.errors import BadInput
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
from feedwright.farm.voids import recent_acts
from feedwright.records.values import Act, Person
from feedwright.web.render import answer, done, farm

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """Figures, people and the latest acts."""

    figures: Figures
    name: str
    zone: str
    people: list[Person]
    acts: list[Act]
    who: dict[int, str]


@router.get("/books")
def show(request: Request) -> Response:
    """The books."""
    with farm(request, create=True) as store:
        known = people(store)
        who = {person.id: person.name for person in known}
        context = Context(figures(store), farm_name(store), str(zone(store)), known, recent_acts(store, 40), who)
        return answer(request, "books", context)


@router.post("/books/figure")
def change(request: Request, name: Annotated[str, Form()], value: Annotated[str, Form()]) -> Response:
    """Set one of the farm's figures or words."""
    words = {"name": set_farm_name, "zone": set_zone, "currency": set_currency}
    with farm(request, create=True) as store:
        if name in words:
            words[name](store, value)
        else:
            try:
                figure = float(value.replace(",", "."))
            except ValueError as error:
                raise BadInput(name, place=f"“{value}”", expected="expected a number", remedy="such as 24.5") from error
            set_figure(store, name, figure)
    return done(request, "/books", {"name": name, "value": value})


@router.post("/books/person")
def person(request: Request, name: Annotated[str, Form()]) -> Response:
    """Remember somebody."""
    with farm(request, create=True) as store:
        made = add_person(store, name)
    return done(request, "/books", made)
