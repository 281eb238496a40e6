"""What keeps the pages to their owner: known host names, posts from our own pages alone, bounds, headers.

One layer in front of everything, errors included, so that no answer leaves without its headers.
"""

import ipaddress
import logging
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from feedwright.errors import BadInput, FeedwrightError
from feedwright.web.asker import asker_of, host_name, is_loopback
from feedwright.web.errors import answer_refusal, unexpected

LONGEST_UPLOAD_BYTES = 512 * 1024 * 1024
LONGEST_FORM_BYTES = 4 * 1024 * 1024
"""What a form or JSON may bring, which is held in memory; a file is not."""
LONGEST_SIGN_IN_BYTES = 16 * 1024
"""What somebody may send who is not known yet."""
UNSAFE = ("POST", "PUT", "PATCH", "DELETE")
"""Methods that change something (RFC 9110, 9.2.1: the others must not)."""
JSON_API, API_UPLOADS = "/api/", ("/api/v1/toolpaths",)
YEAR_S = 365 * 24 * 3600
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
        "connect-src 'self'; worker-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class Guard:
    """The layer; ``hosts`` are the names it answers to, ``any_address`` also every plain IP address.

    A page elsewhere can make a browser ask us only under a name, never under a bare address, so that an address in the
    Host header is no danger where the pages are open to the network.
    """

    def __init__(self, app: ASGIApp, hosts: frozenset[str], *, any_address: bool) -> None:
        self._app = app
        self._hosts = hosts
        self._any_address = any_address

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        body, answer = _Body(receive, _most_bytes(request)), _Answer(request, send)
        refused = self._refusal(request)
        if refused is not None:
            await answer_refusal(request, *refused)(scope, receive, answer)
            return
        fault: Exception | None = None
        try:
            await self._app(scope, body, lambda message: answer(message, held_back=body.too_long))
        except Exception as error:
            fault = error
        if body.too_long and not answer.began:
            await answer_refusal(request, *_too_long(request))(scope, receive, answer)
        elif fault is not None:
            logging.getLogger("feedwright.web").error("unexpected fault on %s", request.url.path, exc_info=fault)
            if answer.began:
                raise fault
            await unexpected(request)(scope, receive, answer)

    def _refusal(self, request: Request) -> tuple[FeedwrightError, int] | None:
        headers = request.headers
        if not self._known(host_name(headers)):
            return BadInput("host", expected="this name is not ours", remedy="open the address that was printed"), 400
        if request.method in UNSAFE and _from_elsewhere(headers):
            words = "the form came from another site's page"
            return BadInput("form", expected=words, remedy="open the page here and try again"), 403
        length = headers.get("content-length", "0")
        if length.isdigit() and int(length) > _most_bytes(request):
            return _too_long(request)
        return None

    def _known(self, name: str) -> bool:
        try:
            return name in self._hosts or (self._any_address and bool(ipaddress.ip_address(name)))
        except ValueError:
            return False


def _most_bytes(request: Request) -> int:
    """How much a request may bring: a file much, a form little, somebody at the sign-in next to nothing."""
    path = request.url.path
    if path == "/sign-in":
        return LONGEST_SIGN_IN_BYTES
    files = request.headers.get("content-type", "").startswith("multipart/form-data")
    uploads = files and (not path.startswith(JSON_API) or path in API_UPLOADS)
    return LONGEST_UPLOAD_BYTES if uploads else LONGEST_FORM_BYTES


def _too_long(request: Request) -> tuple[FeedwrightError, int]:
    most = _most_bytes(request)
    if most == LONGEST_UPLOAD_BYTES:
        words, remedy = "it is larger than 512 MB", "pack it with gzip, or use `feedwright toolpath add`"
        return BadInput("file", expected=words, remedy=remedy), 413
    words = f"it is larger than {most // 1024} kB"
    return BadInput("request", expected=words, remedy="send less at a time"), 413


def _from_elsewhere(headers: Headers) -> bool:
    """True for a post that another site's page made; a program that sends no such header is let through."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site not in ("same-origin", "none")
    origin = headers.get("origin")
    return origin is not None and urlsplit(origin).netloc != headers.get("host")


def _of_this_answer(request: Request) -> dict[str, str]:
    """Headers that depend on who asked and how: what the network saw is kept in no cache, https stays https."""
    headers = {}
    if not request.url.path.startswith("/static/"):
        headers["Cache-Control"] = "private, no-cache" if asker_of(request).kind == "here" else "no-store"
    host = host_name(request.headers)
    if request.url.scheme == "https":
        headers["Strict-Transport-Security"] = f"max-age={YEAR_S}"
    if request.url.scheme == "https" or host == "localhost" or is_loopback(host):
        headers["Cross-Origin-Opener-Policy"] = "same-origin"  # over plain http browsers ignore it, and say so
    return headers


class _Answer:
    """Sends an answer on with the guarding headers."""

    def __init__(self, request: Request, send: Send) -> None:
        self._request = request
        self._send = send
        self.began = False

    async def __call__(self, message: Message, *, held_back: bool = False) -> None:
        """Send one message, unless the answer was made of half a body and has not begun."""
        if held_back and not self.began:
            return
        if message["type"] == "http.response.start":
            self.began = True
            headers = MutableHeaders(scope=message)
            for name, value in (HEADERS | _of_this_answer(self._request)).items():
                headers.setdefault(name, value)
        await self._send(message)


class _Body:
    """A request's body, counted as it comes: more than a request may bring is cut off, whatever its length said."""

    def __init__(self, receive: Receive, most: int) -> None:
        self._receive = receive
        self._most = most
        self._count = 0
        self.too_long = False

    async def __call__(self) -> Message:
        """The next piece."""
        message = await self._receive()
        self._count += len(message.get("body", b""))
        if self._count > self._most:
            self.too_long = True
            raise ConnectionAbortedError
        return message
