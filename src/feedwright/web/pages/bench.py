"""The bench: what to service now, why, and what comes next."""

from dataclasses import dataclass
from typing import Annotated, Literal

from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.ground.house import moment
from feedwright.farm.ground.values import Bench, FittedPart
from feedwright.farm.outlook.bench import bench
from feedwright.farm.prints.prints import UnderWay, under_way
from feedwright.farm.rounds.round_sheets import in_plan
from feedwright.farm.rounds.round_values import InPlan
from feedwright.farm.stores.spares import Spare, spares_of_parts
from feedwright.farm.toolpaths.arrivals import arrivals
from feedwright.web import charts
from feedwright.web.render import Farms, answer, done, farm, no_farm_yet

router = APIRouter()
NOTHING: dict[str, object] = {"machines": 0}
MOST_CARDS, MOST_LINES = 24, 60
"""Jobs drawn as cards, and lines of a list, before the rest is left to a page of its own."""
MOST_OF_GROUP = 200
"""Lines of such a page."""
Group = Literal["now", "soon", "later", "watch"]


@dataclass(frozen=True, slots=True)
class Context:
    """What the bench page shows."""

    bench: Bench
    life_chart: dict[str, object]
    """Life used per part across the farm."""
    spares: dict[int, Spare]
    """What the stores hold for each renewal drawn as a card, by fitting."""
    printing: dict[int, UnderWay]
    """What is under way, by machine."""
    planned: dict[int, InPlan]
    """What the rounds planned do with the jobs drawn as cards, by fitting."""
    new_files: int
    """Files that came into the watched folder and wait for a word."""
    most_cards: int = MOST_CARDS
    most_lines: int = MOST_LINES


@dataclass(frozen=True, slots=True)
class GroupContext:
    """Some lines of one group of the bench list."""

    group: Group
    parts: tuple[FittedPart, ...]
    skip: int
    """So many come before them."""
    whole: int
    """So many there are."""
    before: int | None
    """From where the lines before these begin; None where these are the first."""


@router.get("/")
def show(request: Request) -> Response:
    """The bench list, or first steps where there is no machine yet."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        made = bench(store, moment(None))
        if not made.machines:
            return answer(request, "first_steps", NOTHING)
        parts = (*made.now, *made.soon, *made.later, *made.watch)
        cards = made.now[:MOST_CARDS]
        spares = spares_of_parts(store, cards)
        printing = {one.machine.id: one for one in under_way(store)}
        planned, new_files = in_plan(store, cards, made.at_utc), len(arrivals(store).offers)
        return answer(request, "bench", Context(made, charts.life_used(parts), spares, printing, planned, new_files))


@router.get("/bench/{group}")
def group_page(request: Request, group: Group, skip: Annotated[int, Query(ge=0)] = 0) -> Response:
    """One group of a large farm's bench list, so many lines at a time."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        parts: tuple[FittedPart, ...] = getattr(bench(store, moment(None)), group)
        before = max(0, skip - MOST_OF_GROUP) if skip else None
        context = GroupContext(group, parts[skip : skip + MOST_OF_GROUP], skip, len(parts), before)
        return answer(request, "bench_group", context)


@router.post("/own")
def begin_own(request: Request) -> Response:
    """Leave the demo farm for the person's own."""
    farms: Farms = request.app.state.farms
    farms.begin_own()
    return done(request, "/", {"farm": str(farms.folder)})
