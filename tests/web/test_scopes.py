"""A token opens what its scopes say, and no route is without one.

Source: RFC 6750 (Bearer).
"""

import re
from pathlib import Path

import pytest
from fastapi import APIRouter
from fastapi.routing import APIRoute
from from_afar import every_path, on_disk, token
from starlette.testclient import TestClient

from feedwright.farm.access.devices import SCOPES, add_device, revoke_device
from feedwright.records.store import Store
from feedwright.web.api import base, description

JSON = {"accept": "application/json"}


@pytest.mark.parametrize("route", description.routes(), ids=lambda route: f"{min(route.methods)} {route.path}")
def test_no_route_of_the_api_takes_a_token_without_its_scope(
    phone: TestClient, opened_store: Store, route: APIRoute
) -> None:
    needed, path = base.scope_of(route), re.sub(r"\{[^}]*\}", "1", route.path)
    lacking = token(opened_store, *(scope for scope in SCOPES if scope != needed))
    (method,) = route.methods
    refused = phone.request(method, path, headers=lacking, json={})
    assert (refused.status_code, refused.json()["error"]) == (403, "NotAllowed")
    assert needed in refused.json()["expected"]
    having = token(opened_store, needed, name="Other")
    nobodys = {"machine": "nobody"}  # what is asked for is not there: letting in is what matters here
    assert phone.request(method, path, headers=having, json={}, params=nobodys).status_code not in (401, 403)


def test_a_route_that_names_no_scope_lets_nothing_start() -> None:
    router = APIRouter()
    router.add_api_route("/x", lambda: None)
    with pytest.raises(RuntimeError, match="one scope"):
        base.scope_of(router.routes[0])  # type: ignore[arg-type]


def test_every_route_under_the_api_is_one_of_the_described(phone: TestClient) -> None:
    known = {re.sub(r"\{[^}]*\}", "1", route.path) for route in description.routes()}
    assert {path for _, path in every_path(phone) if path.startswith("/api/")} == known | {"/api/openapi.json"}


def test_a_token_opens_the_api_and_no_page(phone: TestClient, opened_store: Store) -> None:
    held = token(opened_store, *SCOPES)
    for path in ("/", "/books", "/access", "/sign-in"):
        assert phone.get(path, headers=held).status_code == 403, path
    assert phone.get("/api/openapi.json", headers=held).status_code == 200


@pytest.mark.parametrize(
    "given", ["", "Bearer", "Bearer ", "Bearer x", "Basic eDp5", "bearer\t", "Bearer " + 9000 * "x"]
)
def test_a_token_that_is_none_is_refused_even_at_this_machine(client: TestClient, given: str) -> None:
    told = client.get("/api/v1/me", headers={"authorization": given})
    assert told.status_code == 401
    assert set(told.json()) == {"error", "subject", "place", "expected", "remedy"}


def test_a_revoked_token_is_refused(phone: TestClient, opened_store: Store) -> None:
    device, secret = add_device(opened_store, "Sensor", ["read"])
    held = {"authorization": f"Bearer {secret}"}
    assert phone.get("/api/v1/me", headers=held).status_code == 200
    revoke_device(opened_store, device.id, reason="lost")
    assert phone.get("/api/v1/me", headers=held).status_code == 401


def test_a_token_is_shown_once_and_kept_as_a_hash(signed_in: TestClient, opened: Path) -> None:
    made = signed_in.post("/access/devices", data={"name": "Sensor", "scope": ["read", "record"]})
    (shown,) = re.findall(r"fw-[\w-]{43}", made.text)
    assert made.headers["cache-control"] == "no-store"
    page = signed_in.get("/access")
    assert "Sensor" in page.text
    assert shown not in page.text
    told = signed_in.get("/access", headers=JSON).json()
    assert [line["device"]["token_sha256"] for line in told["devices"]] == [""]
    assert [line["session"]["token_sha256"] for line in told["sessions"]] == [""]
    assert shown.encode() not in on_disk(opened)
