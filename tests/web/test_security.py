"""The pages answer their owner alone and give a page's text no power.

Source of the header checks: W3C Content Security Policy Level 3; WHATWG Fetch (X-Content-Type-Options);
W3C Fetch Metadata Request Headers.
"""

import re

import pytest
from starlette.testclient import TestClient


@pytest.mark.parametrize("path", ["/", "/machines/Larch", "/static/feedwright.css", "/nowhere"])
def test_every_answer_carries_the_guarding_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


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


def test_another_host_name_is_refused(client: TestClient) -> None:
    assert client.get("/", headers={"host": "evil.example"}).status_code == 400


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
