"""What a browser keeps: every static file under an address that changes with its content, so that it is asked once."""

import hashlib
import re
from functools import cache
from pathlib import Path
from urllib.parse import parse_qs

from jinja2.ext import Extension
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

FOLDER = Path(__file__).parent / "static"
NAMED = re.compile(r'"/static/([\w./-]+)"')
A_YEAR = "public, max-age=31536000, immutable"
"""RFC 9111 and RFC 8246: kept for a year and never asked for again."""
ASK_AGAIN = "no-cache"


@cache
def mark_of(name: str) -> str:
    """The first letters of the SHA-256 of a file's content; empty where there is none of that name."""
    path = FOLDER / name
    return hashlib.sha256(path.read_bytes()).hexdigest()[:12] if path.is_file() else ""


class Marked(Extension):
    """Puts the mark of its content behind the address of every static file that a template names."""

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:
        """The template's source with marked addresses."""
        return NAMED.sub(lambda found: f'"/static/{found[1]}?v={mark_of(found[1])}"', source)


class Assets(StaticFiles):
    """The static files: kept long where they are asked for with their mark, else asked for again each time."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file."""
        response = await super().get_response(path, scope)
        asked = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("v", [""])[0]
        response.headers["Cache-Control"] = A_YEAR if asked and asked == mark_of(path) else ASK_AGAIN
        return response
