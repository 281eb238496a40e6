"""The JSON API: what it answers, what it refuses and how, and that a request sent twice counts once.

Sources of the checks: RFC 9110 (statuses), RFC 6750 (Bearer), the IETF draft of the Idempotency-Key header.
"""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from small_farm import SAMPLES
from starlette.testclient import TestClient

API = "/api/v1"
REFUSAL = {"error", "subject", "place", "expected", "remedy"}
RUN = {"machine": "Larch", "material": "pla", "hours": 2.5}
NOON = (datetime.now(UTC) - timedelta(days=1)).replace(microsecond=0).isoformat()


def ok(answer: Any, status: int = 200) -> Any:
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/json"
    return answer.json()


def refused(answer: Any, status: int) -> dict[str, str]:
    told: dict[str, str] = ok(answer, status)
    assert set(told) == REFUSAL
    assert told["expected"]
    return told


def test_the_farm_can_be_read(client: TestClient) -> None:
    names = [one["name"] for one in ok(client.get(f"{API}/machines"))["items"]]
    assert "Larch" in names
    assert ok(client.get(f"{API}/machines/larch"))["drive"] == "remote"
    fitted = ok(client.get(f"{API}/machines/Larch/fittings", params={"limit": 200}))
    outlooks = ok(client.get(f"{API}/machines/Larch/outlooks", params={"limit": 200}))
    assert fitted["total_count"] == outlooks["total_count"] == len(outlooks["items"])
    one = outlooks["items"][0]
    assert one["because"]
    assert one["share_used"]["low"] <= one["share_used"]["mid"] <= one["share_used"]["high"]
    bench = ok(client.get(f"{API}/bench"))
    assert bench["runs_count"] == 61
    for path in (
        "toolpaths",
        "runs",
        "prints",
        "queue",
        "findings",
        "renewals",
        "events",
        "cases",
        "visits",
        "stores",
        "spools",
    ):
        assert ok(client.get(f"{API}/{path}"))["total_count"] >= 0, path
    assert ok(client.get(f"{API}/me"))["kind"] == "here"


def test_a_list_comes_in_parts_of_bounded_size(client: TestClient) -> None:
    first = ok(client.get(f"{API}/runs", params={"machine": "Larch", "limit": 20}))
    rest = ok(client.get(f"{API}/runs", params={"machine": "Larch", "limit": 200, "offset": 20}))
    assert (first["total_count"], len(first["items"]), len(rest["items"])) == (61, 20, 41)
    numbers = [one["number"] for one in (*first["items"], *rest["items"])]
    assert len(set(numbers)) == 61
    for span in ({"limit": 0}, {"limit": 201}, {"offset": -1}, {"limit": "many"}):
        refused(client.get(f"{API}/runs", params=span), 422)


def test_what_is_recorded_is_answered_and_stands_in_the_books(client: TestClient) -> None:
    run = ok(client.post(f"{API}/runs", json=RUN | {"started_utc": NOON, "person": "Ada"}), 201)
    assert run == ok(client.get(f"{API}/runs/{run['number']}"))
    assert run["printing_h"] > 0
    finding = ok(client.post(f"{API}/findings", json={"machine": "Larch", "part": "nozzle", "grade": "trace"}), 201)
    assert finding["part_kind"] == "nozzle"
    renewal = ok(client.post(f"{API}/renewals", json={"machine": "Larch", "part": "nozzle", "minutes": 12}), 201)
    assert renewal["fitting"] == finding["fitting"]
    event = ok(client.post(f"{API}/events", json={"machine": "Larch", "kind": "fan_stall", "nozzle_c": 240}), 201)
    assert ok(client.get(f"{API}/events/{event['number']}")) == event
    assert "Run" in ok(client.post(f"{API}/runs/{run['number']}/void", json={"reason": "typed twice"}))["done"]
    refused(client.get(f"{API}/runs/{run['number']}"), 404)
    assert "by Ada" in client.get("/books").text


def test_a_print_begins_and_ends_as_a_run(client: TestClient) -> None:
    begun = ok(client.post(f"{API}/prints", json={"machine": "Larch", "material": "pla", "hours": 3}), 201)
    assert [one["number"] for one in ok(client.get(f"{API}/prints"))["items"]] == [begun["number"]]
    refused(client.post(f"{API}/prints", json={"machine": "Larch", "material": "pla"}), 409)
    run = ok(client.post(f"{API}/machines/Larch/print/end", json={"outcome": "spoiled", "fraction": 0.4}), 201)
    assert (run["outcome"], run["machine"]) == ("spoiled", "Larch")
    refused(client.post(f"{API}/machines/Larch/print/end", json={}), 404)


def test_a_toolpath_is_handed_in_and_printed(client: TestClient) -> None:
    content = (SAMPLES / "d20.gcode").read_bytes()
    kept = ok(client.post(f"{API}/toolpaths", files={"file": ("../../vase.gcode", content)}), 201)
    assert kept["name"] == "vase.gcode"
    assert ok(client.post(f"{API}/toolpaths", files={"file": ("again.gcode", content)}), 201) == kept
    run = ok(client.post(f"{API}/runs", json={"machine": "Larch", "material": "pla", "toolpath": kept["sha256"]}), 201)
    assert run["toolpath"] == kept["sha256"]
    milling = (SAMPLES / "d02.gcode").read_bytes()
    assert refused(client.post(f"{API}/toolpaths", files={"file": ("mill.nc", milling)}), 422)["error"] == "BadToolpath"


@pytest.mark.parametrize(
    ("path", "body", "table"),
    [
        ("machines", {"name": "Hazel", "build": "moving_bed_remote"}, "machines"),
        ("runs", RUN, "runs"),
        ("findings", {"machine": "Larch", "part": "nozzle", "grade": "trace"}, "findings"),
        ("renewals", {"machine": "Larch", "part": "nozzle"}, "renewals"),
        ("events", {"machine": "Larch", "kind": "note", "note": "dusty"}, "events"),
        ("prints", {"machine": "Larch", "material": "pla", "hours": 4}, "prints"),
    ],
)
def test_an_entry_sent_twice_under_one_key_counts_once(
    client: TestClient, path: str, body: dict[str, object], table: str
) -> None:
    key = {"Idempotency-Key": "shelf-3.0001"}
    first = ok(client.post(f"{API}/{path}", json=body, headers=key), 201)
    counted = ok(client.get(f"{API}/{table}"))["total_count"]
    assert ok(client.post(f"{API}/{path}", json=body, headers=key), 201) == first
    assert ok(client.get(f"{API}/{table}"))["total_count"] == counted
    other = refused(client.post(f"{API}/{path}", json=body | {"note": "another"}, headers=key), 409)
    assert other["subject"] == "Idempotency-Key"


def test_an_entry_sent_several_times_at_once_counts_once(client: TestClient) -> None:
    def send(_: int) -> Any:
        return ok(client.post(f"{API}/runs", json=RUN, headers={"Idempotency-Key": "at-once"}), 201)["number"]

    with ThreadPoolExecutor(6) as pool:
        numbers = set(pool.map(send, range(6)))
    assert len(numbers) == 1
    assert ok(client.get(f"{API}/runs"))["total_count"] == 62


def test_the_end_of_a_print_sent_twice_counts_once(client: TestClient) -> None:
    ok(client.post(f"{API}/prints", json={"machine": "Larch", "material": "pla", "hours": 4}), 201)
    key = {"Idempotency-Key": "end-1"}
    first = ok(client.post(f"{API}/machines/Larch/print/end", json={}, headers=key), 201)
    assert ok(client.post(f"{API}/machines/Larch/print/end", json={}, headers=key), 201) == first


def test_a_refused_entry_leaves_its_key_free(client: TestClient) -> None:
    key = {"Idempotency-Key": "one"}
    refused(client.post(f"{API}/runs", json=RUN | {"material": "cheese"}, headers=key), 422)
    ok(client.post(f"{API}/runs", json=RUN, headers=key), 201)


@pytest.mark.parametrize(
    ("body", "status", "subject"),
    [
        (b"{", 400, None),
        (b'{"machine": "Larch", "material": "pla", "hours": NaN}', 422, "hours"),
        (b'{"machine": "Larch", "material": "pla", "hours": 1e400}', 422, "hours"),
        (b'{"machine": "Larch", "material": "pla", "hours": 2, "houres": 3}', 422, "houres"),
        (b'{"machine": "Larch", "material": "pla", "hours": 2, "\\ud800": 3}', 422, None),
        (b'{"machine": "Larch", "material": "pla", "hours": 2, "note": "\\u0000"}', 422, "note"),
        (
            b'{"machine": "Larch", "material": "pla", "hours": 2, "started_utc": "2026-01-01T00:00:00"}',
            422,
            "started_utc",
        ),
        (b'{"machine": "Larch", "material": "pla", "hours": 2, "started_utc": "9999-12-31T23:59:59Z"}', 422, None),
        (b'{"machine": "Larch", "material": "pla"}', 422, "run"),
        (b'{"machine": "Nobody", "material": "pla", "hours": 2}', 404, "machine"),
        (b'{"machine": "Larch", "material": "pla", "hours": 2, "person": "Nobody"}', 404, "person"),
        (b"[]", 422, None),
        (b"[" * 100_000, 400, None),
    ],
    ids=lambda value: str(value)[-60:],
)
def test_what_cannot_be_taken_is_refused_in_one_shape(
    client: TestClient, body: bytes, status: int, subject: str | None
) -> None:
    before = ok(client.get(f"{API}/runs"))["total_count"]
    answer = client.post(f"{API}/runs", content=body, headers={"content-type": "application/json"})
    told = refused(answer, status)
    assert subject is None or told["subject"] == subject
    assert ok(client.get(f"{API}/runs"))["total_count"] == before


def test_what_is_not_there_is_refused_in_json(client: TestClient) -> None:
    refused(client.get(f"{API}/nothing"), 404)
    refused(client.get(f"{API}/runs/999999"), 404)
    refused(client.get(f"{API}/runs/{2**63}"), 422)
    refused(client.delete(f"{API}/runs/1"), 405)
    refused(client.get(f"{API}/machines/..%2f..%2fetc%2fpasswd"), 404)
    refused(client.post(f"{API}/runs", content=b"x" * 5_000_000, headers={"content-type": "application/json"}), 413)
    big = {"content-type": "multipart/form-data; boundary=x"}
    refused(client.post(f"{API}/runs", content=b"x" * 5_000_000, headers=big), 413)


def test_without_a_farm_the_api_says_so(empty_client: TestClient) -> None:
    assert "no farm" in refused(empty_client.get(f"{API}/machines"), 503)["expected"]


def test_the_page_and_the_description_tell_of_every_route(client: TestClient) -> None:
    told = ok(client.get("/api/openapi.json"))
    page = client.get("/api").text.replace("<wbr>", "")
    for path, methods in told["paths"].items():
        assert path.startswith(API)
        for method, one in methods.items():
            assert f"{method.upper()} {path}" in page
            assert one["security"][0]["device"][0] in ("read", "record", "manage")
            assert {"400", "401", "403", "404", "409", "413", "422", "429", "503"} <= set(one["responses"])


def test_a_print_is_queued_placed_begun_and_taken_off(client: TestClient) -> None:
    queued = {"toolpath": "d14.gcode.gz", "material": "petg", "copies": 2}
    key = {"Idempotency-Key": "queue-1"}
    made = ok(client.post(f"{API}/queue", json=queued, headers=key), 201)
    assert ok(client.post(f"{API}/queue", json=queued, headers=key), 201) == made
    assert [one["number"] for one in ok(client.get(f"{API}/queue"))["items"]] == [made["number"]]
    assert (made["waiting_count"], made["machine"], made["due_utc"]) == (2, "", None)
    here = f"{API}/queue/{made['number']}"
    assert ok(client.post(f"{here}/place", json={"machine": "larch"}))["machine"] == "Larch"
    assert ok(client.post(f"{here}/place", json={}))["machine"] == ""
    ok(client.post(f"{API}/prints", json={"machine": "Larch", "queue_entry": made["number"]}), 201)
    assert ok(client.get(here))["under_way_count"] == 1
    assert "off the queue" in ok(client.post(f"{here}/take-off", json={"reason": "not wanted"}))["done"]
    refused(client.get(here), 404)
    refused(client.post(f"{API}/queue", json=queued, headers=key), 409)
    refused(client.post(f"{API}/queue", json={**queued, "toolpath": "none.gcode"}), 404)
    refused(client.post(f"{API}/queue", json={**queued, "material": "wood"}), 422)
    refused(client.post(f"{API}/queue", json={**queued, "due_utc": "1999-01-01T00:00:00Z"}), 422)


def test_a_path_on_the_page_may_break_after_a_slash_alone(client: TestClient) -> None:
    assert "<code>GET /<wbr>api/<wbr>v1/<wbr>bench</code>" in client.get("/api").text
