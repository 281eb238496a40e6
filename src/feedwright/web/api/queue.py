"""The API's queue: what is to be printed, and which machine a person put it on."""

from typing import Any

from fastapi import APIRouter
from starlette.requests import Request

from feedwright.errors import Conflict
from feedwright.farm.prints.queue import QueueLine, add_to_queue, place, queue_entry, queue_lines, take_off
from feedwright.web.api.base import MANAGE, READ, RECORD, EntryKey, ListSpan, Number, Once, Page, router_of
from feedwright.web.api.given import PlaceGiven, QueueGiven, VoidGiven
from feedwright.web.api.told import QueueTold, Voided
from feedwright.web.render import farm

router: APIRouter = router_of("queue")


def _told(line: QueueLine) -> dict[str, Any]:
    entry = line.entry
    return {
        "number": entry.id, "toolpath": line.toolpath.sha256, "toolpath_name": line.toolpath.name,
        "material": entry.material, "copies": entry.copies, "done_count": line.done,
        "under_way_count": line.under_way, "waiting_count": line.left, "queued_utc": entry.queued_utc,
        "due_utc": entry.due_utc, "machine": line.placed.name if line.placed else "", "note": entry.note,
    }  # fmt: skip


@router.get("/queue", response_model=Page[QueueTold], dependencies=[READ], summary="The queue, what is due first first")
def list_queue(request: Request, span: ListSpan, complete: bool = False) -> Any:
    """Those that are done too where asked for."""
    with farm(request) as store:
        return span.of(queue_lines(store, complete=complete), _told)


@router.post("/queue", response_model=QueueTold, status_code=201, dependencies=[RECORD], summary="Queue a toolpath")
def add(request: Request, given: QueueGiven, entry_key: EntryKey = "") -> Any:
    """A known file; hand it in first."""
    with farm(request) as store:
        number = Once(request, store, entry_key, given).number(
            "queue_entries", lambda: add_to_queue(store, **given.model_dump()).entry.id
        )
        line = next((one for one in queue_lines(store, complete=True) if one.entry.id == number), None)
        if line is None:
            raise Conflict(
                "queue", place=f"number {number}", expected="it was taken off since", remedy="take a new key"
            )
        return _told(line)


@router.get("/queue/{number}", response_model=QueueTold, dependencies=[READ], summary="One entry of the queue")
def show(request: Request, number: Number) -> Any:
    """Unless it was taken off."""
    with farm(request) as store:
        return _told(queue_entry(store, number))


@router.post("/queue/{number}/place", response_model=QueueTold, dependencies=[RECORD], summary="Put it on a machine")
def put(request: Request, number: Number, given: PlaceGiven) -> Any:
    """Whatever is proposed; no machine leaves it to the proposal again."""
    with farm(request) as store:
        return _told(place(store, number, given.machine, note=given.note, person=given.person))


@router.post("/queue/{number}/take-off", response_model=Voided, dependencies=[MANAGE], summary="Take it off the queue")
def take(request: Request, number: Number, given: VoidGiven) -> Any:
    """What was printed for it stays."""
    with farm(request) as store:
        return {"done": take_off(store, number, reason=given.reason, person=given.person)}
