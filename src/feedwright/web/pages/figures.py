"""Figures: what keeping cost, how machines served, what went wrong most, and what blanket calendars would have cost."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.figures.figures import WAYS, FarmFigures, as_csv, behind, farm_figures, figures_before
from feedwright.farm.figures.savings import (
    LEAST_WEEKS,
    Savings,
    calendar_words,
    savings,
    savings_words,
    weeks_on_record,
)
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import one_of
from feedwright.farm.ground.periods import CHOICES, Period
from feedwright.farm.ground.settings import farm_name
from feedwright.planning.keeping import Work
from feedwright.web import charts
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, farm, no_farm_yet

router = APIRouter()
Days = Annotated[int | None, Query()]
MOST_SHOWN = 300


@dataclass(frozen=True, slots=True)
class Context:
    """The figures of a period."""

    figures: FarmFigures
    before_utc: datetime | None
    """When they were worked out, where something was recorded since."""
    by: str
    choices: tuple[int, ...]
    asked: str
    """The period as the words of an address."""
    long_enough: bool
    """True where a blanket calendar can be told of."""
    cause_chart: dict[str, object]
    failure_chart: dict[str, object]


@dataclass(frozen=True, slots=True)
class RecordsContext:
    """The records behind one line."""

    by: str
    name: str
    period: Period
    currency: str
    asked: str
    work: tuple[Work, ...]
    """The latest of them."""
    count: int
    cost: float


@dataclass(frozen=True, slots=True)
class SavedContext:
    """What was done against blanket calendars."""

    made: Savings | None
    said: tuple[str, ...]
    rows: tuple[tuple[str, object], ...]
    """What each way of keeping is called, and what it would have brought."""
    asked: str


@router.get("/figures")
def show(request: Request, by: str = "machine", days: Days = None, since: str = "", until: str = "") -> Response:
    """All figures of a period."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        made = farm_figures(store, moment(None), since=since, until=until, days=days)
        context = Context(
            made.without_records, figures_before(store, made), one_of("by", by, WAYS), CHOICES,
            _asked(days, since, until), weeks_on_record(store, made.period) >= LEAST_WEEKS,
            charts.costliest_causes(made.costs["cause"], made.currency), charts.failures_by_machine(made.machines),
        )  # fmt: skip
        return answer(request, "figures", context)


@router.get("/figures/records")
def records(request: Request, by: str, name: str, days: Days = None, since: str = "", until: str = "") -> Response:
    """The records behind one line."""
    with farm(request) as store:
        made = farm_figures(store, moment(None), since=since, until=until, days=days)
        found = behind(made, by, name)
        context = RecordsContext(
            by, name, made.period, made.currency, _asked(days, since, until), found[:MOST_SHOWN], len(found),
            sum(one.cost for one in found),
        )  # fmt: skip
        return answer(request, "figure_records", context)


@router.get("/figures/saved")
def saved(request: Request, days: Days = None, since: str = "", until: str = "") -> Response:
    """What was done against blanket calendars over the same weeks."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        made = savings(store, moment(None), since=since, until=until, days=days)
        said = tuple(savings_words(made)) if made else ()
        rows = tuple((calendar_words(one), one) for one in made.instead) if made else ()
        return answer(request, "figures_saved", SavedContext(made, said, rows, _asked(days, since, until)))


@router.get("/figures.pdf")
def paper_figures(request: Request, days: Days = None, since: str = "", until: str = "", paper: str = "a4") -> Response:
    """The same on paper, charts drawn."""
    from feedwright.web.figures_pdf import figures_pdf

    with farm(request) as store:
        made = farm_figures(store, moment(None), since=since, until=until, days=days)
        content = figures_pdf(made, farm_name(store), paper=paper)
    name = quote(f"figures-{made.period.since}-{made.period.until}.pdf")
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    return Response(content, media_type="application/pdf", headers=headers)


@router.get("/figures/{table}.csv")
def download(request: Request, table: str, days: Days = None, since: str = "", until: str = "") -> Response:
    """One table as a file."""
    with farm(request) as store:
        made = farm_figures(store, moment(None), since=since, until=until, days=days)
    text, name = as_csv(made, table), quote(f"figures-{table}-{made.period.since}-{made.period.until}.csv")
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(text.encode(), media_type="text/csv; charset=utf-8", headers=headers)


def _asked(days: int | None, since: str, until: str) -> str:
    return urlencode({name: value for name, value in (("days", days), ("since", since), ("until", until)) if value})
