"""The bench: what to service now, why, and what comes next."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.bench import bench
from feedwright.farm.house import has_farm, moment
from feedwright.farm.values import Bench
from feedwright.web import charts
from feedwright.web.render import answer, farm, page

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """What the bench page shows."""

    bench: Bench
    life_chart: dict[str, object]
    """Life used per part across the farm."""


@router.get("/")
def show(request: Request) -> Response:
    """The bench list, or first steps where there is no machine yet."""
    if not has_farm(request.app.state.farm_folder):
        return page(request, "first_steps", {})
    with farm(request) as store:
        made = bench(store, moment(None))
        if not made.machines:
            return page(request, "first_steps", {})
        parts = (*made.now, *made.soon, *made.later, *made.watch)
        return answer(request, "bench", Context(made, charts.life_used(parts)))
