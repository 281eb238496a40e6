"""The key under which a form counts once: made with the page, and bound to what was filled in."""

import hashlib
import json
import secrets
from typing import Annotated

from fastapi import Depends
from starlette.requests import Request

FIELD = "form_key"
LONGEST = 40
MOST_FIELDS = 10_000
"""In one form: five for each machine of a shelf of hundreds; its size has a bound of its own."""


def new_form_key() -> str:
    """A key for one form of one page."""
    return secrets.token_urlsafe(9)


async def _sent_key(request: Request) -> str:
    """The key of the form that was sent; empty where it carries none.

    Sent twice it is the same; gone back to and filled in otherwise it is another, which counts by itself.
    """
    form = await request.form(max_fields=MOST_FIELDS)
    key = form.get(FIELD)
    if not isinstance(key, str) or not key:
        return ""
    told = sorted((name, value) for name, value in form.multi_items() if isinstance(value, str) and name != FIELD)
    digest = hashlib.sha256(json.dumps([request.url.path, told]).encode()).hexdigest()
    return f"{key[:LONGEST]}.{digest[:24]}"


SentKey = Annotated[str, Depends(_sent_key)]
