"""What every route of the API shares: scopes, pages of a list, refusals, and requests that may be sent twice."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Annotated, Any, Generic, TypeVar

from fastapi import APIRouter, Depends, Header, Query, Security
from fastapi.routing import APIRoute
from fastapi.security import HTTPBearer, SecurityScopes
from pydantic import BaseModel, ConfigDict, Field
from starlette.requests import Request

from feedwright.errors import Conflict, NotAllowed
from feedwright.farm.access.devices import SCOPES
from feedwright.records.act_reads import GREATEST_NUMBER
from feedwright.records.store import Store
from feedwright.web.asker import asker_of

PREFIX = "/api/v1"
V = TypeVar("V")
T = TypeVar("T")
LONGEST_KEY = 60
MOST_AT_ONCE, USUAL_AT_ONCE, FARTHEST = 200, 50, 10_000_000


class Told(BaseModel):
    """What the API answers."""

    model_config = ConfigDict(from_attributes=True)


class Given(BaseModel):
    """What is sent to the API: fields it does not know are refused, for they would be lost."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, json_schema_extra={"additionalProperties": False})


class Refusal(Told):
    """Why a request was refused; nothing was written then."""

    error: str = Field(description="The kind of refusal.", examples=["BadInput"])
    subject: str = Field(description="The field or thing that is wrong.", examples=["machine"])
    place: str = Field(description="Where in it, or what was given.", examples=["“Larhc”"])
    expected: str = Field(description="What would have been right.", examples=["no machine of that name"])
    remedy: str = Field(description="What to do.", examples=["did you mean Larch?"])


class Page(Told, Generic[T]):
    """Part of a list."""

    items: list[T]
    total_count: int = Field(ge=0, description="How many there are in all.")
    offset: int = Field(ge=0)
    limit: int = Field(ge=1, le=MOST_AT_ONCE)


class Span:
    """Which part of a list is wanted."""

    def __init__(
        self,
        limit: Annotated[int, Query(ge=1, le=MOST_AT_ONCE, description="How many at most.")] = USUAL_AT_ONCE,
        offset: Annotated[int, Query(ge=0, le=FARTHEST, description="How many to pass over first.")] = 0,
    ) -> None:
        self.limit, self.offset = limit, offset

    def of(self, held: Sequence[V], told: Callable[[V], Any]) -> dict[str, Any]:
        """That part of a list that is at hand whole."""
        part = held[self.offset : self.offset + self.limit]
        return self.page([told(one) for one in part], len(held))

    def page(self, items: list[Any], total: int) -> dict[str, Any]:
        """The part with how many there are."""
        return {"items": items, "total_count": total, "offset": self.offset, "limit": self.limit}


ListSpan = Annotated[Span, Depends()]
Number = Annotated[int, Field(ge=1, le=GREATEST_NUMBER)]
"""The number of a record."""

_bearer = HTTPBearer(
    auto_error=False, scheme_name="device",
    description="A device's token, made on the Access page or with `feedwright access device add`. At the machine "
    "itself none is needed; a browser that is signed in needs none either.",
)  # fmt: skip


def _allowed(request: Request, needed: SecurityScopes, _token: Annotated[Any, Depends(_bearer)]) -> None:
    """Raises NotAllowed where whoever asks lacks a scope of the route."""
    asker = asker_of(request)
    lacking = [scope for scope in needed.scopes if scope not in asker.scopes]
    if lacking:
        raise NotAllowed(
            "token", place=asker.name, expected=f"it may not {', '.join(lacking)}",
            remedy="make a token with that scope on the Access page",
        )  # fmt: skip


READ, RECORD, MANAGE = (Security(_allowed, scopes=[scope]) for scope in SCOPES)


def scope_of(route: APIRoute) -> str:
    """The one scope a route needs; raises where it names none, so that no route is left open by an oversight."""
    named = [
        scope for needed in route.dependencies if getattr(needed, "dependency", None) is _allowed
        for scope in getattr(needed, "scopes", ())
    ]  # fmt: skip
    if len(named) != 1 or named[0] not in SCOPES:
        raise RuntimeError(f"{sorted(route.methods or ())} {route.path} must name one scope, not {named}")
    return str(named[0])


REFUSALS: dict[int | str, dict[str, Any]] = {
    400: {"model": Refusal, "description": "The request cannot be read."},
    401: {"model": Refusal, "description": "No token, or none that holds."},
    403: {"model": Refusal, "description": "The token lacks the scope, or the farm is closed to the network."},
    404: {"model": Refusal, "description": "Nothing of that name or number is on record."},
    409: {"model": Refusal, "description": "The records say otherwise."},
    413: {"model": Refusal, "description": "It is too large."},
    422: {"model": Refusal, "description": "A value cannot be taken; the refusal names it."},
    429: {"model": Refusal, "description": "Tried too often; Retry-After says how many seconds to wait."},
    503: {"model": Refusal, "description": "The records cannot be opened just now."},
}


def router_of(tag: str) -> APIRouter:
    """A router for routes that belong together."""
    return APIRouter(prefix=PREFIX, tags=[tag], responses=REFUSALS)


EntryKey = Annotated[
    str,
    Header(
        alias="Idempotency-Key", max_length=LONGEST_KEY, pattern=r"^[\x21-\x7e]*$",
        description="A text of your own, new for each entry. Sent again with the same body, it answers with what was "
        "recorded the first time and records nothing; with another body it is refused with 409.",
    ),
]  # fmt: skip


class Once:
    """One request that may be sent twice: what was recorded under its key before, if anything was."""

    def __init__(self, request: Request, store: Store, entry_key: str, body: BaseModel) -> None:
        said = f"{request.method} {request.url.path} {body.model_dump_json()}"
        self._digest = hashlib.sha256(said.encode()).hexdigest()
        self._key = f"{asker_of(request).key}:{entry_key}" if entry_key else ""
        self._store = store

    def number(self, table: str, record: Callable[[], int]) -> int:
        """The number of the record that the request wrote the first time, or writes now."""
        if not self._key:
            return record()
        act_id = self._act_before()
        if act_id is None:
            self._store.hand = replace(self._store.hand, entry_key=self._key, request_sha256=self._digest)
            try:
                return record()
            except Conflict:
                act_id = self._act_before()
                if act_id is None:  # else the same request, sent at the same moment, was the quicker one
                    raise
        wrote, _ = self._store.touched_by([act_id])[act_id]
        return next(one.first for one in wrote if one.table == table)

    def _act_before(self) -> int | None:
        """The act that was done under the key before; raises Conflict where that was another request."""
        before = self._store.access.under_key(self._key)
        if before is not None and before[1].request_sha256 != self._digest:
            raise Conflict(
                "Idempotency-Key", place=self._key.partition(":")[2], expected="it was sent with another request",
                remedy="take a new key for each entry",
            )  # fmt: skip
        return None if before is None else before[0]
