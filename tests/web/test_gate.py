"""Over the network nobody gets past the gate, and another site's page changes nothing.

Sources: RFC 7239 (Forwarded), W3C Fetch Metadata, WHATWG Fetch (Origin), OWASP ASVS 5.0.0 as docs/security.md lists it.
"""

import asyncio
from pathlib import Path

import pytest
from from_afar import OWN_PAGE, PHONE, every_path, token
from small_farm import TEST_HOSTS, THIS_MACHINE
from starlette.testclient import TestClient

from feedwright.farm.access.access import close_to_network, open_to_network
from feedwright.farm.access.devices import SCOPES
from feedwright.farm.ground.house import open_farm
from feedwright.farm.rounds.rounds import plan
from feedwright.records.store import Store
from feedwright.web.app import create_app
from feedwright.web.asker import FORWARDING
from feedwright.web.gate import Gate


def test_at_this_machine_nobody_signs_in(opened: Path) -> None:
    for address in (THIS_MACHINE, ("127.9.9.9", 1), ("::1", 1), ("::ffff:127.0.0.1", 1)):
        with TestClient(create_app(opened, hosts=TEST_HOSTS), client=address) as client:
            assert client.get("/books", follow_redirects=False).status_code == 200, address


@pytest.mark.parametrize("header", [*sorted(FORWARDING), "x-forwarded-for", "x-forwarded-host", "x-forwarded-anything"])
def test_what_was_passed_on_is_never_taken_for_this_machine(opened: Path, header: str) -> None:
    """Not even where the header says that it comes from here: it takes away and gives nothing."""
    with TestClient(create_app(opened, hosts=TEST_HOSTS), client=THIS_MACHINE, follow_redirects=False) as client:
        assert client.get("/books", headers={header: "127.0.0.1"}).status_code == 303
    with TestClient(create_app(opened, hosts=TEST_HOSTS), client=PHONE, follow_redirects=False) as client:
        assert client.get("/books", headers={header: "127.0.0.1"}).status_code == 303


@pytest.mark.parametrize("host", ["feed.example", "192.0.2.1:8765", "feed.example:443"])
def test_asked_for_by_a_proxys_name_it_is_not_here(opened: Path, host: str) -> None:
    app = create_app(opened, hosts=TEST_HOSTS, any_address=True, other_names=frozenset({"feed.example"}))
    with TestClient(app, client=THIS_MACHINE, follow_redirects=False) as client:
        assert client.get("/books", headers={"host": host}).status_code == 303
        assert client.get("/books", headers={"host": "evil.example"}).status_code == 400


@pytest.mark.parametrize("address", ["192.0.2.7", "128.0.0.1", "not an address", "10.0.0.1", "fe80::1%eth0"])
def test_a_closed_farm_lets_nobody_in_from_afar(farm_folder: Path, address: str) -> None:
    app = create_app(farm_folder, hosts=TEST_HOSTS)
    with TestClient(app, client=(address, 1), follow_redirects=False) as client:
        for method, path in every_path(client):
            assert client.request(method, path, headers=OWN_PAGE).status_code == 403, path


def test_closing_it_shuts_everybody_out_at_once(signed_in: TestClient, opened_store: Store) -> None:
    held = token(opened_store, *SCOPES)
    assert signed_in.get("/books").status_code == 200
    assert signed_in.get("/api/v1/machines", headers=held).status_code == 200
    close_to_network(opened_store)
    assert signed_in.get("/books").status_code == 403
    assert signed_in.get("/api/v1/machines", headers=held).status_code == 403
    open_to_network(opened_store)
    assert signed_in.get("/books").status_code == 303, "its session has ended"
    assert signed_in.get("/api/v1/machines", headers=held).status_code == 200


def test_no_page_and_no_route_is_open_to_whoever_is_not_signed_in(phone: TestClient) -> None:
    tried = every_path(phone)
    assert len(tried) > 60
    for method, path in tried:
        answer = phone.request(method, path)
        if path == "/sign-in":
            assert answer.status_code in (200, 403), (method, answer.status_code)
        elif path == "/rounds.ics":
            assert (answer.status_code, answer.headers["www-authenticate"][:5]) == (401, "Basic"), path
        elif method == "GET" and not path.startswith("/api/"):
            assert (answer.status_code, answer.headers["location"]) == (303, f"/sign-in?to={path}"), path
        else:
            assert answer.status_code == 401, (method, path)
            assert answer.headers["www-authenticate"] == "Bearer"


@pytest.mark.parametrize(
    "path",
    ["/static/../machines", "/static/%2e%2e/machines", "/static/..%2f..%2fapp.py", "//machines", "/MACHINES",
     "/sign-in/../machines", "/static//etc/passwd", "/sign-in/", "/static"],
)  # fmt: skip
def test_no_way_round_leads_in(phone: TestClient, path: str) -> None:
    answer = phone.get(path)
    assert answer.status_code in (303, 307, 401, 404)
    assert "Larch" not in answer.text
    assert "import" not in answer.text


def test_the_sign_in_page_tells_nothing_of_the_farm(phone: TestClient) -> None:
    for page in (phone.get("/sign-in").text, phone.post("/sign-in", data={"passphrase": "no"}).text):
        assert "Passphrase" in page
        for told in ("Test yard", "Vienna", "Larch", "Ada", "/books"):
            assert told not in page


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example", "sec-fetch-site": "cross-site"},
        {"origin": "http://testserver", "sec-fetch-site": "same-site"},
        {"origin": "null", "sec-fetch-site": ""},
        {"origin": "", "sec-fetch-site": ""},
    ],
    ids=["another site", "a neighbour", "a page of no origin", "nothing said"],
)
def test_no_route_takes_a_form_that_another_page_sent_with_our_cookie(
    signed_in: TestClient, headers: dict[str, str]
) -> None:
    """Every browser of today names the origin of an unsafe request (WHATWG Fetch, 3.2): one that names none is none."""
    own = {name: value for name, value in headers.items() if value}
    cookie = {"cookie": f"feedwright={signed_in.cookies['feedwright']}"}
    with TestClient(signed_in.app, client=PHONE, follow_redirects=False) as elsewhere:
        tried = [(method, path) for method, path in every_path(elsewhere) if method != "GET" and path != "/sign-in"]
        assert len(tried) > 25
        for method, path in tried:
            assert elsewhere.request(method, path, headers=own | cookie).status_code == 403, (method, path)
    assert signed_in.get("/books").status_code == 200, "and nobody was signed out"


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_at_this_machine_too_another_sites_page_changes_nothing(client: TestClient, method: str) -> None:
    for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "http://evil.example"}, {"origin": "null"}):
        assert client.request(method, "/api/v1/runs", headers=headers).status_code == 403


@pytest.mark.slow
def test_looking_changes_nothing(client: TestClient) -> None:
    """No GET of the application writes an act."""
    folder: Path = client.app.state.farms.folder  # type: ignore[attr-defined]
    with open_farm(folder) as store:
        before = store.latest_act_id()
        for method, path in every_path(client):
            if method == "GET":
                client.get(path)
        assert store.latest_act_id() == before


def test_a_web_socket_is_closed(opened: Path) -> None:
    sent = []

    async def send(message: object) -> None:
        sent.append(message)

    asyncio.run(Gate(create_app(opened), frozenset())({"type": "websocket"}, None, send))  # type: ignore[arg-type]
    assert sent == [{"type": "websocket.close", "code": 1008}]


def _as_password(shown: dict[str, str]) -> tuple[str, str]:
    """A device's token as a calendar program sends it (RFC 7617); any user name will do."""
    return "calendar", shown["authorization"].removeprefix("Bearer ")


def test_a_calendar_program_reads_the_feed_with_a_token_as_its_password(phone: TestClient, opened_store: Store) -> None:
    plan(opened_store)
    reader = _as_password(token(opened_store, "read"))
    feed = phone.get("/rounds.ics", auth=reader)
    assert feed.status_code == 200
    assert feed.text.startswith("BEGIN:VCALENDAR")
    writer = _as_password(token(opened_store, "record", name="Scale"))
    assert phone.get("/rounds.ics", auth=writer).status_code == 403
    assert phone.get("/rounds.ics", auth=("calendar", "guessed")).status_code == 401
    assert phone.get("/rounds.ics", headers={"authorization": "Basic ?"}).status_code == 401


def test_a_password_that_a_browser_sends_again_by_itself_opens_nothing_else(
    phone: TestClient, opened_store: Store
) -> None:
    everything = _as_password(token(opened_store, *SCOPES))
    for method, path in every_path(phone):
        if path != "/rounds.ics" and not path.startswith("/static"):
            assert phone.request(method, path, auth=everything, headers=OWN_PAGE).status_code in (401, 429), path
