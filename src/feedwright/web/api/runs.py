"""The API's toolpaths, runs, and prints under way."""

from typing import Annotated, Any

from fastapi import APIRouter, UploadFile
from pydantic import Field
from starlette.requests import Request

from feedwright.errors import Conflict, NotFound
from feedwright.farm.ground.values import RunLine
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.prints.prints import UnderWay, finish, spoil, start, stop, under_way
from feedwright.farm.prints.runs import add_run, run_lines
from feedwright.farm.prints.voids import void
from feedwright.farm.toolpaths.toolpaths import known_toolpaths, toolpath_named
from feedwright.farm.toolpaths.uploads import take_upload
from feedwright.records.store import Store
from feedwright.records.values import Toolpath
from feedwright.web.api.base import MANAGE, READ, RECORD, EntryKey, ListSpan, Number, Once, Page, router_of
from feedwright.web.api.given import PrintEndGiven, PrintGiven, RunGiven, VoidGiven
from feedwright.web.api.told import PrintTold, RunTold, ToolpathTold, Voided
from feedwright.web.render import farm
from feedwright.web.uploads import on_disk

router: APIRouter = router_of("prints")
ToolpathName = Annotated[str, Field(min_length=1, max_length=255)]


def _toolpath_told(toolpath: Toolpath) -> dict[str, Any]:
    names = ("sha256", "name", "bytes_count", "kind", "complete", "read_utc")
    return {"number": toolpath.id} | {name: getattr(toolpath, name) for name in names}


def _run_told(line: RunLine) -> dict[str, Any]:
    names = ("started_utc", "outcome", "material", "fraction", "copies", "hours", "nozzle_c", "filament_g", "note")
    toolpath = line.toolpath.sha256 if line.toolpath else None
    return {
        "number": line.run.id, "machine": line.machine, "toolpath": toolpath,
        "printing_h": line.charge.printing_s / 3600, **{name: getattr(line.run, name) for name in names},
    }  # fmt: skip


def _run(store: Store, number: int) -> dict[str, Any]:
    held = store.charged_run(number)
    if held is None:
        raise NotFound("run", place=f"number {number}", expected="no such run, or void already", remedy="list them")
    run, charge = held
    machine = next(one.name for one in store.machines() if one.id == run.machine_id)
    toolpath = store.one(Toolpath, run.toolpath_id) if run.toolpath_id else None
    return _run_told(RunLine(run, machine, toolpath, charge))


def _print_told(one: UnderWay) -> dict[str, Any]:
    names = ("started_utc", "material", "copies", "hours", "note")
    toolpath = one.toolpath.sha256 if one.toolpath else None
    return {
        "number": one.held.id, "machine": one.machine.name, "toolpath": toolpath, "ends_utc": one.ends_utc,
        **{name: getattr(one.held, name) for name in names},
    }  # fmt: skip


@router.get("/toolpaths", response_model=Page[ToolpathTold], dependencies=[READ], summary="Toolpaths, latest first")
def list_toolpaths(request: Request, span: ListSpan) -> Any:
    """Files that were read and kept."""
    with farm(request) as store:
        return span.of(known_toolpaths(store), _toolpath_told)


@router.post(
    "/toolpaths", response_model=ToolpathTold, status_code=201, dependencies=[RECORD], summary="Hand in a toolpath file"
)
def add_toolpath(request: Request, file: UploadFile) -> Any:
    """G-code as it is printed, plain or gzip, 512 MB at most; known by its content, so that twice is once."""
    with farm(request, create=True) as store, on_disk(file) as path:
        return _toolpath_told(take_upload(store, path, name=file.filename))


@router.get("/toolpaths/{toolpath}", response_model=ToolpathTold, dependencies=[READ], summary="One toolpath")
def show_toolpath(request: Request, toolpath: ToolpathName) -> Any:
    """By its name, or by how its SHA-256 begins."""
    with farm(request) as store:
        return _toolpath_told(toolpath_named(store, toolpath))


@router.get("/runs", response_model=Page[RunTold], dependencies=[READ], summary="Runs, latest first")
def list_runs(request: Request, span: ListSpan, machine: str | None = None) -> Any:
    """Of one machine where it is named."""
    with farm(request) as store:
        whose = None if machine is None else machine_named(store, machine)
        lines = run_lines(store, machine, limit=span.limit, skip=span.offset)
        return span.page([_run_told(line) for line in lines], store.runs_count(whose.id if whose else None))


@router.post("/runs", response_model=RunTold, status_code=201, dependencies=[RECORD], summary="Record a run")
def add(request: Request, given: RunGiven, entry_key: EntryKey = "") -> Any:
    """One printing that is over; it is charged to every part that was fitted when it began."""
    with farm(request) as store:
        number = Once(request, store, entry_key, given).number(
            "runs", lambda: add_run(store, **given.model_dump()).run.id
        )
        return _run(store, number)


@router.get("/runs/{number}", response_model=RunTold, dependencies=[READ], summary="One run")
def show(request: Request, number: Number) -> Any:
    """Unless it is void."""
    with farm(request) as store:
        return _run(store, number)


@router.post("/runs/{number}/void", response_model=Voided, dependencies=[MANAGE], summary="Take a run back")
def void_run(request: Request, number: Number, given: VoidGiven) -> Any:
    """It stays on record, void, with the reason; what it had charged is taken back."""
    with farm(request) as store:
        return {"done": void(store, "run", number, given.reason, person=given.person)}


@router.get("/prints", response_model=Page[PrintTold], dependencies=[READ], summary="Prints under way")
def list_prints(request: Request, span: ListSpan) -> Any:
    """The first to end first."""
    with farm(request) as store:
        return span.of(under_way(store), _print_told)


@router.post("/prints", response_model=PrintTold, status_code=201, dependencies=[RECORD], summary="A print begins")
def begin(request: Request, given: PrintGiven, entry_key: EntryKey = "") -> Any:
    """Refused with 409 where the machine prints already."""
    with farm(request) as store:
        number = Once(request, store, entry_key, given).number(
            "prints", lambda: start(store, **given.model_dump()).held.id
        )
        held = [one for one in under_way(store) if one.held.id == number]
        if not held:
            raise Conflict("print", place=f"number {number}", expected="it has ended since", remedy="take a new key")
        return _print_told(held[0])


@router.post(
    "/machines/{machine}/print/end", response_model=RunTold, status_code=201, dependencies=[RECORD],
    summary="The print on a machine ends",
)  # fmt: skip
def end(request: Request, machine: str, given: PrintEndGiven, entry_key: EntryKey = "") -> Any:
    """Complete, stopped or spoiled; it becomes a run and is charged to the parts."""
    with farm(request) as store:
        number = Once(request, store, entry_key, given).number("runs", lambda: _end(store, machine, given))
        return _run(store, number)


def _end(store: Store, machine: str, given: PrintEndGiven) -> int:
    when, note, person = given.ended_utc, given.note, given.person
    if given.outcome == "complete":
        made = finish(store, machine, ended_utc=when, note=note, person=person)
    elif given.outcome == "stopped":
        made = stop(store, machine, fraction=given.fraction, ended_utc=when, note=note, person=person)
    else:
        made = spoil(
            store, machine, fraction=given.fraction, looks=given.looks, ended_utc=when, note=note, person=person
        )
    if made.run is None:
        raise Conflict("print", place=machine, expected="it left no run", remedy="look at the machine's page")
    return made.run.id
