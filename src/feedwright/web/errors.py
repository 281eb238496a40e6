"""One shape for every refusal: a page for people, the same fields for programs."""

import math
from urllib.parse import unquote, urlsplit
from zoneinfo import ZoneInfo

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Match

from feedwright.errors import (
    BadInput,
    Conflict,
    FeedwrightError,
    NotAllowed,
    NotFound,
    NotSignedIn,
    StillWorking,
    StoreError,
    TooOften,
    refusal_of_system,
)
from feedwright.web.render import page, wants_json

STATUS: tuple[tuple[type[FeedwrightError], int], ...] = (
    (NotFound, 404),
    (Conflict, 409),
    (NotSignedIn, 401),
    (NotAllowed, 403),
    (TooOften, 429),
    (StillWorking, 503),
    (StoreError, 503),
    (FeedwrightError, 422),
)


def status_of(refusal: FeedwrightError) -> int:
    """The HTTP status of a refusal."""
    return next(code for kind, code in STATUS if isinstance(refusal, kind))


def answer_refusal(request: Request, refusal: FeedwrightError, status: int) -> Response:
    """A refusal as a page or as JSON. The farm is not opened for it: it may be what refused."""
    if wants_json(request):
        answer: Response = JSONResponse(refusal.as_dict(), status)
    else:
        if not hasattr(request.state, "zone"):
            request.state.zone = ZoneInfo("UTC")
        template = "still_working" if isinstance(refusal, StillWorking) else "refusal"
        answer = page(request, template, {"refusal": refusal, "back": _where_from(request)}, status=status)
    if isinstance(refusal, StillWorking):
        answer.headers["Refresh"] = answer.headers["Retry-After"] = str(math.ceil(refusal.wait_s))
        if (hasten := request.app.state.farms.hasten) is not None:
            hasten(plans=True)
    if isinstance(refusal, TooOften):
        answer.headers["Retry-After"] = str(math.ceil(refusal.wait_s))
    if isinstance(refusal, NotSignedIn):
        feed = request.url.path.endswith(".ics")
        answer.headers["WWW-Authenticate"] = 'Basic realm="Feedwright", charset="UTF-8"' if feed else "Bearer"
    return answer


def _where_from(request: Request) -> str:
    """The page of our own that the person came from; empty where it was itself the answer to a form."""
    parts = urlsplit(request.headers.get("referer", ""))
    if parts.netloc != request.headers.get("host") or not parts.path.startswith("/"):
        return ""
    asked = {"type": "http", "method": "GET", "path": unquote(parts.path), "root_path": "", "headers": []}
    if not any(route.matches(asked)[0] is Match.FULL for route in request.app.routes):
        return ""
    return f"{parts.path}?{parts.query}" if parts.query else parts.path


def unexpected(request: Request) -> Response:
    """What a person sees of a fault of the program's own."""
    words = "something went wrong that should not"
    return answer_refusal(
        request, FeedwrightError("Feedwright", expected=words, remedy="try again; if it stays, report it"), 500
    )


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, FeedwrightError)
    return answer_refusal(request, error, status_of(error))


async def _system(request: Request, error: Exception) -> Response:
    assert isinstance(error, OSError)
    return answer_refusal(request, refusal_of_system(error), 507)


async def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    refusal = BadInput(str(first["loc"][-1]), expected=str(first["msg"]), remedy="correct the field and send it again")
    unreadable = first["type"] == "json_invalid"
    return answer_refusal(request, refusal, 400 if unreadable else 422)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    refusal: FeedwrightError = BadInput("request", expected=str(error.detail), remedy="go back and try again")
    if error.status_code == 404:
        refusal = NotFound(
            "page", place=request.url.path, expected="there is no such page", remedy="go back to the bench"
        )
    answer = answer_refusal(request, refusal, error.status_code)
    for name, value in (error.headers or {}).items():  # such as what may be asked instead
        answer.headers[name] = value
    return answer


def install(app: FastAPI) -> None:
    """Register the answers."""
    app.add_exception_handler(FeedwrightError, _refused)
    app.add_exception_handler(OSError, _system)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http)
