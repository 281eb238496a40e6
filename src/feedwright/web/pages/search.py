"""Search: one field that finds what is on record, what the handbook holds, and the pages."""

from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.desk.search import LONGEST, Candidate, candidates, find
from feedwright.web.navigation import SECTIONS
from feedwright.web.render import answer, farm, no_farm_yet

router = APIRouter()
GROUPS = {
    "machine": ("Machines", "/machines/{}"), "toolpath": ("Toolpaths", "/toolpaths/{}"), "case": ("Cases", "/cases/{}"),
    "visit": ("Visits", "/visits/{}"), "run": ("Runs", "/runs/{}"), "spool": ("Spools", "/spools/{}"),
    "page": ("Pages", "{}"), "part": ("Parts", "/handbook/parts/{}"),
    "sign": ("Signs of trouble", "/handbook/signs#{}"),
    "cause": ("Causes", "/handbook/causes/{}"), "check": ("Checks", "/handbook/checks/{}"),
    "repair": ("Repairs", "/handbook/repairs/{}"), "procedure": ("Procedures", "/handbook/procedures/{}"),
    "material": ("Materials", "/handbook/materials/{}"),
}  # fmt: skip
"""By kind: the heading, and where a hit leads."""


@dataclass(frozen=True, slots=True)
class Line:
    """One hit."""

    to: str
    title: str
    under: str
    fit_frac: float


@dataclass(frozen=True, slots=True)
class Context:
    """What was asked for, and what was found, by heading."""

    asked: str
    groups: dict[str, list[Line]]
    many: int


@router.get("/search")
def show(request: Request, q: str = "") -> Response:
    """What fits the words."""
    asked = q[:LONGEST]
    if no_farm_yet(request):
        known = candidates(None, asked)
    else:
        with farm(request) as store:
            known = candidates(store, asked)
    hits = find(asked, [*known, *_pages()])
    groups: dict[str, list[Line]] = {}
    for hit in hits:  # the best hit's group comes first
        heading, path = GROUPS[hit.found.kind]
        key = hit.found.key if hit.found.kind == "page" else quote(hit.found.key)
        groups.setdefault(heading, []).append(Line(path.format(key), hit.found.title, hit.found.under, hit.fit_frac))
    return answer(request, "search", Context(asked, groups, len(hits)))


def _pages() -> list[Candidate]:
    return [
        Candidate("page", door.to, door.words, section.words, section.words)
        for section in SECTIONS
        for door in section.doors
    ]
