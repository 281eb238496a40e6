"""The queue: what is to be printed, which machine should take it and why, and a word that overrules."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.dispatch.dispatch import Dispatch, dispatch, planned_before
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.people import people
from feedwright.farm.ground.settings import zone
from feedwright.farm.machines.machines import machines
from feedwright.farm.prints.queue import QueueLine, add_to_queue, place, queue_lines, take_off
from feedwright.farm.toolpaths.toolpaths import known_toolpaths
from feedwright.records.store import Store
from feedwright.records.values import Machine, Person, Toolpath
from feedwright.web.form_keys import SentKey
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """The queue with its proposals."""

    lines: list[QueueLine]
    made: Dispatch
    planned_before_utc: datetime | None
    """When that was planned, where something was recorded since."""
    machines: list[Machine]
    toolpaths: list[Toolpath]
    materials: list[Material]
    people: list[Person]
    toolpath: str
    """Chosen in the form."""


@router.get("/queue")
def show(request: Request, toolpath: str = "") -> Response:
    """What waits, and what is proposed for it."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        now_utc = moment(None)
        made = dispatch(store, now_utc)
        context = Context(
            queue_lines(store), made, planned_before(store, now_utc), machines(store), known_toolpaths(store),
            list(load_catalogue().materials.values()), people(store), toolpath,
        )  # fmt: skip
        return answer(request, "queue", context)


@router.post("/queue")
def add(
    request: Request, toolpath: Annotated[str, Form()], material: Annotated[str, Form()], key: SentKey,
    copies: Annotated[int, Form()] = 1, due: Annotated[str, Form()] = "", note: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Queue a known toolpath."""
    with farm(request) as store:
        line = add_to_queue(
            store, toolpath, material=material, copies=copies, due_utc=_due(store, due), note=note, entry_key=key,
            person=person or None,
        )  # fmt: skip
    return done(request, f"/queue#entry-{line.entry.id}", line)


def _due(store: Store, given: str) -> datetime | None:
    """A moment to come of a date-time field in the farm's zone; None where it is empty."""
    if not given:
        return None
    try:
        at = datetime.fromisoformat(given)
    except ValueError as error:
        raise BadInput("due", place=given, expected="expected a date and time", remedy="choose one") from error
    return at if at.tzinfo else at.replace(tzinfo=zone(store))


@router.post("/queue/{number}/place")
def put(
    request: Request, number: int, machine: Annotated[str, Form()] = "", note: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Put a queued print on a machine, or leave it to the proposal again."""
    with farm(request) as store:
        line = place(store, number, machine or None, note=note, person=person or None)
    return done(request, f"/queue#entry-{number}", line)


@router.post("/queue/{number}/take-off")
def take(request: Request, number: int, reason: Annotated[str, Form()] = "") -> Response:
    """Take an entry off the queue."""
    with farm(request) as store:
        said = take_off(store, number, reason=reason)
    return done(request, "/queue", {"done": said})
