"""Turning a page's context into HTML or JSON, and the few words that every page shows alike."""

import dataclasses
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
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
from feedwright.farm.ground.plain import plain
from feedwright.farm.ground.settings import farm_name, measures, zone
from feedwright.farm.handbook.handbook import STATE_WORDS
from feedwright.farm.prints.undo import taken_back
from feedwright.records.store import Store
from feedwright.web.asker import asker_of
from feedwright.web.assets import Marked
from feedwright.web.demo_farm import DemoFarm
from feedwright.web.filters import FILTERS, IMPERIAL_SHOWN
from feedwright.web.form_keys import new_form_key
from feedwright.web.navigation import SECTIONS
from feedwright.web.words import EVENT_WORDS, REASON_WORDS

SEEN_SOON = ("/queue", "/stores")
"""What is recorded on these pages changes what the keeper plans for them: it plans at once."""
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


SAID_WHOLE = {
    "settings": "The settings are on record.", "nothing": "Nothing was changed.",
    "rounds": "The rounds are planned anew.",
}  # fmt: skip
RECORDED = ("run", "event", "machine", "item", "movement", "spool")


def recorded(request: Request) -> str:
    """What was recorded just before this page, for one line at its top; nothing for who may not read the farm."""
    if asker_of(request).kind == "nobody" or no_farm_yet(request):
        return ""
    what, _, which = request.query_params.get("recorded", "").partition("-")
    if not which:
        return SAID_WHOLE.get(what, "")
    if what == "back" and which.isdecimal():
        with farm(request) as store:
            return taken_back(store, int(which))
    return f"{what.capitalize()} {which} is on record." if what in RECORDED and which.isdecimal() else ""


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE / "templates"), autoescape=True, undefined=jinja2.StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, extensions=[Marked],
    )  # fmt: skip
    environment.filters.update(FILTERS)
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
        recorded=recorded(request) if status == 200 else "", sections=SECTIONS, asker=asker_of(request),
        EVENT_WORDS=EVENT_WORDS, REASON_WORDS=REASON_WORDS, STATE_WORDS=STATE_WORDS,
    )  # fmt: skip
    return HTMLResponse(html, status)


def answer(request: Request, name: str, context: Any) -> Response:
    """The page, or its very context as JSON where that is asked for."""
    return JSONResponse(plain(context)) if wants_json(request) else page(request, name, context)


def done(request: Request, to: str, data: Any) -> Response:
    """After a form was taken: the page to go on with, or what was recorded as JSON."""
    return JSONResponse(plain(data), 201) if wants_json(request) else RedirectResponse(to, 303)
