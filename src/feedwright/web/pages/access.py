"""Access: the passphrase, open or closed to the network, who is signed in, devices and the log of the door."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.farm.access.access import Access, access, change_passphrase, close_to_network, open_to_network
from feedwright.farm.access.access_log import LogLine, log_lines
from feedwright.farm.access.devices import SCOPES, DeviceLine, add_device, devices, revoke_device
from feedwright.farm.access.passphrases import SHORTEST
from feedwright.farm.access.sessions import SessionLine, open_sessions, sign_out, sign_out_everywhere
from feedwright.farm.ground.people import people
from feedwright.records.store import Store
from feedwright.records.values import Person
from feedwright.web.asker import Asker, address_of, asker_of
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet

router = APIRouter()


@dataclass(frozen=True, slots=True)
class AccessContext:
    """The page; ``made`` is a token just made, shown this once."""

    state: Access
    sessions: list[SessionLine]
    devices: list[DeviceLine]
    log: list[LogLine]
    people: list[Person]
    scopes: dict[str, str]
    shortest: int
    own_session: int | None
    made: str


def _context(store: Store, asker: Asker, made: str = "") -> AccessContext:
    return AccessContext(
        access(store), open_sessions(store), devices(store), log_lines(store), people(store), SCOPES, SHORTEST,
        asker.hand.session_id, made,
    )  # fmt: skip


@router.get("/access")
def show(request: Request) -> Response:
    """How the farm may be reached, and by whom."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        return answer(request, "access", _context(store, asker_of(request)))


@router.post("/access/passphrase")
def passphrase(request: Request, new: Annotated[str, Form()], current: Annotated[str, Form()] = "") -> Response:
    """Set the passphrase, or change it by the one in force."""
    with farm(request) as store:
        change_passphrase(store, current, new, address=address_of(request))
    return done(request, "/access", {"done": "the passphrase is set"})


@router.post("/access/open")
def open_(request: Request, names: Annotated[str, Form()] = "") -> Response:
    """Let the network in, also under the names given with commas or blanks between."""
    with farm(request) as store:
        state = open_to_network(store, names.replace(",", " ").split())
    return done(request, "/access", state)


@router.post("/access/close")
def close(request: Request) -> Response:
    """Shut the network out."""
    with farm(request) as store:
        state = close_to_network(store)
    return done(request, "/access", state)


@router.post("/access/devices")
def device(
    request: Request,
    name: Annotated[str, Form()],
    scope: Annotated[list[str] | None, Form()] = None,
    person: Annotated[str, Form()] = "",
) -> Response:
    """Make a token and show it in this very answer, which no cache keeps."""
    with farm(request) as store:
        _, token = add_device(store, name, scope or [], person=person)
        shown = answer(request, "access", _context(store, asker_of(request), token))
    shown.headers["Cache-Control"] = "no-store"
    return shown


@router.post("/access/devices/{number}/revoke")
def revoke(request: Request, number: int, reason: Annotated[str, Form()]) -> Response:
    """Take a device's token back."""
    with farm(request) as store:
        made = revoke_device(store, number, reason=reason)
    return done(request, "/access", {"revoked": made.name})


@router.post("/access/sessions/{number}/end")
def end(request: Request, number: int) -> Response:
    """Sign one session out."""
    with farm(request) as store:
        sign_out(store, number, address=address_of(request))
    return done(request, "/access", {"ended": 1})


@router.post("/access/sessions/end")
def end_all(request: Request) -> Response:
    """Sign everybody out."""
    with farm(request) as store:
        many = sign_out_everywhere(store, address=address_of(request))
    return done(request, "/access", {"ended": many})
