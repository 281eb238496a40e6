"""What keeps the pages to their owner: headers, known host names, and posts from our own pages alone."""

from urllib.parse import urlsplit

from fastapi import FastAPI
from starlette.middleware.base import BaseHTTPMiddleware, RequestResponseEndpoint
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

LONGEST_UPLOAD_BYTES = 512 * 1024 * 1024
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
        "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


def _from_elsewhere(request: Request) -> bool:
    """True for a post that another site's page made; a program that sends no such header is let through."""
    site = request.headers.get("sec-fetch-site")
    if site is not None:
        return site not in ("same-origin", "none")
    origin = request.headers.get("origin")
    return origin is not None and urlsplit(origin).netloc != request.headers.get("host")


def _refusal(status: int, expected: str, remedy: str) -> Response:
    body = {"error": "Refused", "subject": "request", "place": "", "expected": expected, "remedy": remedy}
    return JSONResponse(body, status)


async def _guard(request: Request, call_next: RequestResponseEndpoint) -> Response:
    if request.method == "POST":
        if _from_elsewhere(request):
            return _refusal(403, "the form came from another site's page", "open the page here and try again")
        length = request.headers.get("content-length", "0")
        if length.isdigit() and int(length) > LONGEST_UPLOAD_BYTES:
            return _refusal(
                413, "the file is larger than 512 MB", "pack it with gzip, or use `feedwright toolpath add`"
            )
    response = await call_next(request)
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    return response


def install(app: FastAPI, hosts: tuple[str, ...]) -> None:
    """Put the guards in front of every route."""
    app.add_middleware(BaseHTTPMiddleware, dispatch=_guard)
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=[*hosts, "testserver"])
