"""Whatever is typed into a field, the answer is a page or a refusal in words, never a fault."""

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from fastapi.routing import APIRoute
from small_farm import THIS_MACHINE
from starlette.testclient import TestClient

from feedwright.farm.ground.house import open_farm
from feedwright.farm.prints.prints import start
from feedwright.farm.stores.spools import add_spool
from feedwright.farm.stores.stores import add_item

NOW = datetime.now(UTC).replace(microsecond=0)
USUAL = {
    "machine": "Larch", "name": "Larch", "material": "pla", "part": "nozzle", "reason": "a slip", "number": "1",
    "hours": "1", "copies": "1", "position": "1", "day": "monday", "minutes": "60", "count": "1", "list": "runs",
}  # fmt: skip
ODD = ("nan", "99999999999999999999", "\0", "\U0001f4a9", "0001-01-01T00:00", "²")
LEFT_OUT = ("/api/", "/demo", "/exchange/archive", "/handbook")
"""The API has a test of its own; the others take no fields, and long."""


@pytest.fixture
def busy(client: TestClient) -> TestClient:
    """Something of every kind to ask for."""
    with open_farm(client.app.state.farms.folder) as store:  # type: ignore[attr-defined]
        add_spool(store, "pla", machine="Larch", tare_g=200)
        add_item(store, "Brass nozzle", ["nozzle:brass"], on_hand=4)
        start(store, "Larch", material="pla", hours=1.0, started_utc=NOW - timedelta(minutes=5))
    return TestClient(
        client.app, base_url=str(client.base_url), client=THIS_MACHINE, follow_redirects=False,
        raise_server_exceptions=False,
    )  # fmt: skip


def fields(route: APIRoute) -> list[str]:
    asked = route.dependant
    return [field.alias for one in (asked, *asked.dependencies) for field in (*one.query_params, *one.body_params)]


@pytest.mark.slow
def test_no_field_leads_to_a_fault(busy: TestClient) -> None:
    faults = []
    for route in busy.app.routes:  # type: ignore[attr-defined]
        if not isinstance(route, APIRoute) or route.path.startswith(LEFT_OUT):
            continue
        path = re.sub(r"\{([^}:]*)[^}]*\}", lambda found: USUAL.get(found[1], "1"), route.path)
        names = fields(route)
        for name in names:
            for odd in ODD:
                told: Any = {each: USUAL[each] for each in names if each in USUAL} | {name: odd}
                gets = "GET" in route.methods
                answer = busy.get(path, params=told) if gets else busy.post(path, data=told)
                if answer.status_code >= 500:
                    faults.append((path, name, odd, answer.status_code))
    assert faults == []


@pytest.mark.parametrize(
    "address",
    ["/prints?act=99999999999999999999", "/runs/1?act=99999999999999999999", "/machines/Larch/visit?material=x"],
)
def test_a_number_or_a_word_that_names_nothing_is_no_fault(busy: TestClient, address: str) -> None:
    assert busy.get(address).status_code < 500


def test_a_folder_that_no_system_can_name_is_refused(busy: TestClient) -> None:
    assert busy.post("/exchange/watch", data={"folder": "a\0b"}).status_code == 422
