"""Whether a machine will print a file well, as it stands."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.dispatch.fits import FitReport, fit
from feedwright.farm.machines.machines import machines
from feedwright.farm.toolpaths.toolpaths import known_toolpaths
from feedwright.records.values import Machine, Toolpath
from feedwright.web import charts
from feedwright.web.fields import number_or_none
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, farm, no_farm_yet

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Context:
    """The form, and the report where one was asked for."""

    machines: list[Machine]
    toolpaths: list[Toolpath]
    materials: list[Material]
    machine: str
    toolpath: str
    material: str
    spool_g: str
    report: FitReport | None
    verdict: str
    flow_chart: dict[str, object] | None


@router.get("/fit")
def show(request: Request, machine: str = "", toolpath: str = "", material: str = "", spool_g: str = "") -> Response:
    """Hold a known toolpath against a machine."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        report = None
        if machine and toolpath and material:
            left_g = number_or_none("filament left", spool_g)
            report = fit(store, machine, toolpath, material=material, spool_g=left_g)
        chart = charts.demand_and_capacity(report.walk.picture) if report else None
        context = Context(
            machines(store), known_toolpaths(store), list(load_catalogue().materials.values()), machine, toolpath,
            material, spool_g, report, report.verdict if report else "", chart,
        )  # fmt: skip
        return answer(request, "fit", context)
