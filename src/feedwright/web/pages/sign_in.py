"""Signing in over the network, and signing out."""

from dataclasses import dataclass
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from feedwright.errors import FeedwrightError, NotAllowed, NotFound, TooOften
from feedwright.farm.access.sessions import LONGEST, sign_in, sign_out
from feedwright.web.asker import address_of, asker_of, cookie_name, is_https
from feedwright.web.errors import answer_refusal, status_of
from feedwright.web.fields import own_place
from feedwright.web.render import done, farm, page, wants_json

router = APIRouter()


@dataclass(frozen=True, slots=True)
class SignInContext:
    """The form, with why it was refused where it was."""

    to: str
    person: str
    refusal: FeedwrightError | None
    https: bool


def _form(request: Request, to: str, person: str, refusal: FeedwrightError | None = None) -> Response:
    asker = asker_of(request)
    if asker.kind == "nobody":  # whoever is not known learns neither the farm's name nor its zone
        request.state.zone, request.state.farm_name = ZoneInfo("UTC"), "Feedwright"
    context = SignInContext(to, person, refusal, is_https(request))
    if refusal is None:
        return page(request, "sign_in", context)
    told = answer_refusal(request, refusal, status_of(refusal))
    if wants_json(request):
        return told
    shown = page(request, "sign_in", context, status=status_of(refusal))
    if "retry-after" in told.headers:
        shown.headers["Retry-After"] = told.headers["retry-after"]
    return shown


@router.get("/sign-in")
def form(request: Request, to: str = "/") -> Response:
    """The form."""
    return _form(request, own_place(to), "")


@router.post("/sign-in")
def enter(
    request: Request,
    passphrase: Annotated[str, Form()] = "",
    person: Annotated[str, Form()] = "",
    to: Annotated[str, Form()] = "/",
) -> Response:
    """Open a session where the passphrase is right; one that was open in this browser ends."""
    own = own_place(to)
    asker = asker_of(request)
    try:
        with farm(request) as store:
            token, session = sign_in(
                store, passphrase, person=person, address=address_of(request),
                browser=request.headers.get("user-agent", ""),
            )  # fmt: skip
            if asker.hand.session_id is not None:
                sign_out(store, asker.hand.session_id, address=address_of(request))
    except (NotAllowed, TooOften, NotFound) as refusal:
        return _form(request, own, person, refusal)
    answer = done(request, own, {"session": session.id})
    answer.set_cookie(
        cookie_name(request), token, max_age=int(LONGEST.total_seconds()), path="/", secure=is_https(request),
        httponly=True, samesite="lax",
    )  # fmt: skip
    return answer


@router.post("/sign-out")
def leave(request: Request) -> Response:
    """End this browser's session, and have it forget the pages it kept."""
    session = asker_of(request).hand.session_id
    if session is not None:
        with farm(request) as store:
            sign_out(store, session, address=address_of(request))
    answer = RedirectResponse("/sign-in", 303)
    answer.delete_cookie(cookie_name(request), path="/", secure=is_https(request), httponly=True, samesite="lax")
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer
