"""The catalogue: what the trade knows, every number with its band and source."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import Material, PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.naming import pick
from feedwright.web.render import answer

router = APIRouter()


@dataclass(frozen=True, slots=True)
class ListContext:
    """Every part kind and material."""

    parts: list[PartKind]
    materials: list[Material]


@dataclass(frozen=True, slots=True)
class PartContext:
    """One part kind."""

    kind: PartKind


@dataclass(frozen=True, slots=True)
class MaterialContext:
    """One material."""

    material: Material


@router.get("/catalogue")
def list_(request: Request) -> Response:
    """Every part kind and material."""
    known = load_catalogue()
    return answer(request, "catalogue", ListContext(list(known.parts.values()), list(known.materials.values())))


@router.get("/catalogue/parts/{part}")
def part_kind(request: Request, part: str) -> Response:
    """One part kind with the source of every number."""
    return answer(request, "part_kind", PartContext(pick(load_catalogue().parts, part, "part kind")))


@router.get("/catalogue/materials/{material}")
def material_page(request: Request, material: str) -> Response:
    """One material with the source of every number."""
    return answer(request, "material", MaterialContext(pick(load_catalogue().materials, material, "material")))
