"""Visits, tramming and working values as pages and as JSON; the phone itself is tried in test_visit_in_browser.py."""

import io
import re
from datetime import UTC, datetime
from urllib.parse import quote

import pytest
from PIL import Image
from small_farm import ODD_NAME
from starlette.testclient import TestClient

JSON = {"Accept": "application/json"}


def begun(client: TestClient) -> int:
    form = {"job": ["trim_tube", "renew_nozzle"], "material": "pla"}
    made = client.post("/machines/Larch/visit", data=form, headers=JSON)
    assert made.status_code == 201, made.text
    return int(made.json()["id"])


def test_a_plan_shows_what_it_takes_before_anything_begins(client: TestClient) -> None:
    before = client.get("/machines/Larch/visit")
    assert "Trim the tube end" in before.text
    plan = client.get("/machines/Larch/visit?job=trim_tube&job=renew_nozzle")
    assert "Heat-ups" in plan.text
    assert "socket for the nozzle" in plan.text
    assert "Begin the visit" in plan.text
    assert client.get("/visits", headers=JSON).json()["held"] == []


def test_an_entry_sent_twice_counts_once_and_shows_on_another_device(client: TestClient) -> None:
    number = begun(client)
    sheet = client.get(f"/visits/{number}", headers=JSON).json()
    step = sheet["sheet"]["screens"][0]["step"]["id"]
    form = {"step": step, "entry_key": "k1", "cautions_read": "yes", "at": "2026-01-01T00:00:00Z"}
    for _ in range(2):
        assert client.post(f"/visits/{number}/entries", data=form, headers=JSON).status_code == 201
    state = client.get(f"/visits/{number}/state").json()
    assert datetime.fromisoformat(state.pop("as_of")) <= datetime.now(UTC)
    assert state == {"closed": {step: "done"}, "ended": False, "paused": False, "readings": {}}
    kept = client.get(f"/visits/{number}", headers=JSON).json()["sheet"]
    assert [entry["kind"] for entry in kept["entries"]] == ["cautions", "done"]
    assert kept["entries"][1]["entered_utc"] >= kept["visit"]["begun_utc"]


def test_a_device_whose_clock_runs_ahead_loses_no_entry(client: TestClient) -> None:
    number = begun(client)
    step = client.get(f"/visits/{number}", headers=JSON).json()["sheet"]["screens"][0]["step"]["id"]
    for key, at in (("a", "2099-01-01T00:00:00Z"), ("b", "yesterday")):
        form = {"step": step, "entry_key": key, "cautions_read": "yes", "at": at}
        assert client.post(f"/visits/{number}/entries", data=form, headers=JSON).status_code == 201


@pytest.mark.parametrize(
    ("form", "status", "words"),
    [
        ({"step": "trim_tube.cut", "trimmed_mm": "1,000"}, 422, "two ways"),
        ({"step": "trim_tube.cut", "trimmed_mm": "900"}, 422, "0.5 to 500"),
        ({"step": "trim_tube.cut", "cautions_read": ""}, 409, "not acknowledged"),
        ({"step": "nothing"}, 404, "no such step"),
        ({"step": "trim_tube.look", "grade": ""}, 422, "what you saw"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_in_words(
    client: TestClient, form: dict[str, str], status: int, words: str
) -> None:
    number = begun(client)
    sent = {"entry_key": "k", "cautions_read": "yes", **form}
    answer = client.post(f"/visits/{number}/entries", data=sent, headers=JSON)
    assert answer.status_code == status
    assert words in " ".join(answer.json().values())


def test_a_visit_given_up_is_held_until_it_is_proved_or_released_with_a_reason(client: TestClient) -> None:
    number = begun(client)
    assert client.post(f"/visits/{number}/end", data={"outcome": "done"}, headers=JSON).status_code == 409
    page = client.post(f"/visits/{number}/end", data={"outcome": "given_up"})
    assert "Held until proved" in page.text
    assert "The work was given up, " in page.text
    assert "Larch is still held: it may take no work before it is released below." in page.text
    assert re.search(r"Read anew, mm</label>\s*<input", page.text), "a reading is asked for with its unit"
    assert 'href="/cases/new">Something is wrong' in client.get("/visits").text
    assert "Serviced, not released" in client.get("/visits").text
    assert "not released for work" in client.get("/machines/Larch").text
    assert client.post(f"/visits/{number}/release", headers=JSON).status_code == 409
    client.post(f"/visits/{number}/proof", data={"kind": "tram", "value": "0.04"})
    released = client.post(f"/visits/{number}/release", data={"override": "drafts only"})
    assert "may take work again" in released.text
    assert "still held" not in released.text
    assert "drafts only" in client.get("/visits").text
    assert "not released for work" not in client.get("/machines/Larch").text


def test_visits_ended_lately_stand_as_they_ended_and_not_as_they_began(client: TestClient) -> None:
    first, plan = begun(client), {"job": "clean_drive", "material": "pla"}
    other = client.post(f"/machines/{quote(ODD_NAME)}/visit", data=plan, headers=JSON).json()["id"]
    for number in (other, first):
        client.post(f"/visits/{number}/end", data={"outcome": "given_up"})
    assert [row[0]["id"] for row in client.get("/visits", headers=JSON).json()["past"]] == [first, other]


def test_a_step_is_taken_back(client: TestClient) -> None:
    number = begun(client)
    step = client.get(f"/visits/{number}", headers=JSON).json()["sheet"]["screens"][0]["step"]["id"]
    client.post(f"/visits/{number}/entries", data={"step": step, "entry_key": "k", "cautions_read": "yes"})
    client.post(f"/visits/{number}/take-back", data={"step": step})
    assert client.get(f"/visits/{number}/state").json()["closed"] == {}


def test_tramming_draws_the_bed_and_says_how_to_turn(client: TestClient) -> None:
    form = client.get("/machines/Larch/tram")
    assert "front left" in form.text
    data = {
        "x": ["30", "200", "200", "30"],
        "y": ["30", "30", "200", "200"],
        "reading": ["0.1", "0.22", "0.05", "-0.03"],
    }
    sheet = client.post("/machines/Larch/tram", data=data)
    assert "clock minutes" in sheet.text
    assert "bed-picture" in sheet.text
    paper = {**data, "by": "paper", "reading": ["drags", "stuck", "drags", "loose"]}
    assert client.post("/machines/Larch/tram", data=paper).status_code == 200
    off = {**data, "x": ["30", "900", "200", "30"]}
    refused = client.post("/machines/Larch/tram", data=off, headers=JSON)
    assert refused.status_code == 422
    assert "the bed reaches" in refused.json()["expected"]


def test_screws_are_written_down_by_page(client: TestClient) -> None:
    data = {"screw": ["a", "b", "c", ""], "x": ["20", "210", "115", "0"], "y": ["20", "20", "210", "0"], "pitch": "0,5",
            "clockwise": "raises"}  # fmt: skip
    page = client.post("/machines/Larch/screws", data=data)
    assert "3 screws of 0.5 mm pitch, clockwise raises" in page.text
    refused = client.post("/machines/Larch/screws", data={**data, "x": ["20", "20", "115", "0"]}, headers=JSON)
    assert refused.status_code == 422
    assert "one place" in refused.json()["expected"]


def test_working_values_are_written_down_with_their_reason(client: TestClient) -> None:
    data = {"kind": "retract_mm", "value": "0.2", "material": "pla", "why": "retraction piece"}
    page = client.post("/machines/Larch/values", data=data)
    assert "retraction piece" in page.text
    assert "will string" in page.text


def test_without_a_farm_the_visits_page_says_how_to_begin(empty_client: TestClient) -> None:
    assert "Add" in empty_client.get("/visits").text


def picture() -> bytes:
    held = io.BytesIO()
    Image.new("RGB", (64, 48), "brown").save(held, "JPEG")
    return held.getvalue()


def test_a_photo_of_a_step_is_shown_on_the_visit_and_served_as_a_picture(client: TestClient) -> None:
    number = begun(client)
    form = {"step": "trim_tube.look", "entry_key": "k1", "grade": "ring", "note": ""}
    files = {"photo": ("../../etc/passwd<b>.jpg", picture(), "text/html")}
    made = client.post(f"/visits/{number}/entries", data=form, files=files, headers=JSON)
    assert made.status_code == 201, made.text
    assert '<img src="/photos/1.jpg"' in client.get(f"/visits/{number}").text
    shown = client.get("/photos/1.jpg")
    assert shown.headers["content-type"] == "image/jpeg"
    assert shown.headers["cache-control"].startswith("private")
    assert shown.content[:3] == b"\xff\xd8\xff"
    assert client.get("/photos/2.jpg").status_code == 404


@pytest.mark.parametrize("given", [b"<svg onload=alert(1)>", picture()[:120], b"\x00" * 40])
def test_what_is_no_photo_is_refused_with_its_entry(client: TestClient, given: bytes) -> None:
    number = begun(client)
    form = {"step": "trim_tube.look", "entry_key": "k1", "grade": "ring"}
    refused = client.post(f"/visits/{number}/entries", data=form, files={"photo": ("a.jpg", given)}, headers=JSON)
    assert refused.status_code == 422
    assert refused.json()["subject"] == "photo"
    assert client.get(f"/visits/{number}", headers=JSON).json()["sheet"]["entries"] == []


def test_a_form_without_a_photo_goes_through(client: TestClient) -> None:
    """What a browser sends where no file was chosen: a part without name and content."""
    number = begun(client)
    form = {"step": "trim_tube.look", "entry_key": "k1", "grade": "ring"}
    made = client.post(f"/visits/{number}/entries", data=form, files={"photo": ("", b"")}, headers=JSON)
    assert made.status_code == 201, made.text


def test_a_finding_with_a_photo_stands_in_the_machines_and_the_parts_history(client: TestClient) -> None:
    form = {"part": "nozzle", "grade": "worn"}
    client.post("/machines/Larch/finding", data=form, files={"photo": ("a.jpg", picture(), "image/jpeg")})
    for path in ("/machines/Larch", "/machines/Larch/part?part=nozzle"):
        assert 'src="/photos/1.jpg"' in client.get(path).text, path


def test_a_look_is_drawn_grade_by_grade(client: TestClient) -> None:
    number = begun(client)
    page = client.get(f"/visits/{number}").text
    assert page.count('class="grade-picture"') == 8  # tube end and nozzle
    assert client.get("/machines/Larch/finding?part=sink_fan").text.count('class="grade-picture"') == 4


def test_the_worker_reaches_no_further_than_visits(client: TestClient) -> None:
    """W3C Service Workers: the scope is the script's own folder unless a header widens it."""
    worker = client.get("/visits/worker.js")
    assert worker.headers["content-type"].startswith("text/javascript")
    assert "service-worker-allowed" not in worker.headers
    assert "worker-src 'self'" in worker.headers["content-security-policy"]
