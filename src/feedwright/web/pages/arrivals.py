"""New files: what came into the watched folder and waits for a word."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.exchange.ways import WatchState, watching
from feedwright.farm.machines.machines import machines
from feedwright.farm.toolpaths.arrivals import Arrivals, answer_arrival, arrivals, put_all_aside
from feedwright.records.exchange_values import Answer
from feedwright.records.values import Machine
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """What waits, what was refused, and how the watching goes."""

    arrivals: Arrivals
    machines: list[Machine]
    watch: WatchState | None


@router.get("/arrivals")
def show(request: Request) -> Response:
    """Every file that waits."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        return answer(request, "arrivals", Context(arrivals(store), machines(store), watching(store)))


@router.post("/arrivals/{number}")
def say(request: Request, number: int, said: Annotated[Answer, Form()]) -> Response:
    """Say what became of a file."""
    with farm(request) as store:
        made = answer_arrival(store, number, said)
    return done(request, "/arrivals", made)


@router.post("/arrivals")
def aside(request: Request) -> Response:
    """Put all of them aside."""
    with farm(request) as store:
        count = put_all_aside(store)
    return done(request, "/arrivals", {"put_aside": count})
