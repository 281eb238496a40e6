"""A farm that is open to the network: how its tests ask, and what they look at."""

import re
from pathlib import Path

from fastapi.routing import APIRoute
from starlette.routing import Mount
from starlette.testclient import TestClient

from feedwright.farm.access.devices import add_device
from feedwright.records.store import Store

WORDS = "quince anvil harbour moth"
PHONE = ("192.0.2.7", 40_000)
OWN_PAGE = {"origin": "http://testserver", "sec-fetch-site": "same-origin"}
"""What a browser says of a form that our own page sends."""


def token(store: Store, *scopes: str, name: str = "Sensor", person: str | None = None) -> dict[str, str]:
    return {"authorization": f"Bearer {add_device(store, name, scopes, person=person)[1]}"}


def on_disk(folder: Path) -> bytes:
    """Every byte of the farm's folder."""
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def every_path(client: TestClient) -> list[tuple[str, str]]:
    """Each method and path of the application, with something in the place of its parameters."""
    held = [*client.app.routes]  # type: ignore[attr-defined]
    paths = []
    while held:
        route = held.pop()
        if isinstance(route, Mount):
            assert route.path == "/static", "another mount must be guarded too"
        else:
            assert isinstance(route, APIRoute)
            path = re.sub(r"\{[^}]*\}", "1", route.path)
            paths += [(method, path) for method in route.methods or ()]
    return paths
