"""The gate behind the guard: finds out who asks, and lets nobody over the network past without a session or token.

Whoever is at this machine passes without. What is not named here as open to everybody is not.
"""

import base64
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from feedwright.errors import FeedwrightError, NotAllowed, NotSignedIn
from feedwright.farm.access.access import is_open
from feedwright.farm.access.access_log import note_down, refuse_too_many
from feedwright.farm.access.devices import device_of
from feedwright.farm.access.sessions import session_of
from feedwright.farm.ground.house import moment, open_farm
from feedwright.records.access_values import Hand
from feedwright.records.store import Store
from feedwright.records.values import Person
from feedwright.web.asker import EVERYTHING, Asker, address_of, cookie_name, here, is_here
from feedwright.web.errors import answer_refusal, status_of
from feedwright.web.render import Farms, wants_json
from feedwright.web.security import UNSAFE

SIGN_IN, STATIC, API = "/sign-in", "/static/", "/api/"
CALENDAR = "/rounds.ics"
"""Calendar programs know neither sessions nor bearers: the feed takes a device's token as a password (RFC 7617)."""
TOKEN_FAILED = "token_failed"


class Gate:
    """The layer; ``own_names`` are the host names under which somebody at this machine asks."""

    def __init__(self, app: ASGIApp, own_names: frozenset[str]) -> None:
        self._app = app
        self._own_names = own_names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request, or answer why not. There are no web sockets here."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        request = Request(scope)
        held = scope.setdefault("state", {})
        try:
            held["asker"] = asker = await self._asker(request)
            refused = _turned_away(request, asker)
        except FeedwrightError as error:
            refused = answer_refusal(request, error, status_of(error))
        await (refused or self._app)(scope, receive, send)

    async def _asker(self, request: Request) -> Asker:
        local = is_here(request, self._own_names)
        if "authorization" not in request.headers:
            if local:
                return here(address_of(request))
            if request.url.path.startswith(STATIC):
                return Asker("nobody", address_of(request))
        return await run_in_threadpool(_from_afar, request, local=local)


def _from_afar(request: Request, *, local: bool) -> Asker:
    """Who asks over the network, or shows a token; raises NotAllowed where the farm is closed to the network."""
    farms: Farms = request.app.state.farms
    if not farms.exists():
        if local:
            raise NotSignedIn("token", expected="there is no farm yet, and so no token", remedy="add a machine first")
        raise CLOSED
    with open_farm(farms.folder) as store:
        if not local and not is_open(store):
            raise CLOSED
        if "authorization" in request.headers:
            return _by_token(store, request)
        return _by_session(store, request) or Asker("nobody", address_of(request))


CLOSED = NotAllowed(
    "network", expected="this farm is not open to the network",
    remedy="open it at the machine that keeps it, with `feedwright access open`",
)  # fmt: skip


def _by_token(store: Store, request: Request) -> Asker:
    address, now = address_of(request), moment(None)
    token = _shown_token(request)
    device = device_of(store, token, address=address, now_utc=now) if token else None
    if device is None:  # a token of 256 bits is not guessed: what is bounded here is the log
        refuse_too_many(store, TOKEN_FAILED, address, now)
        note_down(store, TOKEN_FAILED, address=address)
        raise NotSignedIn("token", expected="no device has this token", remedy="make one on the Access page")
    if request.url.path == CALENDAR:
        if "read" not in device.scopes.split():
            raise NotAllowed("token", expected="this device may not read", remedy="make it a token that may")
    elif not request.url.path.startswith(API):
        raise NotAllowed("token", expected="a token opens the API alone", remedy="ask under /api/v1/")
    hand = Hand(device.person_id, None, device.id)
    return Asker("device", address, hand, frozenset(device.scopes.split()), device.name)


def _shown_token(request: Request) -> str:
    """The token that a request shows: as a bearer's, or to the calendar feed as a password; empty where it shows none.

    A browser sends a password again by itself, so that it opens nothing but the feed, which only reads.
    """
    word, _, shown = request.headers["authorization"].partition(" ")
    if word.lower() == "bearer":
        return shown.strip()
    if word.lower() != "basic" or request.url.path != CALENDAR or request.method not in ("GET", "HEAD"):
        return ""
    try:
        return base64.b64decode(shown, validate=True).decode().partition(":")[2]
    except ValueError:
        return ""


def _by_session(store: Store, request: Request) -> Asker | None:
    token = request.cookies.get(cookie_name(request), "")
    session = session_of(store, token, moment(None)) if token else None
    if session is None:
        return None
    person = store.one(Person, session.person_id) if session.person_id is not None else None
    hand = Hand(session.person_id, session.id)
    return Asker("session", address_of(request), hand, EVERYTHING, person.name if person else "")


def _turned_away(request: Request, asker: Asker) -> Response | None:
    """The answer to somebody who may not pass; None for who may."""
    path = request.url.path
    if asker.kind == "session" and request.method in UNSAFE and _says_nothing(request):
        words = "the request does not say which page it comes from"
        error = NotAllowed("form", expected=words, remedy="use a browser of today, or a device's token under /api/v1/")
        return answer_refusal(request, error, 403)
    if asker.kind != "nobody" or path == SIGN_IN or path.startswith(STATIC):
        return None
    if path == CALENDAR:
        unknown = NotSignedIn("calendar", expected="nobody is signed in", remedy="give a device's token as password")
        return answer_refusal(request, unknown, 401)
    if request.method == "GET" and not wants_json(request):
        return RedirectResponse(f"{SIGN_IN}?to={quote(_place(request))}", 303)
    remedy = f"open {SIGN_IN} in a browser, or send a device's token"
    return answer_refusal(request, NotSignedIn("sign-in", expected="nobody is signed in", remedy=remedy), 401)


def _says_nothing(request: Request) -> bool:
    """True for a request that a cookie vouches for and that names no origin: every browser of today names one."""
    return "sec-fetch-site" not in request.headers and "origin" not in request.headers


def _place(request: Request) -> str:
    return f"{request.url.path}?{request.url.query}" if request.url.query else request.url.path
