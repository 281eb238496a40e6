"""The books: the farm's people, and what was recorded lately."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.desk.acts import ActSheet, act_sheet
from feedwright.farm.ground.people import add_person, people
from feedwright.farm.ground.values import ActLine
from feedwright.farm.prints.voids import recent_acts
from feedwright.records.values import Person
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """People and the latest acts."""

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
        return answer(request, "books", Context(known, recent_acts(store, 40), who))


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
