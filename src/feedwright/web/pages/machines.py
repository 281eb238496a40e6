"""The machines: the list, one machine's sheet, and describing a new one."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.drawings import Drawing, feed_path
from feedwright.catalogue.entry import Build
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.desk.sheets import machine_lines, machine_sheet
from feedwright.farm.dispatch.print_choices import UndoOffer, undo_offer
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.values import ExposurePoint, FittedPart, MachineLine, MachineSheet
from feedwright.farm.handbook.part_sheets import PartSheet, part_sheet
from feedwright.farm.machines.history import exposure_over_time
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.parts.photos import PhotosOf, photos_of
from feedwright.farm.prints.prints import UnderWay, under_way
from feedwright.farm.service.releases import held as held_visit
from feedwright.records.values import History, Visit
from feedwright.units import show
from feedwright.web import charts
from feedwright.web.fields import local_moment
from feedwright.web.pages.bench import NOTHING
from feedwright.web.pages.first import pictures
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()
LOG_SHOWN, MOST_POINTS = 60, 300


@dataclass(frozen=True, slots=True)
class ListContext:
    """Every machine with its most pressing part."""

    lines: list[MachineLine]
    printing: dict[int, UnderWay]
    """What is under way, by machine."""


@dataclass(frozen=True, slots=True)
class LogLine:
    """One line of a machine's history, and the record that it tells."""

    at_utc: datetime
    title: str
    text: str
    what: str
    number: int
    photos: tuple[int, ...] = ()
    """Numbers of the photos that show it."""


@dataclass(frozen=True, slots=True)
class SheetContext:
    """One machine."""

    sheet: MachineSheet
    drawing: Drawing
    log: list[LogLine]
    """What happened, was found and was renewed, latest first."""
    by_kind: dict[str, list[FittedPart]]
    """The fitted parts by part kind, for the drawing of the feed path."""
    now: datetime
    printing: UnderWay | None
    """What it prints."""
    held_for: Visit | None
    """The visit for which it is held: under way, or not yet released."""
    undo: UndoOffer | None
    """What was recorded of a part a moment ago."""


@dataclass(frozen=True, slots=True)
class PartContext:
    """One fitted part."""

    sheet: PartSheet
    drawing: Drawing
    exposure_chart: dict[str, object]
    delay_chart: dict[str, object] | None
    """What renewing it later costs, week by week; None where it is not renewed by age."""
    photos: PhotosOf


@dataclass(frozen=True, slots=True)
class NewContext:
    """The form for a new machine."""

    builds: list[Build]
    pictures: dict[str, Drawing]
    """Of each build."""


def log_of(sheet: MachineSheet, photos: PhotosOf) -> list[LogLine]:
    """A machine's events, findings and renewals in one list, latest first."""
    kinds = load_catalogue().parts
    happened = [
        LogLine(one.at_utc, one.kind.replace("_", " "), _said(one.note, one.minutes, "minutes"), "event", one.id)
        for one in sheet.events
    ]
    found = [
        LogLine(
            one.found_utc, kind.title,
            "looked at: " + _said(kind.grade_title(one.grade), one.reading, one.reading_unit, one.note), "finding",
            one.id, photos.findings.get(one.id, ()),
        )
        for one, fitting in sheet.findings
        for kind in (kinds[fitting.part_kind],)
    ]  # fmt: skip
    renewed = [
        LogLine(
            removal.removed_utc, kinds[fitting.part_kind].title,
            "renewed: " + _said(removal.reason, removal.trimmed_mm, "mm", removal.note), "renewal", removal.id,
            photos.without_finding(fitting.id),
        )
        for fitting, removal in sheet.past
    ]  # fmt: skip
    return sorted([*happened, *found, *renewed], key=lambda line: line.at_utc, reverse=True)[:LOG_SHOWN]


def _said(words: str, amount: float | None, unit: str, note: str = "") -> str:
    measured = "" if amount is None else show(amount, unit)
    return ", ".join(part for part in (words, measured, note) if part)


@router.get("/machines")
def list_(request: Request) -> Response:
    """Every machine."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        printing = {one.machine.id: one for one in under_way(store)}
        return answer(request, "machines", ListContext(machine_lines(store, moment(None)), printing))


@router.get("/machines/new")
def new(request: Request) -> Response:
    """The form for a new machine."""
    return answer(request, "machine_new", NewContext(list(load_catalogue().builds.values()), pictures()))


@router.post("/machines/new")
def add(
    request: Request,
    name: Annotated[str, Form()],
    build: Annotated[str, Form()],
    history: Annotated[History, Form()] = "unknown",
    since: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
    walk: Annotated[str, Form()] = "",
) -> Response:
    """Describe a new machine; makes the farm where there is none. ``walk`` goes on with the steps of first use."""
    with farm(request, create=True) as store:
        in_service = local_moment(store, since) if history == "used" else None
        made = add_machine(store, name, build, history=history, in_service_since=in_service, note=note)
    sheet = f"/machines/{quote(made.name)}?recorded=machine-{made.id}"
    return done(request, f"/first?machine={quote(made.name)}" if walk else sheet, made)


@router.get("/machines/{name}")
def sheet_page(request: Request, name: str, act: int | None = None) -> Response:
    """One machine's sheet; ``act`` is what was recorded just before."""
    with farm(request) as store:
        sheet = machine_sheet(store, name, moment(None), runs_shown=12)
        by_kind: dict[str, list[FittedPart]] = {}
        for fitted in sheet.parts:
            by_kind.setdefault(fitted.kind.id, []).append(fitted)
        drawing = feed_path(sheet.machine.drive, sheet.machine.hot_end, by_kind)
        held_for = held_visit(store, sheet.machine)
        log = log_of(sheet, photos_of(store, sheet.machine.id))
        printing = next((one for one in under_way(store) if one.machine.id == sheet.machine.id), None)
        context = SheetContext(
            sheet, drawing, log, by_kind, moment(None), printing, held_for, undo_offer(store, act)
        )  # fmt: skip
        return answer(request, "machine", context)


def _thinned(points: list[ExposurePoint]) -> list[ExposurePoint]:
    """Points of a line, no more than a screen shows apart; the last one stays."""
    step = -(-len(points) // MOST_POINTS)
    return points if step <= 1 else [*points[:-1:step], points[-1]]


@router.get("/machines/{name}/part")
def part_page(request: Request, name: str, part: str, position: int = 1) -> Response:
    """One fitted part: its outlook, how that came about, and the history of its place."""
    with farm(request) as store:
        sheet = part_sheet(store, name, part, position, moment(None))
        machine, fitted = sheet.part.machine, sheet.part
        series = [_thinned(points) for points in exposure_over_time(store, machine.name, fitted.kind.id, position)]
        there = [held.part_kind for held in store.fittings(machine.id, open_only=True)]
        context = PartContext(
            sheet, feed_path(machine.drive, machine.hot_end, there),
            charts.exposure_over_time(series, fitted.kind.exposure.unit),
            charts.cost_of_delay(fitted) if fitted.advice.cost_by_weeks else None,
            photos_of(store, machine.id),
        )  # fmt: skip
        return answer(request, "machine_part", context)
