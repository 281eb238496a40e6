"""Prints on pages: a tap to begin, a tap to end, a tap to take back; a whole shelf; and forms that come twice."""

import html
import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from small_farm import ODD_NAME
from starlette.testclient import TestClient

JSON = {"accept": "application/json"}


def field(page: str, name: str) -> str:
    """The value of a hidden field of a page's first form."""
    return re.findall(rf'name="{name}" value="([^"]+)"', page)[0]


def test_two_taps_from_the_machines_page_record_a_print(client: TestClient) -> None:
    machine = client.get("/machines/Larch").text
    assert 'href="/prints?machine=Larch">Begin a print' in machine
    choices = client.get("/prints?machine=Larch").text
    assert "printed here before" in choices
    begun = client.post(
        "/prints/start",
        data={name: field(choices, name) for name in ("form_key", "machine", "toolpath", "material", "copies")},
    )
    assert "Larch: the print of d14.gcode.gz began in PETG." in begun.text
    assert "should end" in begun.text
    sheet = client.get("/machines/Larch").text
    assert "Printing since" in sheet
    assert "Printing since" in client.get("/machines").text
    ended = client.post("/prints/end", data={"machine": "Larch", "form_key": field(sheet, "form_key")})
    assert "Larch: the print of d14.gcode.gz is finished." in ended.text
    assert client.get("/runs", headers=JSON).json()["lines"][0]["run"]["outcome"] == "complete"


def test_a_tap_is_taken_back_with_one_more(client: TestClient) -> None:
    begun = client.post("/prints/start", data={"machine": "Larch", "material": "pla", "hours": "2"})
    back = client.post("/prints/undo", data={"act": field(begun.text, "act")})
    assert "Nothing is under way" in back.text
    assert "Taken back: the beginning of print 1 on Larch." in back.text
    again = client.post("/prints/undo", data={"act": field(begun.text, "act")})
    assert (again.status_code, "already" in again.text) == (409, True)


def test_what_is_offered_to_be_taken_back_is_gone_after_a_minute(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = client.post("/prints/start", data={"machine": "Larch", "material": "pla"}, headers=JSON).json()
    assert "Take it back" in client.get(f"/prints?act={begun[0]['act_id']}").text

    class Later(datetime):
        @classmethod
        def now(cls, tz: object = None) -> "Later":
            return super().now(UTC) + timedelta(seconds=61)  # type: ignore[return-value]

    monkeypatch.setattr("feedwright.farm.dispatch.print_choices.datetime", Later)
    assert "Take it back" not in client.get(f"/prints?act={begun[0]['act_id']}").text


def test_a_spoiled_print_says_how_it_looked_and_leads_to_the_part_at_fault(client: TestClient) -> None:
    client.post("/prints/start", data={"machine": "Larch", "material": "pla", "hours": "4"})
    form = client.get("/prints/end?machine=Larch").text
    assert 'value="1"' in form, "by the clock it has hardly begun"
    told = client.post(
        "/prints/end",
        data={"machine": "Larch", "kind": "spoil", "percent": "40", "look": ["strings", "thin_lines"],
              "form_key": field(form, "form_key")},
    )  # fmt: skip
    assert "fine hairs between parts of the print" in told.text
    assert "Find the part at fault" in told.text
    fields = {"machine": "Larch", "material": "pla", "answer.strings": "yes", "answer.thin_lines": "yes"}
    for name, value in fields.items():
        assert f'name="{name}" value="{value}"' in told.text
    case = client.post("/cases/new", data=fields)
    assert case.status_code == 200
    assert "/cases/" in str(case.url)


def test_a_form_sent_twice_counts_once_and_filled_in_otherwise_counts_by_itself(client: TestClient) -> None:
    def runs() -> int:
        return len(client.get("/runs?most=1000", headers=JSON).json()["lines"])

    before = runs()
    key = field(client.get("/runs/new").text, "form_key")
    told = {"machine": "Larch", "material": "pla", "hours": "3", "form_key": key}
    urls = {str(client.post("/runs/new", data=told).url) for _ in range(3)}
    assert (len(urls), runs()) == (1, before + 1)
    client.post("/runs/new", data={**told, "hours": "5"})
    assert runs() == before + 2
    client.post("/runs/new", data={**told, "form_key": field(client.get("/runs/new").text, "form_key")})
    assert runs() == before + 3


def test_a_run_is_taken_back_with_one_tap(client: TestClient) -> None:
    told = client.post("/runs/new", data={"machine": "Larch", "material": "pla", "hours": "3"})
    assert "Take it back" in told.text
    for page in (told, client.get(str(told.url).split("&")[0])):
        assert page.text.count("is on record") == 1
    client.post("/prints/undo", data={"act": field(told.text, "act")})
    assert client.get(str(told.url)).status_code == 404


def test_another_spool_is_hung_as_a_print_is_begun(client: TestClient) -> None:
    page = client.get("/prints?machine=Larch").text
    assert "the one that hangs there" in page
    assert '<option value="2">Spool 2, PETG' in page
    refused = client.post("/prints/start", data={"machine": "Larch", "material": "pla", "spool": "2"}, headers=JSON)
    assert refused.json()["expected"] == "the print is of PLA"
    client.post("/prints/start", data={"machine": "Larch", "material": "petg", "spool": "2"})
    shown = client.get("/spools", headers=JSON).json()
    assert [one["spool"]["id"] for one in shown["put_away"]] == [1]
    assert [(one["spool"]["id"], one["machine"]["name"]) for one in shown["hanging"]] == [(2, "Larch")]


def test_a_whole_shelf_is_recorded_at_once_or_not_at_all(client: TestClient) -> None:
    client.post("/prints/start", data={"machine": "Larch", "material": "pla", "hours": "4"})
    page = client.get("/prints/shelf", headers=JSON).json()
    number = {row["machine"]["name"]: row["machine"]["id"] for row in page["rows"]}
    larch, odd = number["Larch"], number[ODD_NAME]
    key = field(client.get("/prints/shelf").text, "form_key")
    bad = {f"end.{larch}": "finish", f"file.{larch}": "d14.gcode.gz", f"material.{larch}": "pla",
           f"file.{odd}": "none.gcode", f"material.{odd}": "abs", "form_key": key}  # fmt: skip
    refused = client.post("/prints/shelf", data=bad, headers=JSON)
    assert refused.status_code == 404
    assert ODD_NAME in refused.json()["place"]
    assert [one["held"]["hours"] for one in client.get("/prints", headers=JSON).json()["under_way"]] == [4.0]
    good = {**bad, f"file.{odd}": "d14.gcode.gz", f"copies.{odd}": "2"}
    told = client.post("/prints/shelf", data=good, headers=JSON).json()
    assert [(one["machine"]["name"], one["kind"]) for one in told] == [
        (ODD_NAME, "start"), ("Larch", "finish"), ("Larch", "start"),
    ]  # fmt: skip
    assert client.post("/prints/shelf", data=good, headers=JSON).json()[0]["act_id"] == told[0]["act_id"]
    assert len(client.get("/prints", headers=JSON).json()["under_way"]) == 2
    assert client.post("/prints/shelf", data={"form_key": "x"}).status_code == 422
    shown = client.get(f"/prints?act={told[0]['act_id']}").text
    assert "Larch: the print without a file is finished" in shown
    assert "Larch: the print of d14.gcode.gz began in PLA" in shown


def test_on_a_shelf_a_file_begins_a_print_and_a_material_alone_does_not(client: TestClient) -> None:
    rows = {row["machine"]["name"]: row for row in client.get("/prints/shelf", headers=JSON).json()["rows"]}
    larch, odd = rows["Larch"]["machine"]["id"], rows[ODD_NAME]["machine"]["id"]
    assert rows["Larch"]["material"] == "pla"
    sent = {f"material.{larch}": "pla", f"material.{odd}": "pla"}
    assert client.post("/prints/shelf", data=sent, headers=JSON).json()["expected"] == "nothing is marked"
    unchosen = client.post("/prints/shelf", data={f"file.{larch}": "d14.gcode.gz"}, headers=JSON).json()
    assert unchosen["subject"] == "Larch"
    assert unchosen["expected"] == "no material is chosen for d14.gcode.gz"
    lost = client.post("/prints/shelf", data={**sent, f"percent.{larch}": "40"}, headers=JSON).json()
    assert lost["expected"] == "a share is given, but not how the print ended"
    told = client.post("/prints/shelf", data={**sent, f"file.{odd}": "Without a file"}, headers=JSON).json()
    assert [(one["machine"]["name"], one["held"]["toolpath_id"]) for one in told] == [(ODD_NAME, None)]
    assert f"{ODD_NAME}: the print without a file began in PLA" in html.unescape(
        client.get(f"/prints?act={told[0]['act_id']}").text
    )


def test_pages_of_an_empty_farm_lead_to_its_first_steps(empty_client: TestClient) -> None:
    for path in ("/prints", "/prints/shelf", "/queue"):
        assert "Add a machine" in empty_client.get(path).text


def test_the_queue_proposes_and_is_overruled(client: TestClient) -> None:
    form = client.get("/queue").text
    told = {"toolpath": "d14.gcode.gz", "material": "pla", "copies": "2", "form_key": field(form, "form_key")}
    for _ in range(2):
        assert client.post("/queue", data=told).status_code == 200
    queue = client.get("/queue", headers=JSON).json()
    assert [line["entry"]["copies"] for line in queue["lines"]] == [2]
    number = queue["lines"][0]["entry"]["id"]
    shown = client.get("/queue").text
    assert "to finish" in shown
    assert "Can begin now" in shown
    put = client.post(f"/queue/{number}/place", data={"machine": "Larch", "note": "it is nearest"})
    assert "Put on Larch" in put.text
    made = client.get("/queue", headers=JSON).json()["made"]["proposals"]
    assert [one["machine"]["name"] for one in made] == ["Larch"]
    assert (
        "proposed" in client.get("/prints?machine=Larch").text
        or "you put it here" in client.get("/prints?machine=Larch").text
    )
    client.post("/prints/start", data={"machine": "Larch", "entry": str(number), "copies": "2"})
    assert client.get("/queue", headers=JSON).json()["lines"][0]["under_way"] == 2
    assert "off the queue" in client.post(f"/queue/{number}/take-off", headers=JSON).json()["done"]


@pytest.mark.parametrize(
    ("path", "told", "what"),
    [
        ("/prints/start", {"machine": "Larch"}, "material"),
        ("/prints/start", {"machine": "Nobody", "material": "pla"}, "machine"),
        ("/prints/end", {"machine": "Larch"}, "nothing is under way"),
        ("/prints/end", {"machine": "Larch", "kind": "lost"}, "finish, stop, spoil"),
        ("/prints/undo", {"act": "1"}, "no such tap"),
        ("/queue", {"toolpath": "none", "material": "pla"}, "toolpath"),
        ("/queue", {"toolpath": "d14.gcode.gz", "material": "pla", "due": "soon"}, "date and time"),
        ("/queue/77/place", {"machine": "Larch"}, "no such print waits"),
        ("/queue/77/take-off", {}, "no such print waits"),
    ],
)
def test_what_cannot_be_is_refused_in_words(client: TestClient, path: str, told: dict[str, str], what: str) -> None:
    answer = client.post(path, data=told, headers=JSON)
    assert answer.status_code in (404, 409, 422)
    assert what in str(answer.json())


def test_only_a_print_under_way_can_be_ended(client: TestClient) -> None:
    assert client.get("/prints/end?machine=Larch").status_code == 422


def test_a_print_past_its_end_is_not_said_to_have_come_to_99(client: TestClient) -> None:
    begun = f"{datetime.now(UTC) - timedelta(hours=3):%Y-%m-%dT%H:%M}+00:00"
    sent = {"machine": "Larch", "material": "pla", "hours": "1", "when": begun}
    assert client.post("/prints/start", data=sent).status_code == 200
    shown = client.get("/prints/end?machine=Larch").text
    assert "By the clock it should have ended" in shown
    assert 'value="99"' not in shown


def test_a_refusal_tells_its_times_in_the_farms_zone(client: TestClient) -> None:
    begun = datetime.now(UTC).replace(second=0, microsecond=0) - timedelta(hours=3)
    client.post("/prints/start", data={"machine": "Larch", "material": "pla", "when": begun.isoformat()})
    again = {"machine": "Larch", "material": "pla"}
    assert f"{begun:%Y-%m-%d %H:%M} UTC" in client.post("/prints/start", data=again, headers=JSON).json()["expected"]
    shown = client.post("/prints/start", data=again).text
    assert f"it prints since {begun.astimezone(ZoneInfo('Europe/Vienna')):%d %b %Y, %H:%M}" in shown
    assert "UTC" not in shown


def test_a_shelf_of_hundreds_of_machines_can_be_sent(client: TestClient) -> None:
    larch = client.get("/prints/shelf", headers=JSON).json()["rows"][-1]["machine"]["id"]
    sent = {f"{name}.{number}": "" for number in range(1000, 1500) for name in ("end", "percent", "file", "copies")}
    sent |= {f"file.{larch}": "d14.gcode.gz", f"material.{larch}": "pla"}
    assert len(client.post("/prints/shelf", data=sent, headers=JSON).json()) == 1


def test_a_refusal_leads_back_to_a_page_that_can_be_asked_for_alone(client: TestClient) -> None:
    bad = {"machine": "Larch", "material": "wood"}
    for came_from, leads in (
        ("/prints?machine=Larch", True),
        ("/machines/Larch/feed-rate", False),
        ("/nowhere", False),
    ):
        headers = {"referer": f"http://testserver{came_from}"}
        shown = client.post("/prints/start", data=bad, headers=headers).text
        assert ("data-back" in shown) == leads, came_from


def test_a_held_machine_is_not_called_free_and_beginning_on_it_says_so(client: TestClient) -> None:
    client.post("/machines/Larch/visit", data={"job": "trim_tube"})
    shown = client.get("/prints", headers=JSON).json()
    assert [one["machine"]["name"] for one in shown["held"]] == ["Larch"]
    assert "Larch" not in [one["name"] for one in shown["idle"]]
    rows = {row["machine"]["name"]: row for row in client.get("/prints/shelf", headers=JSON).json()["rows"]}
    assert rows["Larch"]["held"]["under_way"]
    assert "held, <a" in client.get("/prints/shelf").text
    assert ">Begin a print</a>" not in client.get("/machines/Larch").text
    assert "prove it good before it takes work" in client.get("/prints?machine=Larch").text
    begun = client.post("/prints/start", data={"machine": "Larch", "material": "pla", "hours": "2"})
    assert "not released: prove it good first" in begun.text


def test_what_hangs_there_is_chosen_already_and_its_end_is_foretold(client: TestClient) -> None:
    client.post("/spools/new", data={"material": "petg", "machine": "Larch", "net_g": "1"})
    assert '<option value="petg" selected>' in client.get("/prints?machine=Larch").text
    assert '<option value="petg" selected>' in client.get("/runs/new?machine=Larch").text
    begun = client.post(
        "/prints/start", data={"machine": "Larch", "material": "petg", "toolpath": "d14.gcode.gz", "copies": "40"}
    )
    assert "chance that it lasts under 1%" in begun.text
    number = client.get("/prints", headers=JSON).json()["under_way"][0]["held"]["id"]
    assert f"/void?what=print&amp;number={number}" in client.get("/prints/end?machine=Larch").text
