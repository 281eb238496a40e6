"""The API's findings, renewals and events, and taking them back."""

from typing import Any, TypeVar

from fastapi import APIRouter
from starlette.requests import Request

from feedwright.errors import NotFound
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.voids import void
from feedwright.records.store import Store
from feedwright.records.values import Event, Finding, Fitting, Machine, Removal
from feedwright.web.api.base import MANAGE, READ, RECORD, EntryKey, ListSpan, Number, Once, Page, router_of
from feedwright.web.api.given import EventGiven, FindingGiven, RenewalGiven, VoidGiven
from feedwright.web.api.told import EventTold, FindingTold, RenewalTold, Voided
from feedwright.web.render import farm

router: APIRouter = router_of("records")
V = TypeVar("V")


class _Names:
    """Fittings and machines by number, to tell records by name."""

    def __init__(self, store: Store, machine: str | None = None) -> None:
        self.machines = {held.id: held.name for held in store.machines()}
        self.only: Machine | None = None if machine is None else machine_named(store, machine)
        self.machine_id = self.only.id if self.only else None
        self.fittings = {held.id: held for held in store.fittings(self.machine_id)}

    def of(self, fitting: Fitting) -> dict[str, Any]:
        """Where a part sits."""
        return {
            "machine": self.machines[fitting.machine_id], "fitting": fitting.id, "part_kind": fitting.part_kind,
            "position": fitting.position,
        }  # fmt: skip

    def finding(self, found: Finding) -> dict[str, Any]:
        """A finding as the API tells of it."""
        names = ("found_utc", "grade", "reading", "reading_unit", "note")
        place = self.of(self.fittings[found.fitting_id])
        return {"number": found.id, **place, **{name: getattr(found, name) for name in names}}

    def renewal(self, removal: Removal) -> dict[str, Any]:
        """A renewal as the API tells of it."""
        names = ("removed_utc", "reason", "replaced_by", "trimmed_mm", "minutes", "note")
        place = self.of(self.fittings[removal.fitting_id])
        return {"number": removal.id, **place, **{name: getattr(removal, name) for name in names}}

    def event(self, event: Event) -> dict[str, Any]:
        """An event as the API tells of it."""
        names = ("kind", "at_utc", "nozzle_c", "minutes", "material", "note")
        held = {name: getattr(event, name) for name in names}
        return {"number": event.id, "machine": self.machines[event.machine_id], **held}


def _one(store: Store, kind: type[V], number: int, what: str) -> V:
    held = store.one(kind, number)
    if held is None:
        raise NotFound(what, place=f"number {number}", expected=f"no such {what}, or void already", remedy="list them")
    return held


@router.get("/findings", response_model=Page[FindingTold], dependencies=[READ], summary="Findings, latest first")
def list_findings(request: Request, span: ListSpan, machine: str | None = None) -> Any:
    """Of one machine where it is named."""
    with farm(request) as store:
        names = _Names(store, machine)
        found = store.findings(list(names.fittings))
        return span.of(sorted(found, key=lambda one: (one.found_utc, one.id), reverse=True), names.finding)


@router.post(
    "/findings", response_model=FindingTold, status_code=201, dependencies=[RECORD], summary="Record a finding"
)
def find(request: Request, given: FindingGiven, entry_key: EntryKey = "") -> Any:
    """The state a part was found in, or a reading of it."""
    with farm(request) as store:
        number = Once(request, store, entry_key, given).number(
            "findings", lambda: add_finding(store, **given.model_dump()).id
        )
        return _Names(store).finding(_one(store, Finding, number, "finding"))


@router.get("/findings/{number}", response_model=FindingTold, dependencies=[READ], summary="One finding")
def show_finding(request: Request, number: Number) -> Any:
    """Unless it is void."""
    with farm(request) as store:
        return _Names(store).finding(_one(store, Finding, number, "finding"))


@router.get("/renewals", response_model=Page[RenewalTold], dependencies=[READ], summary="Renewals, latest first")
def list_renewals(request: Request, span: ListSpan, machine: str | None = None) -> Any:
    """Of one machine where it is named."""
    with farm(request) as store:
        names = _Names(store, machine)
        removals = store.removals(names.machine_id)
        return span.of(sorted(removals, key=lambda one: (one.removed_utc, one.id), reverse=True), names.renewal)


@router.post(
    "/renewals", response_model=RenewalTold, status_code=201, dependencies=[RECORD], summary="Record a renewal"
)
def add_renewal(request: Request, given: RenewalGiven, entry_key: EntryKey = "") -> Any:
    """The old fitting ends, a new one begins at nought."""
    with farm(request) as store:
        number = Once(request, store, entry_key, given).number(
            "removals", lambda: renew(store, **given.model_dump()).removal.id
        )
        return _Names(store).renewal(_one(store, Removal, number, "renewal"))


@router.get("/renewals/{number}", response_model=RenewalTold, dependencies=[READ], summary="One renewal")
def show_renewal(request: Request, number: Number) -> Any:
    """Unless it is void."""
    with farm(request) as store:
        return _Names(store).renewal(_one(store, Removal, number, "renewal"))


@router.get("/events", response_model=Page[EventTold], dependencies=[READ], summary="Events, latest first")
def list_events(request: Request, span: ListSpan, machine: str | None = None) -> Any:
    """Of one machine where it is named."""
    with farm(request) as store:
        names = _Names(store, machine)
        events = store.events(names.machine_id)
        return span.of(sorted(events, key=lambda one: (one.at_utc, one.id), reverse=True), names.event)


@router.post("/events", response_model=EventTold, status_code=201, dependencies=[RECORD], summary="Record an event")
def happen(request: Request, given: EventGiven, entry_key: EntryKey = "") -> Any:
    """The heat that crept up the feed path is charged to the parts."""
    with farm(request) as store:
        number = Once(request, store, entry_key, given).number(
            "events", lambda: add_event(store, **given.model_dump()).id
        )
        return _Names(store).event(_one(store, Event, number, "event"))


@router.get("/events/{number}", response_model=EventTold, dependencies=[READ], summary="One event")
def show_event(request: Request, number: Number) -> Any:
    """Unless it is void."""
    with farm(request) as store:
        return _Names(store).event(_one(store, Event, number, "event"))


def _void(request: Request, what: str, number: int, given: VoidGiven) -> dict[str, str]:
    with farm(request) as store:
        return {"done": void(store, what, number, given.reason, person=given.person)}


@router.post("/findings/{number}/void", response_model=Voided, dependencies=[MANAGE], summary="Take a finding back")
def void_finding(request: Request, number: Number, given: VoidGiven) -> Any:
    """It stays on record, void, with the reason."""
    return _void(request, "finding", number, given)


@router.post("/renewals/{number}/void", response_model=Voided, dependencies=[MANAGE], summary="Take a renewal back")
def void_renewal(request: Request, number: Number, given: VoidGiven) -> Any:
    """The part taken off counts as fitted again."""
    return _void(request, "renewal", number, given)


@router.post("/events/{number}/void", response_model=Voided, dependencies=[MANAGE], summary="Take an event back")
def void_event(request: Request, number: Number, given: VoidGiven) -> Any:
    """What it had charged is taken back."""
    return _void(request, "event", number, given)
