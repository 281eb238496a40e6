"""Learning: how long parts last by the farm's own findings, and how forecasts fared."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.ground.house import moment
from feedwright.farm.outlook.lessons import KindLesson, Lessons, lessons, lessons_at_hand
from feedwright.web import charts
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, farm, no_farm_yet, wants_json

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """What the learning page shows."""

    lessons: Lessons
    shown: KindLesson | None
    """The part kind whose life is drawn."""
    life_chart: dict[str, object] | None
    """Its life curve with its band, the rule of thumb and the raw findings."""
    reliability_chart: dict[str, object] | None
    """Chance said against share that happened."""


@router.get("/learning")
def show(request: Request, part: str = "") -> Response:
    """Everything learned; ``part`` chooses whose life is drawn, else that with the most findings."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        if not lessons_at_hand(store, moment(None)) and not wants_json(request):
            return answer(request, "learning_later", {})
        made = lessons(store, moment(None))
    shown = next((lesson for lesson in made.kinds if lesson.kind.id == part), next(iter(made.kinds), None))
    life = None if shown is None else charts.life_learned(shown)
    fared = None if made.hindsight is None else charts.reliability(made.hindsight)
    return answer(request, "learning", Context(made, shown, life, fared))
