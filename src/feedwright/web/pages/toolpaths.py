"""Toolpaths: dropping a file, and what a file asks of a machine."""

from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from feedwright.errors import BadInput
from feedwright.farm.machines.machines import machine_named, machines
from feedwright.farm.toolpaths.toolpaths import known_toolpaths, reading_for, toolpath_named
from feedwright.farm.toolpaths.uploads import take_upload
from feedwright.records.values import Machine, Toolpath
from feedwright.toolpath.values import Duty, Reading
from feedwright.web import charts
from feedwright.web.render import answer, done, farm, no_farm_yet
from feedwright.web.uploads import on_disk

router = APIRouter()


@dataclass(frozen=True, slots=True)
class ListContext:
    """Every toolpath that is known."""

    toolpaths: list[Toolpath]


@dataclass(frozen=True, slots=True)
class ShowContext:
    """What one toolpath asks of a machine."""

    toolpath: Toolpath
    reading: Reading
    duty: Duty
    machine: str
    machines: list[Machine]
    flow_chart: dict[str, object]
    heat_chart: dict[str, object]
    histogram: dict[str, object]


@router.get("/toolpaths")
def list_(request: Request) -> Response:
    """Every toolpath, and the place to drop a file."""
    if no_farm_yet(request):
        return answer(request, "toolpaths", ListContext([]))
    with farm(request) as store:
        return answer(request, "toolpaths", ListContext(known_toolpaths(store)))


@router.post("/toolpaths")
def add(request: Request, file: Annotated[UploadFile, ...], walk: Annotated[str, Form()] = "") -> Response:
    """Read an uploaded file and keep it; its name is only ever shown, never used as a path.

    ``walk`` names the machine with which the steps of first use go on; '-' where there is none yet.
    """
    with farm(request, create=True) as store, on_disk(file) as path:
        kept = take_upload(store, path, name=file.filename)
    short = kept.sha256[:12]
    onward = f"/first?step=3&toolpath={short}" + ("" if walk == "-" else f"&machine={quote(walk)}")
    return done(request, onward if walk else f"/toolpaths/{short}", kept)


@router.get("/toolpaths/{sha256}")
def show(request: Request, sha256: str, machine: str = "") -> Response:
    """What one toolpath asks of a machine."""
    with farm(request) as store:
        known = toolpath_named(store, sha256)
        whose = machine_named(store, machine) if machine else None
        reading = reading_for(store, known, whose)
        if reading.duty is None:
            raise BadInput(known.name, expected=reading.refused_because, remedy="add the right file")
        context = ShowContext(
            known, reading, reading.duty, machine, machines(store), charts.flow_over_print(reading.duty),
            charts.heat_over_print(reading.duty), charts.flow_histogram(reading.duty),
        )  # fmt: skip
        return answer(request, "toolpath", context)
