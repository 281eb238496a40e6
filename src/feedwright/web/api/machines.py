"""The API's machines, the parts fitted to them, and what is expected of each."""

import math
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request

from feedwright.farm.ground.house import moment
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.machines.machines import add_machine, machine_named, machines
from feedwright.farm.outlook.bench import bench
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.records.values import Fitting, Machine
from feedwright.wear.values import Interval
from feedwright.web.api.base import MANAGE, READ, EntryKey, ListSpan, Once, Page, router_of
from feedwright.web.api.given import MachineGiven
from feedwright.web.api.told import BenchTold, FittingTold, MachineTold, Me, OutlookTold
from feedwright.web.asker import asker_of
from feedwright.web.render import farm

router: APIRouter = router_of("machines")


def machine_told(machine: Machine) -> dict[str, Any]:
    """A machine as the API tells of it."""
    names = ("name", "build", "drive", "hot_end", "box_mm", "tube_needed_mm", "enclosure_c", "motion",
             "registered_utc", "note")  # fmt: skip
    return {"number": machine.id} | {name: getattr(machine, name) for name in names}


def _fitting_told(fitting: Fitting, machine: Machine) -> dict[str, Any]:
    names = ("part_kind", "position", "product", "fitted_utc", "history", "exposure_before", "length_mm", "label")
    return {"number": fitting.id, "machine": machine.name} | {name: getattr(fitting, name) for name in names}


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _band(held: Interval) -> dict[str, float | None]:
    return {"low": _finite(held.low), "mid": _finite(held.mid), "high": _finite(held.high)}


def _outlook_told(part: FittedPart) -> dict[str, Any]:
    seen, advice = part.outlook, part.advice
    return {
        "machine": part.machine.name, "fitting": part.fitting.id, "part_kind": part.kind.id,
        "position": part.fitting.position, "title": part.title, "status": advice.status, "act": advice.act,
        "exposure": _band(seen.exposure), "exposure_unit": seen.unit, "life": _band(seen.life),
        "life_source": seen.life_source, "share_used": _band(seen.share_used),
        "failure_frac_week": seen.failure_frac_week, "failure_frac_month": seen.failure_frac_month,
        "remaining_printing_h": _band(seen.remaining_printing_h), "remaining_days": _band(seen.remaining_days),
        "best_in_days": _finite(advice.best_in_days), "waiting_cost_week": advice.waiting_cost_week,
        "because": [*seen.because, *advice.because],
    }  # fmt: skip


@router.get("/me", response_model=Me, dependencies=[READ], summary="Who asks, and what they may do")
def me(request: Request) -> Any:
    """Try a token with it."""
    asker = asker_of(request)
    return {"kind": asker.kind, "name": asker.name, "scopes": sorted(asker.scopes)}


@router.get("/machines", response_model=Page[MachineTold], dependencies=[READ], summary="Machines, by name")
def list_machines(request: Request, span: ListSpan) -> Any:
    """Each as it is described now."""
    with farm(request) as store:
        return span.of(machines(store), machine_told)


@router.post(
    "/machines", response_model=MachineTold, status_code=201, dependencies=[MANAGE], summary="Describe a machine"
)
def add(request: Request, given: MachineGiven, entry_key: EntryKey = "") -> Any:
    """By a build of the catalogue; the parts it comes with are fitted."""
    with farm(request, create=True) as store:
        number = Once(request, store, entry_key, given).number(
            "machines", lambda: add_machine(store, **given.model_dump()).id
        )
        return machine_told(store.machine(number) or _gone(number))


def _gone(number: int) -> Machine:
    from feedwright.errors import Conflict

    raise Conflict("machine", place=f"number {number}", expected="it was voided since", remedy="take a new key")


@router.get("/machines/{machine}", response_model=MachineTold, dependencies=[READ], summary="One machine")
def show(request: Request, machine: str) -> Any:
    """By its name, in any letter case."""
    with farm(request) as store:
        return machine_told(machine_named(store, machine))


@router.get(
    "/machines/{machine}/fittings", response_model=Page[FittingTold], dependencies=[READ],
    summary="Parts fitted to a machine",
)  # fmt: skip
def list_fittings(request: Request, machine: str, span: ListSpan) -> Any:
    """Those fitted now."""
    with farm(request) as store:
        whose = machine_named(store, machine)
        return span.of(store.fittings(whose.id, open_only=True), lambda fitting: _fitting_told(fitting, whose))


@router.get(
    "/machines/{machine}/outlooks", response_model=Page[OutlookTold], dependencies=[READ],
    summary="What is expected of each part of a machine",
)  # fmt: skip
def list_outlooks(request: Request, machine: str, span: ListSpan) -> Any:
    """Each with its interval, its reasons and what is advised."""
    with farm(request) as store:
        return span.of(fitted_parts(store, moment(None), machines=[machine_named(store, machine)]), _outlook_told)


@router.get("/bench", response_model=BenchTold, dependencies=[READ], summary="What to service now and soon")
def show_bench(request: Request, machine: str | None = None) -> Any:
    """The dearest to put off first; of one machine where it is named."""
    with farm(request) as store:
        made = bench(store, moment(None), machine=machine)
    return {
        "at_utc": made.at_utc, "machines_count": made.machines, "runs_count": made.runs,
        "now": [_outlook_told(part) for part in made.now], "soon": [_outlook_told(part) for part in made.soon],
    }  # fmt: skip
