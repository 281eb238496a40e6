"""The handbook: parts, signs, causes, checks, procedures and materials, with what this farm has learned; as one PDF."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.drawings import Drawing, feed_path
from feedwright.catalogue.entry import Material, PartKind, Source
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import Cause, Network, Observation, Step, load_network
from feedwright.catalogue.procedures import Procedure, Proof, load_procedures
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import pick
from feedwright.farm.ground.paper import paper_mm
from feedwright.farm.handbook.handbook import (
    CauseChapter,
    PartChapter,
    SignChapter,
    cause_chapter,
    handbook,
    part_chapter,
    sign_chapter,
)
from feedwright.farm.handbook.part_sheets import law_words
from feedwright.records.store import Store
from feedwright.web.render import answer, farm, no_farm_yet, page, vars_of, wants_json

router = APIRouter()
SHOWN_BUILD = "moving_bed_remote"
"""The build whose feed path stands for all: it has the most parts."""
GROUPS = {"print": "In the print", "machine": "At the machine", "hear": "To hear", "smell": "To smell",
          "inside": "Inside the feed path", "measure": "By measuring", "history": "How it began",
          "records": "In the records"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ContentsContext:
    """Everything there is, by name."""

    parts: tuple[PartChapter, ...]
    causes: tuple[Cause, ...]
    checks: tuple[Step, ...]
    repairs: tuple[Step, ...]
    procedures: tuple[Procedure, ...]
    materials: tuple[Material, ...]
    sources: tuple[Source, ...]
    drawing: Drawing


@dataclass(frozen=True, slots=True)
class SignsContext:
    """Signs of trouble by where they show."""

    groups: dict[str, list[SignChapter]]


@dataclass(frozen=True, slots=True)
class CheckContext:
    """One check or repair."""

    check: Step
    reveals: list[Observation]
    cures: list[Cause]


@dataclass(frozen=True, slots=True)
class ProcedureContext:
    """One procedure of service."""

    procedure: Procedure
    minutes: float
    tools: list[str]
    wants: list[str]
    proofs: list[Proof]
    parts: list[str]
    cautions: dict[str, str]


@dataclass(frozen=True, slots=True)
class MaterialContext:
    """One material."""

    material: Material


@contextmanager
def _farm_if_any(request: Request) -> Iterator[Store | None]:
    if no_farm_yet(request):
        yield None
        return
    with farm(request) as store:
        yield store


@router.get("/handbook")
def contents(request: Request) -> Response:
    """What there is."""
    with _farm_if_any(request) as store:
        held = handbook(store, moment(None))
        build = load_catalogue().builds[SHOWN_BUILD]
        context = ContentsContext(
            held.parts, tuple(chapter.cause for chapter in held.causes), held.checks, held.repairs, held.procedures,
            held.materials, held.sources, feed_path(build.drive, build.hot_end, [kind for kind, _, _ in build.parts]),
        )  # fmt: skip
        return answer(request, "handbook", context)


@router.get("/handbook.pdf")
def as_pdf(request: Request, paper: str = "a4") -> Response:
    """All of it on paper: ``paper`` is a4 or letter."""
    from feedwright.farm.handbook.handbook_pdf import handbook_pdf

    paper_mm(paper)  # refuses before the work begins
    with _farm_if_any(request) as store:
        held = handbook(store, moment(None))
    kept_as = {"Content-Disposition": f'attachment; filename="handbook-{paper.casefold()}.pdf"'}
    return Response(handbook_pdf(held, paper=paper), media_type="application/pdf", headers=kept_as)


@router.get("/handbook/parts/{part}")
def part_kind(request: Request, part: str) -> Response:
    """One part kind with the source of every number, and what this farm has learned of it."""
    with _farm_if_any(request) as store:
        chapter = part_chapter(store, part)
        if wants_json(request):
            return answer(request, "handbook_part", chapter)
        more = {"drawing": _where(chapter.kind), "law": law_words(chapter.kind)}
        return page(request, "handbook_part", {**vars_of(chapter), **more})


def _where(kind: PartKind) -> Drawing:
    """The feed path of a build that has the part."""
    builds = load_catalogue().builds.values()
    build = next(one for one in builds if kind.id in {part for part, _, _ in one.parts})
    return feed_path(build.drive, build.hot_end, [part for part, _, _ in build.parts])


@router.get("/handbook/signs")
def signs(request: Request) -> Response:
    """What can be seen, and what may be behind it."""
    chapters = [sign_chapter(sign) for sign in load_network().observations]
    groups = {words: [one for one in chapters if one.sign.group == group] for group, words in GROUPS.items()}
    return answer(request, "handbook_signs", SignsContext({words: held for words, held in groups.items() if held}))


@router.get("/handbook/causes/{cause}")
def cause_page(request: Request, cause: str) -> Response:
    """One cause with the source of every number."""
    with _farm_if_any(request) as store:
        chapter: CauseChapter = cause_chapter(store, cause)
        if wants_json(request):
            return answer(request, "handbook_cause", chapter)
        return page(request, "handbook_cause", {**vars_of(chapter), "network": load_network()})


@router.get("/handbook/checks/{check}")
def check_page(request: Request, check: str) -> Response:
    """One check."""
    network = load_network()
    return answer(request, "handbook_check", _check(network, pick(network.checks, check, "check")))


@router.get("/handbook/repairs/{repair}")
def repair_page(request: Request, repair: str) -> Response:
    """One repair."""
    network = load_network()
    return answer(request, "handbook_check", _check(network, pick(network.repairs, repair, "repair")))


def _check(network: Network, check: Step) -> CheckContext:
    reveals = [network.observations[name] for name in check.reveals]
    return CheckContext(check, reveals, [cause for cause in network.causes.values() if cause.cure == check.id])


@router.get("/handbook/procedures/{procedure}")
def procedure_page(request: Request, procedure: str) -> Response:
    """One procedure of service with its cautions."""
    service = load_procedures()
    held = pick(service.procedures, procedure, "procedure")
    context = ProcedureContext(
        held,
        sum(step.minutes + step.timer_minutes for step in held.steps),
        list(dict.fromkeys(tool for step in held.steps for tool in step.tools)),
        list(dict.fromkeys(part for step in held.steps for part in step.parts)),
        [service.proofs[name] for name in held.proofs],
        [part for part in (held.renews, *held.looks_at) if part],
        service.cautions,
    )
    return answer(request, "handbook_procedure", context)


@router.get("/handbook/materials/{material}")
def material_page(request: Request, material: str) -> Response:
    """One material with the source of every number."""
    return answer(request, "handbook_material", MaterialContext(pick(load_catalogue().materials, material, "material")))
