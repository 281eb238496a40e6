"""What the API is, for programs as OpenAPI and for people as a page."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from fastapi import APIRouter
from fastapi.openapi.utils import get_openapi
from fastapi.routing import APIRoute
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from feedwright import __version__
from feedwright.farm.access.devices import SCOPES
from feedwright.web.api import machines, queue, records, runs, service, stores
from feedwright.web.api.base import scope_of
from feedwright.web.render import answer

ROUTERS = (machines.router, runs.router, queue.router, records.router, service.router, stores.router)
TAGS = {
    "machines": "Machines, the parts fitted to them, and what is expected of each",
    "prints": "Toolpaths, runs, and prints under way",
    "queue": "What is to be printed",
    "records": "Findings, renewals and events",
    "service": "Cases, visits and rounds",
    "stores": "Stores and spools",
}
ABOUT = """The farm for other programs. Answers are JSON; times are ISO 8601 with their zone; the unit of a quantity is
in its name. At the machine itself no sign-in is needed; over the network send a device's token as
`Authorization: Bearer fw-...`. What a token may do are its scopes, named at each route. A refusal always has the same
five fields and writes nothing."""
router = APIRouter()


@dataclass(frozen=True, slots=True)
class Value:
    """One value that a route takes or a body holds."""

    name: str
    where: str
    kind: str
    needed: bool
    words: str


@dataclass(frozen=True, slots=True)
class Operation:
    """One route, for people."""

    method: str
    path: str
    summary: str
    words: str
    scope: str
    values: tuple[Value, ...]
    answers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ApiContext:
    """Every route by what it is about."""

    scopes: dict[str, str]
    groups: list[tuple[str, list[Operation]]]


def routes() -> list[APIRoute]:
    """Every route of the API; each names its scope, or nothing starts."""
    held = [route for one in ROUTERS for route in one.routes if isinstance(route, APIRoute)]
    for route in held:
        scope_of(route)
    return held


@cache
def description() -> dict[str, Any]:
    """The OpenAPI description."""
    told = get_openapi(
        title="Feedwright", version=__version__, description=ABOUT, routes=routes(),
        tags=[{"name": name, "description": words} for name, words in TAGS.items()],
    )  # fmt: skip
    device = told["components"]["securitySchemes"]["device"]
    device["description"] += " Scopes: " + "; ".join(f"{name} ({words})" for name, words in SCOPES.items()) + "."
    return told


@router.get("/api/openapi.json")
def openapi(request: Request) -> Response:
    """The description for programs."""
    held: dict[str, Any] = request.app.state.api_description
    return JSONResponse(held)


@router.get("/api")
def page(request: Request) -> Response:
    """The same for people."""
    held: dict[str, Any] = request.app.state.api_description
    groups = [(words, list(_operations(held, name))) for name, words in TAGS.items()]
    return answer(request, "api", ApiContext(SCOPES, groups))


def _operations(held: dict[str, Any], tag: str) -> Iterator[Operation]:
    for path, methods in held["paths"].items():
        for method, one in methods.items():
            if tag in one["tags"]:
                yield _operation(held, path, method, one)


def _operation(held: dict[str, Any], path: str, method: str, one: dict[str, Any]) -> Operation:
    taken = [
        Value(value["name"], value["in"], _kind(value["schema"]), value.get("required", False),
              value.get("description") or value["schema"].get("description", ""))
        for value in one.get("parameters", ())
    ]  # fmt: skip
    for content, body in one.get("requestBody", {}).get("content", {}).items():
        where = "file" if content.startswith("multipart") else "body"
        taken += _fields(held, body["schema"], where)
    good = [code for code in one["responses"] if code.startswith("2")]
    answers = [(code, one["responses"][code]["description"]) for code in (*good, *_refused(one))]
    scope = one["security"][0]["device"][0]
    return Operation(
        method.upper(), path, one["summary"], one.get("description", ""), scope, tuple(taken), tuple(answers)
    )


def _refused(one: dict[str, Any]) -> Sequence[str]:
    return [code for code in one["responses"] if not code.startswith("2")]


def _fields(held: dict[str, Any], schema: dict[str, Any], where: str) -> list[Value]:
    """The fields of a body by its schema."""
    named = schema.get("$ref", "").rpartition("/")[2]
    body = held["components"]["schemas"][named] if named else schema
    needed = body.get("required", ())
    return [
        Value(name, where, _kind(field), name in needed, field.get("description", ""))
        for name, field in body.get("properties", {}).items()
    ]


def _kind(schema: dict[str, Any]) -> str:
    """A schema's kind in a few words."""
    if "enum" in schema:
        return " or ".join(str(one) for one in schema["enum"])
    if "anyOf" in schema:
        return " or ".join(_kind(one) for one in schema["anyOf"] if one.get("type") != "null")
    kind = schema.get("format") or schema.get("contentMediaType") or str(schema.get("type", "object"))
    return f"list of {_kind(schema['items'])}" if kind == "array" and "items" in schema else kind
