"""Feed rate, flow, heater and test pieces of one machine: the same as the commands, for a phone at the bench."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.service.pieces import PieceResult, piece_for, record_piece
from feedwright.farm.service.settings_ledger import value_now
from feedwright.farm.service.truing import check_feed, check_flow, feed_health_of, tune_heater
from feedwright.records.store import Store
from feedwright.records.values import Machine
from feedwright.service.heating_log import read_heating_log
from feedwright.service.pieces import PIECES
from feedwright.service.values import FeedHealth, FeedRateSheet, FlowSheet, HeaterSheet
from feedwright.web.fields import number, number_or_none
from feedwright.web.render import answer, farm

router = APIRouter()

LONGEST_LOG_BYTES = 20_000_000
RESULT_WORDS = {
    "first_layer": "Share of good patches, 0 to 1", "retraction": "Shortest clean retraction, mm",
    "flow": "Greatest clean flow, mm³/s", "temperature": "Best temperature, °C",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Context:
    """The forms, and the answer of the one that was sent."""

    machine: Machine
    materials: list[Material]
    pieces: dict[str, tuple[str, tuple[str, ...]]]
    """Title of each test piece, and how to judge it."""
    results: dict[str, str]
    """What is entered of each piece that is judged by eye."""
    steps_per_mm: float | None
    feed: FeedRateSheet | None = None
    health: FeedHealth | None = None
    flow: FlowSheet | None = None
    heater: HeaterSheet | None = None
    aged: tuple[str, ...] = ()
    piece: PieceResult | None = None


def _context(store: Store, name: str, **found: object) -> Context:
    machine = machine_named(store, name)
    pieces = {key: (title, judge) for key, (title, _, judge) in PIECES.items()}
    steps = value_now(store, machine, "steps_per_mm")
    return Context(machine, list(load_catalogue().materials.values()), pieces, RESULT_WORDS, steps, **found)  # type: ignore[arg-type]


def _several(field: str, given: str) -> list[float]:
    """Readings apart by blanks or semicolons; a comma is a decimal one."""
    held = [number(field, word) for word in given.replace(";", " ").split()]
    if not held:
        raise BadInput(field, expected="expected at least one reading", remedy="several stand apart by blanks")
    return held


@router.get("/machines/{name}/true")
def show(request: Request, name: str) -> Response:
    """The forms."""
    with farm(request) as store:
        return answer(request, "true", _context(store, name))


@router.post("/machines/{name}/feed-rate")
def feed_rate(
    request: Request, name: str, commanded: Annotated[str, Form()], measured: Annotated[str, Form()],
    steps: Annotated[str, Form()] = "", division: Annotated[str, Form()] = "0.5", free: Annotated[str, Form()] = "",
    write: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Work out a feed test and keep it."""
    with farm(request) as store:
        sheet = check_feed(
            store, name, commanded_mm=number("commanded", commanded), measured_mm=_several("measured", measured),
            steps_per_mm=number_or_none("steps", steps), division_mm=number("division", division), free=bool(free),
            write=bool(write),
        )  # fmt: skip
        return answer(request, "true", _context(store, name, feed=sheet, health=feed_health_of(store, name)))


@router.post("/machines/{name}/flow")
def flow(
    request: Request, name: str, asked: Annotated[str, Form()], walls: Annotated[str, Form()],
    material: Annotated[str, Form()] = "pla", write: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Work out a single wall and keep it."""
    with farm(request) as store:
        sheet = check_flow(
            store, name, material=material, asked_mm=number("asked", asked), walls_mm=_several("walls", walls),
            write=bool(write),
        )  # fmt: skip
        return answer(request, "true", _context(store, name, flow=sheet))


@router.post("/machines/{name}/heater")
def heater(
    request: Request, name: str, log: UploadFile, target: Annotated[str, Form()],
    power: Annotated[str, Form()] = "100", write: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Fit a heating log and keep it."""
    held = log.file.read(LONGEST_LOG_BYTES + 1)
    if len(held) > LONGEST_LOG_BYTES:
        raise BadInput("heating log", expected="it is larger than 20 MB", remedy="keep one row a second")
    read = read_heating_log(held.decode("utf-8", errors="replace"), log.filename or "heating log")
    with farm(request) as store:
        sheet, aged = tune_heater(
            store, name, read, target_c=number("target", target), power_frac=number("power", power) / 100,
            write=bool(write),
        )  # fmt: skip
        return answer(request, "true", _context(store, name, heater=sheet, aged=tuple(aged)))


@router.post("/machines/{name}/piece/{piece}")
def piece_result(
    request: Request, name: str, piece: str, result: Annotated[str, Form()], material: Annotated[str, Form()] = "pla",
    write: Annotated[str, Form()] = "", note: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Record how a test piece was judged."""
    with farm(request) as store:
        made = record_piece(
            store, name, piece, number("result", result), material=material, note=note, write=bool(write)
        )
        return answer(request, "true", _context(store, name, piece=made))


@router.get("/machines/{name}/piece/{piece}")
def piece_file(request: Request, name: str, piece: str, material: str = "pla") -> Response:
    """A test piece as a file."""
    with farm(request) as store:
        made = piece_for(store, name, piece, material=material)
    headers = {"Content-Disposition": f'attachment; filename="{made.name}-{material}.gcode"'}
    return Response(made.text, media_type="text/plain", headers=headers)
