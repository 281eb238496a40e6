"""Rounds as pages and as JSON: planned, asked otherwise, printed, fed to a calendar."""

import re
from datetime import UTC, datetime, timedelta

import pytest
import vobject
from starlette.testclient import TestClient

JSON = {"Accept": "application/json"}


@pytest.fixture
def planned(client: TestClient) -> TestClient:
    """The same farm with its rounds planned."""
    assert client.post("/rounds/plan", headers=JSON).status_code == 201
    return client


def first_stop(client: TestClient) -> tuple[str, dict]:  # type: ignore[type-arg]
    one = client.get("/rounds", headers=JSON).json()["sheet"]["rounds"][0]
    return one["day"], one["stops"][0]


def test_before_the_first_plan_the_page_says_how_to_begin(client: TestClient) -> None:
    assert "No rounds are planned yet" in client.get("/rounds").text
    assert client.get("/rounds.ics", headers=JSON).status_code == 404


def test_the_plan_shows_stops_tasks_reasons_and_what_it_is_held_against(planned: TestClient) -> None:
    page = planned.get("/rounds").text
    day, stop = first_stop(planned)
    assert stop["machine"]["name"] in page
    assert stop["tasks"][0]["because"][0].split(":")[0] in page
    assert "each task alone when due" in page
    assert "a better plan could still save" in page
    assert f"/rounds/sheet?day={day}" in page


def test_the_bench_says_for_when_a_job_is_planned(planned: TestClient) -> None:
    """Both pages tell one story of a job that is due now."""
    bench = planned.get("/", headers=JSON).json()
    stops = [stop for one in planned.get("/rounds", headers=JSON).json()["sheet"]["rounds"] for stop in one["stops"]]
    begins = {str(task["fitting_id"]): stop["begins_utc"] for stop in stops for task in stop["tasks"]}
    due = [str(part["fitting"]["id"]) for part in bench["bench"]["now"]]
    assert due
    assert {one: bench["planned"][one]["begins_utc"] for one in due if one in begins} == {
        one: begins[one] for one in due if one in begins
    }
    assert '<a class="quiet" href="/rounds">Rounds</a>: planned for' in planned.get("/").text


def test_move_lock_skip_and_let_go_by_form(planned: TestClient) -> None:
    _, stop = first_stop(planned)
    assert "locked by you" in planned.post(f"/rounds/stops/{stop['number']}/lock").text
    to = (datetime.now(UTC) + timedelta(days=12)).date().isoformat()
    page = planned.post(f"/rounds/stops/{stop['number']}/move", data={"day": to, "reason": "a fair"}).text
    assert "moved by you" in page
    assert "a fair" in page
    wish = planned.get("/rounds", headers=JSON).json()["wishes"][0][0]["id"]
    assert planned.post(f"/rounds/wishes/{wish}/let-go", headers=JSON).status_code == 201
    _, stop = first_stop(planned)
    refused = planned.post(f"/rounds/stops/{stop['number']}/skip", data={"reason": ""}, headers=JSON)
    assert refused.status_code == 422
    page = planned.post(f"/rounds/stops/{stop['number']}/skip", data={"reason": "on loan"}).text
    assert "on loan" in page


def test_what_was_asked_is_said_at_the_top_with_one_tap_that_takes_it_back(planned: TestClient) -> None:
    _, stop = first_stop(planned)
    name = stop["machine"]["name"]
    assert "planned anew" in planned.post("/rounds/plan").text
    _, stop = first_stop(planned)
    to = datetime.now(UTC).date() + timedelta(days=12)
    moved = planned.post(f"/rounds/stops/{stop['number']}/move", data={"day": to.isoformat()})
    assert f"{name}: moved to {to:%a %d %b}." in moved.text
    back = re.findall(r'<form class="done undo" method="post" action="([^"]+)"', moved.text)[0]
    taken = planned.post(back)
    assert f"{name}: what you asked for is let go" in taken.text
    assert "What you asked for</h2>" not in taken.text
    assert "Take it back" not in planned.get(str(moved.url)).text, "it is taken back already"
    _, stop = first_stop(planned)
    assert f"{name}: locked on" in planned.post(f"/rounds/stops/{stop['number']}/lock").text


def test_a_skipped_stop_stays_in_sight_before_the_plan_to_be_taken_in_again(planned: TestClient) -> None:
    _, stop = first_stop(planned)
    planned.post(f"/rounds/stops/{stop['number']}/skip", data={"reason": "on loan"})
    page = planned.get("/rounds").text
    assert page.index("Take it in again") < (page.index("Week of") if "Week of" in page else len(page))
    assert re.search(r"left out until \w{3} \d\d \w{3}: on loan", page)


def test_the_next_round_lies_open_and_so_does_one_where_something_is_asked(planned: TestClient) -> None:
    def lie_open() -> dict[str, bool]:
        found = re.findall(r'<details class="card round wide" id="day-([^"]+)"( open)?>', planned.get("/rounds").text)
        return {day: bool(is_open) for day, is_open in found}

    assert list(lie_open().values())[:1] == [True]
    assert not any(list(lie_open().values())[1:])
    _, stop = first_stop(planned)
    to = (datetime.now(UTC) + timedelta(days=12)).date().isoformat()
    planned.post(f"/rounds/stops/{stop['number']}/move", data={"day": to})
    assert lie_open()[to]


def test_a_move_without_a_day_is_refused_plainly_and_asks_nothing(planned: TestClient) -> None:
    _, stop = first_stop(planned)
    refused = planned.post(f"/rounds/stops/{stop['number']}/move", data={"day": ""})
    assert refused.status_code == 422
    assert "write it like 2026-03-01" in refused.text
    assert planned.get("/rounds", headers=JSON).json()["wishes"] == []


def test_a_visit_is_begun_from_its_stop(planned: TestClient) -> None:
    _, stop = first_stop(planned)
    page = planned.post(f"/rounds/stops/{stop['number']}/begin")
    assert "/visits/" in str(page.url)
    assert "under way" in planned.get("/rounds").text


def test_hours_and_busy_times_are_said_by_form_and_taken_back(planned: TestClient) -> None:
    planned.post("/rounds/hours", data={"day": "tuesday", "hours": "1.5", "begins": "17:00"})
    page = planned.post("/rounds/hours", data={"day": "2030-12-24", "hours": "0", "begins": "09:00", "note": "feast"})
    assert "1 h 30 min from 17:00" in page.text
    assert "feast" in page.text
    begin, until = "2030-01-01T08:00", "2030-01-03T08:00"
    page = planned.post("/rounds/busy", data={"machine": "Larch", "begins": begin, "until": until, "note": "gift fair"})
    assert "gift fair" in page.text
    page = planned.post("/void", data={"what": "busy_window", "number": "1", "reason": "off", "back": "/rounds/hours"})
    assert "gift fair" not in page.text
    wrong = planned.post("/rounds/hours", data={"day": "someday", "hours": "1"}, headers=JSON)
    assert (wrong.status_code, wrong.json()["subject"]) == (422, "day")


def test_what_if_shows_the_difference(planned: TestClient) -> None:
    assert "See what would be" in planned.get("/rounds/what-if").text
    page = planned.get("/rounds/what-if?hours=50").text
    assert "50% of the hours" in page
    told = planned.get("/rounds/what-if?hours=50&part=nozzle&price=40", headers=JSON).json()["found"]
    assert told["now"]["total"]["currency"] == "EUR"


def test_sheets_and_the_calendar(planned: TestClient) -> None:
    day, stop = first_stop(planned)
    assert "Take along" in planned.get(f"/rounds/sheet?day={day}").text
    made = planned.get(f"/rounds/sheet.pdf?day={day}&paper=letter")
    assert made.headers["content-type"] == "application/pdf"
    assert made.content.startswith(b"%PDF-")
    assert planned.get("/rounds/sheet.pdf?paper=a7", headers=JSON).status_code == 422
    feed = planned.get("/rounds.ics")
    assert feed.headers["content-type"].startswith("text/calendar")
    assert stop["machine"]["name"].split(" ")[0] in vobject.readOne(feed.text).vevent.description.value
