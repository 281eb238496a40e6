"""What a browser loads and keeps: little, packed, and asked for once.

Sources: RFC 9110 (8.4, content codings), RFC 9111 and RFC 8246 (how long an answer may be kept).
"""

import gzip
import re

from starlette.testclient import TestClient

from feedwright.web.app import LEAST_PACKED_BYTES

NAMED = re.compile(r'(?:src|href)="(/static/[^"]+)"')
MOST_BYTES = 150_000
"""Of the bench page and all it loads, packed, without what only draws charts."""


def _packed(client: TestClient, path: str) -> int:
    """Bytes on the wire, as a browser that takes gzip is sent them."""
    with client.stream("GET", path, headers={"accept-encoding": "gzip", "accept": "text/html"}) as answer:
        assert answer.status_code == 200, path
        sent = b"".join(answer.iter_raw())
    if answer.headers.get("content-encoding") == "gzip":
        assert gzip.decompress(sent)
    return len(sent)


def _assets(client: TestClient, path: str) -> list[str]:
    return list(dict.fromkeys(NAMED.findall(client.get(path, headers={"accept": "text/html"}).text)))


def test_the_bench_page_loads_little_before_its_charts(client: TestClient) -> None:
    before_charts = [asset for asset in _assets(client, "/") if "/vendor/" not in asset and "charts.js" not in asset]
    sizes = {path: _packed(client, path) for path in ["/", *before_charts]}
    assert sum(sizes.values()) < MOST_BYTES, sizes


def test_the_bench_comes_in_one_answer_and_its_charts_wait(client: TestClient) -> None:
    html = client.get("/", headers={"accept": "text/html"}).text
    assert html.index("Renewed") < html.index("/static/vendor/")
    for script in re.findall(r"<script [^>]*src=[^>]*>", html):
        assert " defer" in script


def test_an_asset_is_kept_for_a_year_by_its_mark_and_asked_for_again_without(client: TestClient) -> None:
    assets = _assets(client, "/")
    assert any("feedwright.css" in asset for asset in assets)
    for asset in assets:
        assert re.search(r"\?v=[0-9a-f]{12}$", asset), asset
        assert client.get(asset).headers["cache-control"] == "public, max-age=31536000, immutable"
        bare = asset.split("?")[0]
        for other in (bare, f"{bare}?v=000000000000"):
            assert client.get(other).headers["cache-control"] == "no-cache"


def test_answers_are_packed_where_that_gains_something(client: TestClient) -> None:
    page = client.get("/books", headers={"accept-encoding": "gzip"})
    assert page.headers["content-encoding"] == "gzip"
    assert "accept-encoding" in page.headers["vary"].lower()
    assert "content-encoding" not in client.get("/books", headers={"accept-encoding": "identity"}).headers
    small = client.get("/static/mark.svg", headers={"accept-encoding": "gzip"})
    assert len(small.content) < LEAST_PACKED_BYTES
    assert "content-encoding" not in small.headers
