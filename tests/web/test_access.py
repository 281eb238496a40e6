"""Over the network nobody gets in without the passphrase or a token, and neither opens more than it says.

Sources: RFC 6265bis (cookies), RFC 6750 (Bearer), RFC 7239 (Forwarded), W3C Fetch Metadata, OWASP ASVS 5.0.0 as
docs/security.md lists it.
"""

import re
import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from fastapi import APIRouter
from fastapi.routing import APIRoute
from small_farm import TEST_HOSTS, THIS_MACHINE
from starlette.routing import Mount
from starlette.testclient import TestClient

from feedwright.farm import access_log, passphrases, sessions
from feedwright.farm.access import close_to_network, open_to_network, set_passphrase
from feedwright.farm.access_log import log_lines
from feedwright.farm.devices import SCOPES, add_device, revoke_device
from feedwright.farm.house import open_farm
from feedwright.farm.voids import recent_acts
from feedwright.records.store import Store
from feedwright.records.values import Person
from feedwright.web.api import base, description
from feedwright.web.app import create_app
from feedwright.web.asker import FORWARDING
from feedwright.web.gate import Gate

WORDS = "quince anvil harbour moth"
PHONE = ("192.0.2.7", 40_000)
OWN_PAGE = {"origin": "http://testserver", "sec-fetch-site": "same-origin"}
JSON = {"accept": "application/json"}


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Passphrases are hashed with next to no work; tests/farm/test_access.py looks at the real parameters."""
    monkeypatch.setattr(passphrases, "_hasher", lambda: PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))


@pytest.fixture(scope="session")
def opened_once(farm_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A farm that was opened to the network."""
    own = tmp_path_factory.mktemp("opened") / "farm"
    shutil.copytree(farm_folder, own)
    with open_farm(own) as store:
        set_passphrase(store, WORDS)
        open_to_network(store)
    return own


@pytest.fixture
def opened(opened_once: Path, tmp_path: Path) -> Path:
    """The same, for a test to change."""
    return shutil.copytree(opened_once, tmp_path / "farm")


@pytest.fixture
def phone(opened: Path) -> Iterator[TestClient]:
    """A browser on the network that is not signed in."""
    app = create_app(opened, hosts=TEST_HOSTS, any_address=True)
    with TestClient(app, client=PHONE, headers=OWN_PAGE, follow_redirects=False) as held:
        yield held


@pytest.fixture
def signed_in(phone: TestClient) -> TestClient:
    assert phone.post("/sign-in", data={"passphrase": WORDS, "person": "Ada"}).status_code == 303
    return phone


@pytest.fixture
def store(opened: Path) -> Iterator[Store]:
    with open_farm(opened) as held:
        yield held


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


# --- who is here ---------------------------------------------------------------------------------------------------


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


def test_closing_it_shuts_everybody_out_at_once(signed_in: TestClient, store: Store) -> None:
    held = token(store, *SCOPES)
    assert signed_in.get("/books").status_code == 200
    assert signed_in.get("/api/v1/machines", headers=held).status_code == 200
    close_to_network(store)
    assert signed_in.get("/books").status_code == 403
    assert signed_in.get("/api/v1/machines", headers=held).status_code == 403
    open_to_network(store)
    assert signed_in.get("/books").status_code == 303, "its session has ended"
    assert signed_in.get("/api/v1/machines", headers=held).status_code == 200


# --- nobody gets in ------------------------------------------------------------------------------------------------


def test_no_page_and_no_route_is_open_to_whoever_is_not_signed_in(phone: TestClient) -> None:
    tried = every_path(phone)
    assert len(tried) > 60
    for method, path in tried:
        answer = phone.request(method, path)
        if path == "/sign-in":
            assert answer.status_code in (200, 403), (method, answer.status_code)
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


# --- signing in and out --------------------------------------------------------------------------------------------


def test_the_passphrase_opens_a_session_whose_cookie_is_kept_close(phone: TestClient, opened: Path) -> None:
    answer = phone.post("/sign-in", data={"passphrase": WORDS, "to": "/machines?x=1"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/machines?x=1")
    cookie = answer.headers["set-cookie"]
    name, value = cookie.split(";")[0].split("=")
    assert name == "feedwright"
    assert len(value) >= 43, "256 bits"
    for flag in ("HttpOnly", "SameSite=lax", "Path=/", "Max-Age="):
        assert flag in cookie
    assert "Secure" not in cookie
    assert "domain" not in cookie.lower()
    assert value.encode() not in on_disk(opened)
    assert WORDS.encode() not in on_disk(opened)
    page = phone.get("/books")
    assert "Ada" in page.text
    assert page.headers["cache-control"] == "no-store"


def test_over_https_the_cookie_travels_by_https_alone(opened: Path) -> None:
    app = create_app(opened, hosts=TEST_HOSTS, any_address=True)
    own = {"origin": "https://testserver", "sec-fetch-site": "same-origin"}
    with TestClient(app, "https://testserver", client=PHONE, headers=own, follow_redirects=False) as phone:
        answer = phone.post("/sign-in", data={"passphrase": WORDS})
        assert answer.headers["set-cookie"].startswith("__Host-feedwright=")
        assert "Secure" in answer.headers["set-cookie"]
        assert answer.headers["strict-transport-security"].startswith("max-age=")
        assert phone.get("/books").status_code == 200
    with TestClient(app, client=THIS_MACHINE, headers=OWN_PAGE, follow_redirects=False) as behind:
        said = behind.post("/sign-in", data={"passphrase": WORDS}, headers={"x-forwarded-proto": "https"})
        assert said.headers["set-cookie"].startswith("__Host-feedwright=")
        assert "strict-transport-security" not in said.headers


def test_each_sign_in_is_a_new_session_and_ends_the_one_before(signed_in: TestClient) -> None:
    first = signed_in.cookies["feedwright"]
    signed_in.post("/sign-in", data={"passphrase": WORDS})
    second = signed_in.cookies["feedwright"]
    assert first != second
    signed_in.cookies.set("feedwright", first)
    signed_in.cookies.delete("feedwright", domain="testserver.local", path="/")
    assert signed_in.get("/books", headers={"cookie": f"feedwright={first}"}).status_code == 303
    assert signed_in.get("/books", headers={"cookie": f"feedwright={second}"}).status_code == 200


@pytest.mark.parametrize("to", ["https://evil.example", "//evil.example", "/\\evil.example", "javascript:alert(1)"])
def test_signing_in_never_leads_off_the_site(phone: TestClient, to: str) -> None:
    assert phone.post("/sign-in", data={"passphrase": WORDS, "to": to}).headers["location"] == "/"


def test_signing_out_ends_the_session_everywhere_it_is_known(signed_in: TestClient) -> None:
    kept = signed_in.cookies["feedwright"]
    answer = signed_in.post("/sign-out")
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    assert answer.headers["clear-site-data"] == '"cache"'
    assert signed_in.get("/books").status_code == 303
    assert signed_in.get("/books", headers={"cookie": f"feedwright={kept}"}).status_code == 303


def test_signing_everybody_out_and_changing_the_passphrase_end_sessions(phone: TestClient, store: Store) -> None:
    cookies = []
    for _ in range(2):
        phone.cookies.clear()
        phone.post("/sign-in", data={"passphrase": WORDS})
        cookies.append({"cookie": f"feedwright={phone.cookies['feedwright']}"})
    phone.cookies.clear()
    change = {"current": WORDS, "new": "another quince anvil harbour"}
    assert phone.post("/access/passphrase", data={"new": change["new"]}, headers=cookies[0]).status_code == 403
    assert phone.post("/access/passphrase", data=change, headers=cookies[0]).status_code == 303
    assert phone.get("/books", headers=cookies[0]).status_code == 200, "the one that changed it"
    assert phone.get("/books", headers=cookies[1]).status_code == 303
    assert phone.post("/sign-in", data={"passphrase": WORDS}).status_code == 403
    assert phone.post("/access/sessions/end", headers=cookies[0]).status_code == 303
    assert phone.get("/books", headers=cookies[0]).status_code == 303


@pytest.mark.parametrize("which", ["IDLE", "LONGEST"])
def test_a_session_lapses_unused_and_at_last_in_any_case(
    signed_in: TestClient, monkeypatch: pytest.MonkeyPatch, which: str
) -> None:
    assert signed_in.get("/books").status_code == 200
    monkeypatch.setattr(sessions, which, timedelta(seconds=-1))
    assert signed_in.get("/books").status_code == 303


# --- too many tries ------------------------------------------------------------------------------------------------


def test_after_some_failures_an_address_waits_and_a_restart_does_not_help(
    phone: TestClient, opened: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(access_log.MOST_FROM_ONE):
        assert phone.post("/sign-in", data={"passphrase": "wrong"}).status_code == 403
    for app in (phone.app, create_app(opened, hosts=TEST_HOSTS, any_address=True)):
        with TestClient(app, client=PHONE, headers=OWN_PAGE, follow_redirects=False) as again:
            waits = again.post("/sign-in", data={"passphrase": WORDS})
            assert waits.status_code == 429, "the right one has to wait as well"
            assert 0 < int(waits.headers["retry-after"]) <= 15 * 60
        with TestClient(app, client=("192.0.2.8", 1), headers=OWN_PAGE, follow_redirects=False) as other:
            assert other.post("/sign-in", data={"passphrase": WORDS}).status_code == 303
    monkeypatch.setattr(access_log, "WINDOW", timedelta(seconds=0))
    assert phone.post("/sign-in", data={"passphrase": WORDS}).status_code == 303


def test_many_addresses_together_have_to_wait_too(opened: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access_log, "MOST_FROM_ALL", 4)
    app = create_app(opened, hosts=TEST_HOSTS, any_address=True)
    said = []
    for last in range(6):
        with TestClient(app, client=(f"192.0.2.{last}", 1), headers=OWN_PAGE) as one:
            said.append(one.post("/sign-in", data={"passphrase": "wrong"}).status_code)
    assert said == [403] * 4 + [429] * 2


def test_an_address_of_a_whole_network_counts_as_one(opened: Path) -> None:
    app = create_app(opened, hosts=TEST_HOSTS, any_address=True)
    said = []
    for last in range(access_log.MOST_FROM_ONE + 1):
        with TestClient(app, client=(f"2001:db8:0:1::{last}", 1), headers=OWN_PAGE) as one:
            said.append(one.post("/sign-in", data={"passphrase": "wrong"}).status_code)
    assert said[-1] == 429


def test_a_flood_of_bad_tokens_fills_no_log_and_locks_no_good_one_out(phone: TestClient, store: Store) -> None:
    good = token(store, "read")
    said = {phone.get("/api/v1/me", headers={"authorization": f"Bearer {n}"}).status_code for n in range(30)}
    assert said == {401, 429}
    kinds = [line.entry.kind for line in log_lines(store, 100)]
    assert kinds.count("token_failed") == access_log.MOST_FROM_ONE
    assert kinds.count("token_failed_too_often") == 1
    assert phone.get("/api/v1/me", headers=good).status_code == 200


# --- forms from elsewhere ------------------------------------------------------------------------------------------


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


# --- what a token may do -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("route", description.routes(), ids=lambda route: f"{min(route.methods)} {route.path}")
def test_no_route_of_the_api_takes_a_token_without_its_scope(phone: TestClient, store: Store, route: APIRoute) -> None:
    needed, path = base.scope_of(route), re.sub(r"\{[^}]*\}", "1", route.path)
    lacking = token(store, *(scope for scope in SCOPES if scope != needed))
    (method,) = route.methods
    refused = phone.request(method, path, headers=lacking, json={})
    assert (refused.status_code, refused.json()["error"]) == (403, "NotAllowed")
    assert needed in refused.json()["expected"]
    having = token(store, needed, name="Other")
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


def test_a_token_opens_the_api_and_no_page(phone: TestClient, store: Store) -> None:
    held = token(store, *SCOPES)
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


def test_a_revoked_token_is_refused(phone: TestClient, store: Store) -> None:
    device, secret = add_device(store, "Sensor", ["read"])
    held = {"authorization": f"Bearer {secret}"}
    assert phone.get("/api/v1/me", headers=held).status_code == 200
    revoke_device(store, device.id, reason="lost")
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


# --- the trail -----------------------------------------------------------------------------------------------------


def test_what_is_recorded_carries_who_did_it_and_from_what(signed_in: TestClient, store: Store) -> None:
    run = {"machine": "Larch", "material": "pla", "hours": "2"}
    assert signed_in.post("/runs/new", data=run).status_code == 303
    by_session = store.acts(1)[0]
    ada = store.one(Person, by_session.person_id or 0)
    assert ada is not None
    assert ada.name == "Ada"
    assert store.access.hands([by_session.id])[by_session.id].session_id == 1
    device = token(store, "record", person="Ada")
    assert signed_in.post("/api/v1/runs", json=run | {"hours": 3}, headers=device).status_code == 201
    by_device = store.acts(1)[0]
    assert store.access.hands([by_device.id])[by_device.id].device_id == 1
    assert by_device.person_id == by_session.person_id
    assert [line.through for line in recent_acts(store, 2)] == ["Sensor", ""]
    assert "by Ada through Sensor" in signed_in.get("/books").text
    assert "Ada · through Sensor" in signed_in.get(f"/books/{by_device.id}").text


def test_the_log_tells_what_happened_at_the_door(phone: TestClient, store: Store) -> None:
    phone.post("/sign-in", data={"passphrase": "wrong"})
    phone.post("/sign-in", data={"passphrase": WORDS, "person": "ada"})
    phone.post("/access/devices", data={"name": "Sensor", "scope": "read"})
    phone.post("/access/devices/1/revoke", data={"reason": "lost"})
    phone.post("/sign-out")
    told = [(line.entry.kind, line.person, line.entry.address) for line in log_lines(store)][::-1]
    assert [kind for kind, _, _ in told] == [
        "passphrase_set", "opened", "sign_in_failed", "signed_in", "device_added", "device_revoked", "signed_out",
    ]  # fmt: skip
    assert told[3] == ("signed_in", "Ada", "192.0.2.7")
    assert told[4][1] == "Ada"
    assert [(line.act.kind, line.through) for line in recent_acts(store, 2)] == [
        ("revoke device", "a browser"), ("add device", "a browser"),
    ]  # fmt: skip


def test_a_web_socket_is_closed(opened: Path) -> None:
    sent = []

    async def send(message: object) -> None:
        sent.append(message)

    import asyncio

    asyncio.run(Gate(create_app(opened), frozenset())({"type": "websocket"}, None, send))  # type: ignore[arg-type]
    assert sent == [{"type": "websocket.close", "code": 1008}]
