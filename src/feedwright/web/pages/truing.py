"""Tramming with a picture of the bed, and the working values of a machine with what speaks against them."""

import math
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.naming import NAME, text
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.machines.plates import plate_of
from feedwright.farm.service.settings_ledger import WORKING_VALUES, LedgerLine, WorkingValue, ledger, set_value
from feedwright.farm.service.truing import PastTramming, screw_drift, screws_of, set_screws, tram_machine, trammings
from feedwright.records.values import Machine
from feedwright.service.tramming import height_of_gap, height_of_paper
from feedwright.service.values import BedReading, BedScrews, Screw, ScrewDrift, TramSheet
from feedwright.web.fields import number
from feedwright.web.render import answer, done, farm

router = APIRouter()

PICTURE = 300.0
"""Longest side of the bed's picture, in its own units."""
PAST_SHOWN = 10
BY = ("probe", "gauge", "paper")


@dataclass(frozen=True, slots=True)
class Spot:
    """A reading or a screw in the picture."""

    x: float
    y: float
    text: str
    high: bool
    radius: float


@dataclass(frozen=True, slots=True)
class BedPicture:
    """The bed seen from above, its front below."""

    width: float
    height: float
    readings: tuple[Spot, ...]
    screws: tuple[Spot, ...]
    is_round: bool


@dataclass(frozen=True, slots=True)
class TramContext:
    """The form with its usual points, and the sheet once readings were given."""

    machine: Machine
    screws: BedScrews
    points: tuple[tuple[str, float, float], ...]
    drift: list[ScrewDrift]
    past: list[PastTramming]
    """The latest trammings, latest first."""
    sheet: TramSheet | None = None
    picture: BedPicture | None = None


@dataclass(frozen=True, slots=True)
class ValuesContext:
    """The working values, and the form for another."""

    machine: Machine
    lines: list[LedgerLine]
    kinds: list[WorkingValue]
    materials: list[Material]


@router.get("/machines/{name}/tram")
def form(request: Request, name: str) -> Response:
    """The form: one reading near each screw and one in the middle."""
    with farm(request) as store:
        machine = machine_named(store, name)
        screws = screws_of(store, machine)
        past = trammings(store, name)[: -PAST_SHOWN - 1 : -1]
        context = TramContext(machine, screws, _points(machine, screws), screw_drift(store, name), past)
        return answer(request, "tram", context)


@router.post("/machines/{name}/tram")
def work_out(
    request: Request, name: str, x: Annotated[list[str], Form()], y: Annotated[list[str], Form()],
    reading: Annotated[list[str], Form()], by: Annotated[str, Form()] = "probe",
    tolerance: Annotated[str, Form()] = "0.05",
) -> Response:  # fmt: skip
    """Work out the turns and keep the readings."""
    if by not in BY:
        raise BadInput("by", place=f"“{by}”", expected=f"expected one of {', '.join(BY)}", remedy="choose one")
    readings = [
        BedReading(number("x", at_x), number("y", at_y), _height(by, given))
        for at_x, at_y, given in zip(x, y, reading, strict=False)
        if given.strip()
    ]
    with farm(request) as store:
        sheet = tram_machine(store, name, readings, tolerance_mm=number("tolerance", tolerance))
        machine = machine_named(store, name)
        screws = screws_of(store, machine)
        context = TramContext(
            machine, screws, _points(machine, screws), screw_drift(store, name),
            trammings(store, name)[: -PAST_SHOWN - 1 : -1], sheet, _picture(machine, sheet),
        )  # fmt: skip
        return answer(request, "tram", context)


@router.post("/machines/{name}/screws")
def write_screws(
    request: Request, name: str, screw: Annotated[list[str], Form()], x: Annotated[list[str], Form()],
    y: Annotated[list[str], Form()], pitch: Annotated[str, Form()], clockwise: Annotated[str, Form()] = "lowers",
) -> Response:  # fmt: skip
    """Write down where the screws are; a row without a name counts for nothing."""
    held = tuple(
        Screw(text("name of a screw", given, NAME, lines=False), number("x", at_x), number("y", at_y))
        for given, at_x, at_y in zip(screw, x, y, strict=False)
        if given.strip()
    )
    with farm(request) as store:
        made = set_screws(store, name, BedScrews(held, number("pitch", pitch), clockwise_lowers=clockwise == "lowers"))
    return done(request, f"/machines/{quote(name)}/tram", made)


def _height(by: str, given: str) -> float:
    if by == "paper":
        return height_of_paper(given.strip().casefold())
    return height_of_gap(number("reading", given)) if by == "gauge" else number("reading", given)


def _points(machine: Machine, screws: BedScrews) -> tuple[tuple[str, float, float], ...]:
    middle_x, middle_y = plate_of(machine).middle_mm
    middle = ("middle", round(middle_x, 1), round(middle_y, 1))
    return (*((screw.name, screw.x_mm, screw.y_mm) for screw in screws.screws), middle)


def _picture(machine: Machine, sheet: TramSheet) -> BedPicture:
    plate = plate_of(machine)
    (wide, deep), (low_x, low_y) = plate.span_mm, plate.low_mm
    scale = PICTURE / max(wide, deep)
    height = deep * scale
    worst = max(abs(one.height_mm) for one in sheet.readings) or 1.0

    def spot(x_mm: float, y_mm: float, text: str, value: float) -> Spot:
        return Spot(
            (x_mm - low_x) * scale,
            height - (y_mm - low_y) * scale,
            text,
            value > 0,
            3 + 9 * math.sqrt(abs(value) / worst),
        )

    readings = tuple(spot(one.x_mm, one.y_mm, f"{one.height_mm:+.2f}", one.height_mm) for one in sheet.readings)
    screws = tuple(
        spot(one.screw.x_mm, one.screw.y_mm, _turn(one.clock_minutes, one.rotation), 0.0) for one in sheet.turns
    )
    return BedPicture(wide * scale, height, readings, screws, plate.is_round)


def _turn(clock_minutes: float, rotation: str) -> str:
    arrow = {"clockwise": "↻", "counter-clockwise": "↺"}.get(rotation, "")
    return f"{arrow} {abs(clock_minutes):.0f} min" if arrow else "leave"


@router.get("/machines/{name}/values")
def values(request: Request, name: str) -> Response:
    """The working values of a machine."""
    with farm(request) as store:
        context = ValuesContext(
            machine_named(store, name), ledger(store, name), list(WORKING_VALUES.values()),
            list(load_catalogue().materials.values()),
        )  # fmt: skip
        return answer(request, "values", context)


@router.post("/machines/{name}/values")
def write_value(
    request: Request, name: str, kind: Annotated[str, Form()], value: Annotated[str, Form()],
    why: Annotated[str, Form()], material: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Write one down."""
    with farm(request) as store:
        made = set_value(store, name, kind, number("value", value), why=why, material=material)
    return done(request, f"/machines/{quote(name)}/values", made)
