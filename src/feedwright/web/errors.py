"""One shape for every refusal: a page for people, the same four fields for programs."""

import logging

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from feedwright.errors import BadInput, Conflict, FeedwrightError, NotFound, StoreError
from feedwright.web.render import page, wants_json

STATUS: tuple[tuple[type[FeedwrightError], int], ...] = (
    (NotFound, 404),
    (Conflict, 409),
    (StoreError, 503),
    (FeedwrightError, 422),
)


def _answer(request: Request, refusal: FeedwrightError, status: int) -> Response:
    if wants_json(request):
        return JSONResponse(refusal.as_dict(), status)
    return page(request, "refusal", {"refusal": refusal, "status": status}, status=status)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, FeedwrightError)
    status = next(code for kind, code in STATUS if isinstance(error, kind))
    return _answer(request, error, status)


async def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    field = str(first["loc"][-1])
    refusal = BadInput(field, expected=str(first["msg"]), remedy="correct the field and send it again")
    return _answer(request, refusal, 422)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 404:
        refusal: FeedwrightError = NotFound(
            "page", place=request.url.path, expected="there is no such page", remedy="go back to the bench"
        )
    else:
        refusal = BadInput("request", expected=str(error.detail), remedy="go back and try again")
    return _answer(request, refusal, error.status_code)


async def _unexpected(request: Request, error: Exception) -> Response:
    logging.getLogger("feedwright.web").error("unexpected fault on %s", request.url.path, exc_info=error)
    refusal = FeedwrightError(
        "Feedwright", expected="something went wrong that should not", remedy="try again; if it stays, report it"
    )
    return _answer(request, refusal, 500)


def install(app: FastAPI) -> None:
    """Register the answers."""
    app.add_exception_handler(FeedwrightError, _refused)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _unexpected)
