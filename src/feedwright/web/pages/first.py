"""First use: three steps from an empty farm to a first outlook, and the demo farm to look at."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from feedwright.catalogue.drawings import Drawing, frame_picture
from feedwright.catalogue.entry import Build, Material
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import NotAllowed, NotFound
from feedwright.farm.dispatch.first_outlook import FirstOutlook, first_outlook
from feedwright.farm.ground.house import moment
from feedwright.farm.machines.machines import machines
from feedwright.farm.toolpaths.toolpaths import known_toolpaths
from feedwright.records.values import Machine, Toolpath
from feedwright.web.asker import asker_of
from feedwright.web.demo_farm import DemoFarm
from feedwright.web.render import Farms, answer, done, farm, no_farm_yet, wants_json

router = APIRouter()
DESCRIBE, DROP, OUTLOOK = 1, 2, 3


@dataclass(frozen=True, slots=True)
class Context:
    """Where the walk stands."""

    step: int
    """1: describe a machine; 2: drop a toolpath; 3: see the outlook."""
    machine: str
    toolpath: str
    builds: list[Build]
    pictures: dict[str, Drawing]
    """Of each build."""
    machines: list[Machine]
    toolpaths: list[Toolpath]
    materials: list[Material]
    outlook: FirstOutlook | None


@dataclass(frozen=True, slots=True)
class DemoContext:
    """How far the demo farm is made."""

    done_frac: float
    ready: bool
    fault: str


def pictures() -> dict[str, Drawing]:
    """A picture of every build."""
    return {build.id: frame_picture(build) for build in load_catalogue().builds.values()}


@router.get("/first")
def walk(request: Request, step: int = 0, machine: str = "", toolpath: str = "", material: str = "pla") -> Response:
    """The step that comes next, or the one asked for."""
    catalogue = load_catalogue()
    builds, materials = list(catalogue.builds.values()), list(catalogue.materials.values())
    if no_farm_yet(request):
        at = step if step in (DESCRIBE, DROP) else DESCRIBE
        return answer(request, "first", Context(at, "", "", builds, pictures(), [], [], materials, None))
    with farm(request) as store:
        known, files = machines(store), known_toolpaths(store)
        name = machine or (known[0].name if known else "")
        file = toolpath or (files[0].sha256[:12] if files and step != OUTLOOK else "")
        at = _step(step, bool(known), bool(file))
        seen = first_outlook(store, name, file, material, moment(None)) if at == OUTLOOK else None
        context = Context(at, name, file, builds, pictures(), known, files, materials, seen)
        return answer(request, "first", context)


def _step(asked: int, has_machine: bool, has_file: bool) -> int:
    """The step to show: the outlook needs a machine, and a file unless that was skipped."""
    if asked == OUTLOOK and not has_machine:
        return DESCRIBE
    if asked in (DESCRIBE, DROP, OUTLOOK):
        return asked
    if not has_machine:
        return DESCRIBE
    return OUTLOOK if has_file else DROP


def _demo(request: Request) -> DemoFarm:
    """The demo farm of these pages; only whoever is at this machine may change which farm is shown."""
    farms: Farms = request.app.state.farms
    if farms.demo is None:
        raise NotFound("demo farm", expected="these pages hold one farm alone", remedy="make it with `feedwright demo`")
    if asker_of(request).kind != "here":
        words = "the farm that is shown is chosen at the machine that keeps it"
        raise NotAllowed("demo farm", expected=words, remedy="open the pages there")
    return farms.demo


@router.post("/demo")
def look_at_demo(request: Request) -> Response:
    """Show the demo farm, which is made first where there is none."""
    demo = _demo(request)
    farms: Farms = request.app.state.farms
    if demo.ready:
        farms.show_demo()
        return done(request, "/", {"ready": True})
    demo.begin()
    return done(request, "/demo", {"ready": False})


@router.get("/demo")
def demo_progress(request: Request) -> Response:
    """How far the demo farm is made."""
    demo = _demo(request)
    context = DemoContext(demo.done_frac, demo.ready, demo.fault)
    if demo.ready and not wants_json(request):
        farms: Farms = request.app.state.farms
        farms.show_demo()
        return RedirectResponse("/", 303)
    return answer(request, "demo", context)


@router.post("/demo/away")
def throw_demo_away(request: Request) -> Response:
    """Delete the demo farm and go back to the person's own."""
    demo = _demo(request)
    farms: Farms = request.app.state.farms
    if demo.ready:
        demo.throw_away()
    farms.begin_own()
    if wants_json(request):
        return JSONResponse({"farm": str(farms.folder)})
    return RedirectResponse("/", 303)
