"""Turning a page's context into HTML or JSON, and the few words that every page shows alike."""

import dataclasses
import math
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any, Protocol
from zoneinfo import ZoneInfo

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from feedwright.catalogue.grade_drawings import grade_drawing
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import StoreError
from feedwright.farm.ground.house import has_farm, open_farm
from feedwright.farm.ground.naming import with_capital
from feedwright.farm.ground.plain import plain
from feedwright.farm.ground.settings import farm_name, measures, zone
from feedwright.farm.handbook.handbook import STATE_WORDS
from feedwright.farm.prints.undo import taken_back
from feedwright.records.store import Store
from feedwright.units import BY_SUFFIX, show, show_duration, show_imperial, show_rounded, unit_of
from feedwright.wear.values import Interval
from feedwright.web.asker import asker_of
from feedwright.web.assets import Marked
from feedwright.web.demo_farm import DemoFarm
from feedwright.web.form_keys import new_form_key
from feedwright.web.navigation import SECTIONS
from feedwright.web.words import EVENT_WORDS, REASON_WORDS

SEEN_SOON = ("/queue", "/api/v1/queue", "/stores")
"""What is recorded there changes what the keeper plans for them: it plans at once."""
HERE = Path(__file__).parent
TIME_IN_UTC = re.compile(r"(\d{4}-\d\d-\d\d \d\d:\d\d)(?::\d\d)? UTC")
"""A time as refusals write it."""


class Hasten(Protocol):
    """Told that outlooks are out of date, and whether ``plans`` are as well."""

    def __call__(self, *, plans: bool) -> None:
        """Go to work."""


class Farms:
    """Which farm the pages show: the one they were opened on, or the person's own that takes the demo's place."""

    def __init__(self, folder: Path, own_folder: Path | None = None, demo: DemoFarm | None = None) -> None:
        self.folder = folder
        self.demo = demo
        """The demo farm that may be shown in its stead; None where these pages hold one farm alone."""
        self._own_folder = own_folder
        self._seen = has_farm(folder)
        self.hasten: Hasten | None = None
        """Has a keeper beside the pages go to work at once, where there is one."""

    @property
    def is_demo(self) -> bool:
        """True while the demo farm is shown and an own one may be begun."""
        return self._own_folder is not None

    def begin_own(self) -> None:
        """From now on the person's own farm."""
        if self._own_folder is not None:
            self.folder, self._own_folder = self._own_folder, None
            self._seen = has_farm(self.folder)

    def show_demo(self) -> None:
        """From now on the demo farm, until the person's own is begun or gone back to."""
        if self.demo is not None and self.demo.ready and not self.is_demo:
            self._own_folder, self.folder = self.folder, self.demo.folder
            self._seen = True

    def exists(self) -> bool:
        """True where the farm is there; refuses where it was there before and is gone."""
        there = has_farm(self.folder)
        if self._seen and not there:
            words = "the farm that was open is no longer there"
            raise StoreError(str(self.folder), expected=words, remedy="bring the folder back, or restore a backup")
        self._seen = self._seen or there
        return there


@contextmanager
def farm(request: Request, *, create: bool = False) -> Iterator[Store]:
    """The open farm of this application for one request."""
    farms: Farms = request.app.state.farms
    there = farms.exists()
    with open_farm(farms.folder, create=create and not there) as store:
        store.hand = asker_of(request).hand
        store.waits = farms.hasten is None or request.method != "GET"
        request.state.zone = zone(store)
        request.state.farm_name = farm_name(store)
        request.state.measures = measures(store)
        yield store
    if farms.hasten is not None and request.method != "GET":
        farms.hasten(plans=request.url.path.startswith(SEEN_SOON))


def no_farm_yet(request: Request) -> bool:
    """True where there is nothing to show but the first steps."""
    farms: Farms = request.app.state.farms
    return not farms.exists()


def wants_json(request: Request) -> bool:
    """True where the asker prefers JSON to a page."""
    accept = request.headers.get("accept", "")
    return request.url.path.startswith("/api/") or ("application/json" in accept and "text/html" not in accept)


def days_words(days: float) -> str:
    """A number of days as a person says it."""
    if math.isinf(days):
        return "no date while idle"
    if days < 1:
        return "now"
    return f"in {days:.0f} days" if days < 120 else f"in {days / 30.4:.0f} months"


def day_words(day: str) -> str:
    """A day as kept, as a person says it.

    >>> day_words("2026-12-05")
    'Sat 05 Dec'
    """
    return f"{date.fromisoformat(day):%a %d %b}"


def count(many: int, one: str, several: str = "") -> str:
    """A number of things in words.

    >>> count(1, "machine"), count(1200, "run")
    ('1 machine', '1,200 runs')
    """
    return f"{many:,} {one if many == 1 else several or one + 's'}"


SAID_WHOLE = {
    "settings": "The settings are on record.", "nothing": "Nothing was changed.",
    "rounds": "The rounds are planned anew.",
}  # fmt: skip
RECORDED = ("run", "event", "machine", "item", "movement", "spool")


def recorded(request: Request) -> str:
    """What was recorded just before this page, for one line at its top."""
    what, _, which = request.query_params.get("recorded", "").partition("-")
    if not which:
        return SAID_WHOLE.get(what, "")
    if what == "back" and which.isdigit():
        with farm(request) as store:
            return taken_back(store, int(which))
    return f"{what.capitalize()} {which} is on record." if what in RECORDED and which.isdigit() else ""


def percent(value: float) -> str:
    """A share as percent; small ones keep a digit that tells them from nothing."""
    if value >= 10:
        return "over 1,000%"
    return f"{value:.1%}" if 0 < value < 0.0995 else f"{value:.0%}"


def decimals(column: Iterable[Interval | None]) -> int:
    """How many decimals a column of numbers is shown with: as many as its greatest needs for three digits.

    >>> decimals([Interval(0.1, 0.2, 0.3), None, Interval(11.0, 12.5, math.inf)]), decimals([])
    (1, 0)
    """
    greatest = max((held.mid for held in column if held and 0 < held.mid < 1e300), default=math.inf)
    return 0 if math.isinf(greatest) else max(0, 2 - math.floor(math.log10(greatest)))


def bar_x(share: float) -> float:
    """Where a share of life falls on a bar of 300 units that ends at three lives."""
    return 100.0 * min(3.0, max(0.0, share))


def unit_symbol(suffix: str) -> str:
    """The printed symbol of a unit suffix; nothing for a plain ratio."""
    return BY_SUFFIX[suffix].symbol if suffix in BY_SUFFIX else ""


def named(name: str, unit: str) -> str:
    """A quantity's name in words, its unit's symbol after it.

    >>> named("usual_flow_mm3_s", "mm3_s")
    'usual flow, mm³/s'
    """
    plain_name = name.removesuffix(f"_{unit}").replace("_", " ")
    symbol = unit_symbol(unit)
    return f"{plain_name}, {symbol}" if symbol else plain_name


def called(name: str, value: Any) -> str:
    """A column's name in words; its unit is left to a number that is shown with it.

    >>> called("nozzle_c", 212.0), called("begun_utc", ""), called("box_mm", "230, 230, 240")
    ('nozzle', 'begun', 'box, mm')
    """
    unit = unit_of(name)
    if unit is None:
        return name.removesuffix("_utc").removesuffix("_kind").replace("_", " ")
    return (
        name.removesuffix(f"_{unit.suffix}").replace("_", " ") if isinstance(value, float) else named(name, unit.suffix)
    )


IMPERIAL_SHOWN = ContextVar("imperial shown", default=False)
"""True while a page is made for a farm that has chosen imperial measures; macros do not see a page's own values."""


def show_in_measures(value: float, suffix: str) -> str:
    """A value with its symbol, in the measures that the farm has chosen for its pages."""
    return show_imperial(value, suffix) if IMPERIAL_SHOWN.get() else show(value, suffix)


def quantity(value: Any, name: str) -> str:
    """A value as it is shown under its name: a number with its unit and no more digits than tell, all else as it is.

    >>> quantity(212.0, "nozzle_c"), quantity(1.5, "hours"), quantity(4, "copies"), quantity("PLA", "material")
    ('212 °C', '1.5', '4', 'PLA')
    """
    if not isinstance(value, float):
        return str(value)
    unit = unit_of(name)
    return show_in_measures(value, unit.suffix) if unit else f"{value:.6g}"


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE / "templates"), autoescape=True, undefined=jinja2.StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, extensions=[Marked],
    )  # fmt: skip
    environment.filters.update(
        days=days_words, day=day_words, number=show_rounded, count=count, percent=percent, bar_x=bar_x,
        show=show_in_measures, duration=show_duration, words=lambda text: text.replace("_", " "), unit=unit_symbol,
        named=named, capitalize=with_capital, quantity=quantity, called=called, decimals=decimals,
    )  # fmt: skip
    environment.globals["grade_drawing"] = grade_drawing
    environment.globals["new_form_key"] = new_form_key
    return environment


def vars_of(context: Any) -> dict[str, Any]:
    """The fields of a context by name, as they are."""
    return {field.name: getattr(context, field.name) for field in dataclasses.fields(context)}


def page(request: Request, name: str, context: Any, *, status: int = 200) -> Response:
    """A page from its template and context (a dataclass or a dict)."""
    if not hasattr(request.state, "zone") and not no_farm_yet(request):
        with farm(request):
            return page(request, name, context, status=status)
    held = context if isinstance(context, dict) else vars_of(context)
    place: ZoneInfo = getattr(request.state, "zone", ZoneInfo("UTC"))

    def local(at_utc: datetime) -> str:
        return at_utc.astimezone(place).strftime("%d %b %Y, %H:%M")

    def locally(words: str) -> str:
        """Words of a refusal, their times in the farm's zone: refusals are made where no zone is known."""
        return TIME_IN_UTC.sub(lambda found: local(datetime.fromisoformat(f"{found[1]}+00:00")), words)

    IMPERIAL_SHOWN.set(getattr(request.state, "measures", "metric") == "imperial")
    html = _environment().get_template(f"{name}.html").render(
        **held, local=local, locally=locally, path=request.url.path,
        farm_name=getattr(request.state, "farm_name", "Feedwright"), catalogue=load_catalogue(), zone_name=str(place),
        is_demo=request.app.state.farms.is_demo, has_demo=request.app.state.farms.demo is not None,
        recorded=recorded(request), sections=SECTIONS, asker=asker_of(request),
        EVENT_WORDS=EVENT_WORDS, REASON_WORDS=REASON_WORDS, STATE_WORDS=STATE_WORDS,
    )  # fmt: skip
    return HTMLResponse(html, status)


def answer(request: Request, name: str, context: Any) -> Response:
    """The page, or its very context as JSON where that is asked for."""
    return JSONResponse(plain(context)) if wants_json(request) else page(request, name, context)


def done(request: Request, to: str, data: Any) -> Response:
    """After a form was taken: the page to go on with, or what was recorded as JSON."""
    return JSONResponse(plain(data), 201) if wants_json(request) else RedirectResponse(to, 303)
