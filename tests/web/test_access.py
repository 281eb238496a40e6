"""Signing in and out, too many tries, and the trail that is left.

Sources: RFC 6265bis (cookies), RFC 6585 (429), OWASP ASVS 5.0.0 as docs/security.md lists it.
"""

from datetime import timedelta
from pathlib import Path

import pytest
from from_afar import OWN_PAGE, PHONE, WORDS, on_disk, token
from small_farm import TEST_HOSTS, THIS_MACHINE
from starlette.testclient import TestClient

from feedwright.farm.access import access_log, sessions
from feedwright.farm.access.access_log import log_lines
from feedwright.farm.prints.runs import add_run
from feedwright.farm.prints.undo import undo
from feedwright.farm.prints.voids import recent_acts
from feedwright.records.store import Store
from feedwright.records.values import Person
from feedwright.web.app import create_app


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


def test_signing_everybody_out_and_changing_the_passphrase_end_sessions(phone: TestClient, opened_store: Store) -> None:
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


def test_a_flood_of_bad_tokens_fills_no_log_and_locks_no_good_one_out(phone: TestClient, opened_store: Store) -> None:
    good = token(opened_store, "read")
    said = {phone.get("/api/v1/me", headers={"authorization": f"Bearer {n}"}).status_code for n in range(30)}
    assert said == {401, 429}
    kinds = [line.entry.kind for line in log_lines(opened_store, 100)]
    assert kinds.count("token_failed") == access_log.MOST_FROM_ONE
    assert kinds.count("token_failed_too_often") == 1
    assert phone.get("/api/v1/me", headers=good).status_code == 200


def test_what_is_recorded_carries_who_did_it_and_from_what(signed_in: TestClient, opened_store: Store) -> None:
    run = {"machine": "Larch", "material": "pla", "hours": "2"}
    assert signed_in.post("/runs/new", data=run).status_code == 303
    by_session = opened_store.acts(1)[0]
    ada = opened_store.one(Person, by_session.person_id or 0)
    assert ada is not None
    assert ada.name == "Ada"
    assert opened_store.access.hands([by_session.id])[by_session.id].session_id == 1
    device = token(opened_store, "record", person="Ada")
    assert signed_in.post("/api/v1/runs", json=run | {"hours": 3}, headers=device).status_code == 201
    by_device = opened_store.acts(1)[0]
    assert opened_store.access.hands([by_device.id])[by_device.id].device_id == 1
    assert by_device.person_id == by_session.person_id
    assert [line.through for line in recent_acts(opened_store, 2)] == ["Sensor", ""]
    assert "by Ada through Sensor" in signed_in.get("/books").text
    assert "Ada · through Sensor" in signed_in.get(f"/books/{by_device.id}").text


def test_the_log_tells_what_happened_at_the_door(phone: TestClient, opened_store: Store) -> None:
    phone.post("/sign-in", data={"passphrase": "wrong"})
    phone.post("/sign-in", data={"passphrase": WORDS, "person": "ada"})
    phone.post("/access/devices", data={"name": "Sensor", "scope": "read"})
    phone.post("/access/devices/1/revoke", data={"reason": "lost"})
    phone.post("/sign-out")
    told = [(line.entry.kind, line.person, line.entry.address) for line in log_lines(opened_store)][::-1]
    assert [kind for kind, _, _ in told] == [
        "passphrase_set", "opened", "sign_in_failed", "signed_in", "device_added", "device_revoked", "signed_out",
    ]  # fmt: skip
    assert told[3] == ("signed_in", "Ada", "192.0.2.7")
    assert told[4][1] == "Ada"
    assert [(line.act.kind, line.through) for line in recent_acts(opened_store, 2)] == [
        ("revoke device", "a browser"), ("add device", "a browser"),
    ]  # fmt: skip


def test_a_line_of_what_was_taken_back_is_for_those_who_may_read(phone: TestClient, opened_store: Store) -> None:
    """Whoever is not signed in learns nothing from an address made up."""
    run = add_run(opened_store, "Larch", material="pla", hours=1.0).run
    back = undo(opened_store, run.act_id).act_id
    for path in ("/sign-in", "/nowhere", "/"):
        assert "Larch" not in phone.get(f"{path}?recorded=back-{back}").text
