"""The API's cases, visits and rounds, to look at."""

import json
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request

from feedwright.catalogue.network import load_network
from feedwright.errors import NotFound
from feedwright.farm.cases.case_lists import CaseLine, case_lines
from feedwright.farm.cases.cases import case_sheet
from feedwright.farm.ground.house import moment
from feedwright.farm.rounds.round_sheets import rounds_sheet
from feedwright.farm.rounds.round_values import PlannedTask, Round
from feedwright.records.reads import Reads
from feedwright.records.values import Case, CaseEnding, Visit, VisitEnding
from feedwright.web.api.base import READ, ListSpan, Number, Page, router_of
from feedwright.web.api.told import CaseSheetTold, CaseTold, RoundsTold, VisitTold
from feedwright.web.render import farm

router: APIRouter = router_of("service")
EVERY = 1_000_000


def _case_told(case: Case, machine: str, seen: tuple[str, ...], ending: CaseEnding | None) -> dict[str, Any]:
    return {
        "number": case.id, "label": case.label, "machine": machine, "opened_utc": case.opened_utc,
        "material": case.material, "seen": list(seen), "closed_utc": ending.ended_utc if ending else None,
        "cause": ending.cause if ending else "", "cure": ending.cure if ending else "",
    }  # fmt: skip


def _line_told(line: CaseLine) -> dict[str, Any]:
    return _case_told(line.case, line.machine, line.seen, line.ending)


@router.get("/cases", response_model=Page[CaseTold], dependencies=[READ], summary="Cases, latest first")
def list_cases(request: Request, span: ListSpan) -> Any:
    """Open and closed."""
    with farm(request) as store:
        return span.of(case_lines(store, limit=EVERY), _line_told)


@router.get("/cases/{number}", response_model=CaseSheetTold, dependencies=[READ], summary="One case")
def show_case(request: Request, number: Number) -> Any:
    """What was told, and what is suspected."""
    with farm(request) as store:
        sheet = case_sheet(store, number, moment(None))
    file, causes = sheet.file, load_network().causes
    seen = tuple(name for name, answer in file.answers.items() if answer == "yes")
    return {
        **_case_told(file.case, file.machine.name if file.machine else "", seen, file.ending),
        "answers": file.answers, "readings": file.readings, "tried": list(file.tried),
        "suspects": [
            {"cause": one.cause, "title": causes[one.cause].title, "chance_frac": one.chance_frac}
            for one in sheet.suspects
            if one.cause in causes
        ],
    }  # fmt: skip


class _Visits:
    """Visits with their machines and endings."""

    def __init__(self, store: Reads) -> None:
        self.machines = {held.id: held.name for held in store.machines()}
        self.endings: dict[int, VisitEnding] = {ending.visit_id: ending for ending in store.visit_endings()}

    def told(self, visit: Visit) -> dict[str, Any]:
        """A visit as the API tells of it."""
        ending = self.endings.get(visit.id)
        return {
            "number": visit.id, "machine": self.machines[visit.machine_id], "begun_utc": visit.begun_utc,
            "procedures": json.loads(visit.procedures), "material": visit.material, "note": visit.note,
            "ended_utc": ending.ended_utc if ending else None, "outcome": ending.outcome if ending else "",
        }  # fmt: skip


@router.get("/visits", response_model=Page[VisitTold], dependencies=[READ], summary="Visits, latest first")
def list_visits(request: Request, span: ListSpan) -> Any:
    """Under way and ended."""
    with farm(request) as store:
        return span.of(sorted(store.visits(), key=lambda one: -one.id), _Visits(store).told)


@router.get("/visits/{number}", response_model=VisitTold, dependencies=[READ], summary="One visit")
def show_visit(request: Request, number: Number) -> Any:
    """Unless it is void."""
    with farm(request) as store:
        visit = store.one(Visit, number)
        if visit is None:
            raise NotFound("visit", place=f"number {number}", expected="no such visit", remedy="list them")
        return _Visits(store).told(visit)


def _stops_told(held: Round) -> list[dict[str, Any]]:
    return [
        {
            "number": stop.number, "machine": stop.machine.name, "day": held.day, "begins_utc": stop.begins_utc,
            "minutes": stop.minutes, "state": stop.state, "tasks": [_task_told(task) for task in stop.tasks],
        }
        for stop in held.stops
    ]  # fmt: skip


def _task_told(task: PlannedTask) -> dict[str, Any]:
    names = ("part_kind", "title", "procedure", "because")
    return {"fitting": task.fitting_id} | {name: getattr(task, name) for name in names}


@router.get("/rounds", response_model=RoundsTold, dependencies=[READ], summary="The plan of rounds in force")
def show_rounds(request: Request) -> Any:
    """Refused with 404 where none was made yet."""
    with farm(request) as store:
        sheet = rounds_sheet(store, moment(None))
    return {
        "number": sheet.plan.id, "made_utc": sheet.plan.made_utc, "first_day": sheet.plan.first_day,
        "days_count": sheet.plan.days_count, "stops": [stop for one in sheet.rounds for stop in _stops_told(one)],
    }  # fmt: skip
