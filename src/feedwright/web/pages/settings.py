"""Settings: the farm's name, zone, money and measures, and every figure with what it does."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Figures
from feedwright.farm.ground.settings import (
    MEASURES,
    address,
    farm_name,
    figures,
    measures,
    set_together,
    zone,
)
from feedwright.records.store import Store
from feedwright.web.fields import number
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()
GROUPS = (
    ("Work and standing still", "What a service costs in good time, and what a failure costs instead: they decide when "
     "the bench list says “service now”, and what waiting costs.",
     ("labour_per_h", "machine_per_h", "filament_per_kg", "unplanned_minutes", "look_minutes", "heat_up_minutes",
      "tram_minutes", "price_ratio")),
    ("Spares", "They decide how many spares to keep, and when to order.",
     ("delivery_price", "order_minutes", "usual_lead_days", "order_every_days", "order_most_days",
      "stock_per_year_frac")),
    ("Rounds", "They decide which service is done together, and on how many days.",
     ("round_minutes", "stop_minutes", "replan_price")),
    ("The queue", "They decide which print goes on which machine first.",
     ("late_per_h", "wait_per_h", "material_change_minutes")),
)  # fmt: skip
TITLES = {
    "labour_per_h": "An hour of work, in money",
    "machine_per_h": "An hour of a machine standing still, in money",
    "filament_per_kg": "A kilogram of filament, in money",
    "unplanned_minutes": "Clearing up after a failure, min",
    "look_minutes": "A look at one part, min",
    "heat_up_minutes": "Heating and cooling, min",
    "tram_minutes": "Tramming the bed, min",
    "price_ratio": "Price ratio: here for one of the catalogue's",
    "delivery_price": "A delivery, in money",
    "order_minutes": "Ordering one item, min",
    "usual_lead_days": "From order to arrival, days",
    "order_every_days": "Looking whether to order, every so many days",
    "order_most_days": "An order lasts at most, days",
    "stock_per_year_frac": "A spare kept for a year, as a share of its price",
    "round_minutes": "Setting out for a round, min",
    "stop_minutes": "Turning to a machine, min",
    "replan_price": "A task is moved only where that saves, in money",
    "late_per_h": "An hour late, in money",
    "wait_per_h": "An hour of waiting, in money",
    "material_change_minutes": "Changing the material, min",
    "usual_reversals_per_h": "Reversals of the feed, an hour",
}
"""What a figure is called on the page where its name alone says too little."""
USUAL = ("A usual hour of printing", "They stand in where a run has no file, and where a machine has no record yet.")


@dataclass(frozen=True, slots=True)
class Group:
    """Figures that serve the same end."""

    title: str
    does: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Context:
    """What is in force."""

    figures: Figures
    groups: list[Group]
    name: str
    zone: str
    titles: dict[str, str]
    measures: str
    address: str
    all_measures: tuple[str, ...]


def _groups(names: list[str]) -> list[Group]:
    """Every figure in one group; what none of them names is of the usual hour."""
    made = [Group(title, does, tuple(name for name in some if name in names)) for title, does, some in GROUPS]
    listed = {name for group in made for name in group.names}
    return [*made, Group(*USUAL, tuple(name for name in names if name not in listed))]


@router.get("/settings")
def show(request: Request) -> Response:
    """What is in force, and the form to change it."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        held = figures(store)
        context = Context(
            held, _groups(list(held.numbers)), farm_name(store), str(zone(store)), TITLES, measures(store),
            address(store), MEASURES,
        )  # fmt: skip
        return answer(request, "settings", context)


@router.post("/settings")
async def change(request: Request) -> Response:
    """Set those of the farm's figures and words that were changed on the page."""
    form = {name: str(value) for name, value in (await request.form()).items()}
    return await run_in_threadpool(_change, request, form)


def _change(request: Request, form: dict[str, str]) -> Response:
    with farm(request) as store:
        now = {name: held.value for name, held in figures(store).numbers.items()}
        said = _said(store)
        changed = {name: value for name, value in form.items() if value != said.get(name, value) or name in now}
        read = {name: number(TITLES.get(name, name), value) for name, value in changed.items() if name in now}
        asked = {name: figure for name, figure in read.items() if figure != now[name]}
        words = {name: value for name, value in changed.items() if name in said}
        if words or asked:
            set_together(store, words, asked)
    return done(request, f"/settings?recorded={'settings' if words or asked else 'nothing'}", form)


def _said(store: Store) -> dict[str, str]:
    """The words in force, by field."""
    return {
        "name": farm_name(store), "zone": str(zone(store)), "currency": figures(store).currency,
        "measures": measures(store), "address": address(store),
    }  # fmt: skip
