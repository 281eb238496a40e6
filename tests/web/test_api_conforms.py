"""The API does what its description says, whatever is sent: judged by schemathesis, seeded and in bounded time.

Source: the OpenAPI Specification 3.1 and JSON Schema 2020-12 as that library reads them. Requests come over the network
with a token of every scope; test_access.py tries each route without.
"""

import shutil
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import not_a_server_error, unsupported_method
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from small_farm import SAMPLES, TEST_HOSTS, THIS_MACHINE

from feedwright.farm.access.access import open_to_network, set_passphrase
from feedwright.farm.access.devices import SCOPES, add_device
from feedwright.farm.cases.cases import open_case
from feedwright.farm.ground.house import open_farm
from feedwright.farm.prints.prints import start
from feedwright.farm.prints.queue import add_to_queue
from feedwright.farm.service.service_visits import begin_visit
from feedwright.farm.stores.spools import add_spool
from feedwright.farm.stores.stores import add_item
from feedwright.farm.toolpaths.toolpaths import keep_toolpath
from feedwright.web.app import create_app

EACH = 5
"""Requests made up for each route beside those at the edges of its schema."""
CHECKS = [
    not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance,
    response_headers_conformance, unsupported_method,
]  # fmt: skip


served: dict[str, Any] = {"app": create_app(Path("none"), hosts=TEST_HOSTS), "client": THIS_MACHINE}
"""What is asked: no farm while the description is read, then the one that the fixture makes, from afar."""


async def farm_of_the_test(scope: Any, receive: Any, send: Any) -> None:
    asked = scope | ({"client": served["client"]} if scope["type"] == "http" else {})
    await served["app"](asked, receive, send)


api = schemathesis.openapi.from_asgi("/api/openapi.json", farm_of_the_test)


@pytest.fixture(scope="module")
def token(farm_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A farm with something of everything, open to the network, and a token that may do all."""
    own: Path = shutil.copytree(farm_folder, tmp_path_factory.mktemp("conforms") / "farm")
    with open_farm(own) as store:
        set_passphrase(store, "quince anvil harbour moth")
        open_to_network(store)
        keep_toolpath(store, SAMPLES / "d20.gcode")
        add_to_queue(store, "d20.gcode", material="pla")
        open_case(store, machine="Larch", answers={}, label="strings")
        begin_visit(store, "Larch", ["trim_tube"])
        add_spool(store, "pla", machine="Larch")
        add_item(store, "brass nozzle", ["nozzle:brass"], on_hand=3)
        start(store, "Larch", material="pla", hours=3)
        secret = add_device(store, "Judge", list(SCOPES))[1]
    served.update(app=create_app(own, hosts=TEST_HOSTS, any_address=True), client=("192.0.2.7", 40_000))
    return secret


@pytest.mark.slow
@api.parametrize()
@settings(
    max_examples=EACH, derandomize=True, deadline=None, database=None, phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
def test_whatever_is_sent_the_answer_is_one_that_the_description_knows(case: Any, token: str) -> None:
    case.call_and_validate(headers={"Authorization": f"Bearer {token}"}, checks=CHECKS, timeout=60)
