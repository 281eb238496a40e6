"""The pages answer their owner alone and give a page's text no power.

Source of the header checks: W3C Content Security Policy Level 3; WHATWG Fetch (X-Content-Type-Options);
W3C Fetch Metadata Request Headers.
"""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from small_farm import THIS_MACHINE
from starlette.testclient import TestClient

from feedwright.web import security
from feedwright.web.app import create_app
from feedwright.web.pages import bench as bench_page


@pytest.mark.parametrize("path", ["/", "/machines/Larch", "/static/feedwright.css", "/nowhere"])
def test_every_answer_carries_the_guarding_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
    ],
)
def test_a_form_from_another_sites_page_is_refused(client: TestClient, headers: dict[str, str]) -> None:
    refused = client.post("/books/person", data={"name": "Mallory"}, headers=headers)
    assert refused.status_code == 403
    assert "Mallory" not in client.get("/books").text


def test_our_own_forms_and_programs_are_let_through(client: TestClient) -> None:
    own = {"origin": "http://testserver", "sec-fetch-site": "same-origin"}
    assert client.post("/books/person", data={"name": "Grace"}, headers=own).status_code == 200
    assert client.post("/books/person", data={"name": "Edith"}).status_code == 200


def test_another_host_name_or_address_is_refused(client: TestClient) -> None:
    for host in ("evil.example", "192.168.1.5:8765", "", "127.0.0.1.evil.example", "[::1"):
        refused = client.get("/", headers={"host": host})
        assert refused.status_code == 400, host
        assert "content-security-policy" in refused.headers
    for host in ("127.0.0.1:8765", "localhost", "[::1]:8765", "LOCALHOST:1"):
        assert client.get("/", headers={"host": host}).status_code == 200, host


def test_open_to_the_network_it_answers_to_addresses_but_to_no_strange_name(farm_folder: Path) -> None:
    with TestClient(create_app(farm_folder, any_address=True), client=THIS_MACHINE) as client:
        asked = "/static/feedwright.css"  # a page would ask for signing in: tests/web/test_access.py
        assert client.get(asked, headers={"host": "192.168.1.5:8765"}).status_code == 200
        assert client.get("/", headers={"host": "evil.example"}).status_code == 400


def test_an_upload_is_bounded_even_where_it_hides_its_length(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(security, "LONGEST_UPLOAD_BYTES", 100_000)
    head = b'--x\r\nContent-Disposition: form-data; name="file"; filename="a"\r\n\r\n'

    def body() -> Iterator[bytes]:
        yield head
        for _ in range(40):
            yield b"G1 X1\n" * 1000

    told = client.post("/toolpaths", content=body(), headers={"content-type": "multipart/form-data; boundary=x"})
    assert told.status_code == 413
    assert "larger than" in told.text
    stated = client.post("/toolpaths", files={"file": ("a", b"x" * 200_000)})
    assert stated.status_code == 413


def test_a_fault_of_the_program_shows_no_traceback_and_keeps_its_headers(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(bench_page, "bench", broken)
    page = client.get("/")
    assert page.status_code == 500
    assert "should not" in page.text
    assert "Traceback" not in page.text
    assert "content-security-policy" in page.headers
    assert "ZeroDivisionError" in caplog.text
    full = OSError(28, "No space left on device", "/farm")
    monkeypatch.setattr(bench_page, "bench", lambda *_: (_ for _ in ()).throw(full))
    assert client.get("/").status_code == 507


def test_void_never_leads_off_the_site(client: TestClient) -> None:
    for back in ("http://elsewhere.example", "//elsewhere.example", "/\\elsewhere.example"):
        page = client.get("/void", params={"what": "run", "number": 1, "back": back})
        assert "elsewhere" not in page.text


def test_no_page_holds_a_script_or_style_of_its_own(client: TestClient) -> None:
    for path in ("/", "/machines/Larch", "/books", "/runs/new"):
        text = client.get(path).text
        assert not re.search(r"<script(?![^>]*(src=|application/json))", text)
        assert not re.search(r"<style|\sstyle=|\son\w+=", text)


def test_nothing_is_asked_of_another_machine(client: TestClient) -> None:
    for path in ("/", "/machines/Larch", "/static/feedwright.css"):
        assert not re.search(r"""(?:src|href|url\()\s*=?\s*["'(]?(?:https?:)?//""", client.get(path).text)


@pytest.mark.parametrize(
    ("address", "sent"),
    [
        ("https://testserver", True),
        ("http://127.0.0.1", True),
        ("http://localhost", True),
        ("http://testserver", False),
    ],
)
def test_windows_are_told_apart_where_a_browser_heeds_it(client: TestClient, address: str, sent: bool) -> None:
    """W3C Secure Contexts: over plain http only this machine's own addresses count; elsewhere browsers log a fault."""
    headers = client.get(f"{address}/books").headers
    assert ("cross-origin-opener-policy" in headers) == sent
