"""Every page answers, as a page and as JSON; every form records what it says; a bad one records nothing."""

import json
import re
import shutil
from pathlib import Path
from urllib.parse import quote

import pytest
from small_farm import ODD_NAME, SAMPLES, TEST_HOSTS, THIS_MACHINE
from starlette.testclient import TestClient

from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.settings import set_figure
from feedwright.farm.prints.voids import void
from feedwright.web.app import create_app

JSON = {"accept": "application/json"}
ODD = quote(ODD_NAME)
PAGES = [
    "/", "/machines", "/machines/new", "/machines/Larch", "/machines/Larch?part=nozzle&position=1", f"/machines/{ODD}",
    "/machines/Larch/finding?part=tube_end", "/machines/Larch/renewal?part=tube_end", "/machines/Larch/event",
    "/runs", "/runs/new", "/runs/1", "/runs/61", "/toolpaths", "/handbook", "/handbook/parts/tube_end",
    "/handbook/materials/pla", "/books", "/void?what=run&number=1", "/fit", "/learning", "/machines/Larch/heat",
    "/machines/Larch/heat?ask=soak&mishap=fan_stall&nozzle_c=240&minutes=30&material=petg",
    "/machines/Larch/heat?ask=fan&nozzle_c=210&sink_c=48",
    "/machines/Larch/heat?ask=fan&nozzle_c=210&finger_s=2&let_go=yes",
    "/machines/Larch/heat?ask=push&flow=8", "/runs?machine=Larch",
    "/stores", "/stores/new?fits=nozzle:brass", "/stores/order", "/stores/1", "/stores/2", "/spools",
    "/spools?empty=true", "/spools/new", "/spools/1",
]  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_every_page_answers_as_page_and_as_json(client: TestClient, path: str) -> None:
    page = client.get(path)
    assert page.status_code == 200, page.text
    assert "<h1>" in page.text
    assert not re.search(r"\bNone\b|\bnan\b|\binf\b", re.sub(r"<script.*?</script>", "", page.text, flags=re.S))
    data = client.get(path, headers=JSON)
    assert data.status_code == 200
    assert isinstance(data.json(), dict)


def test_where_no_farm_is_the_bench_leads_by_the_hand(empty_client: TestClient) -> None:
    assert "Add a machine" in empty_client.get("/").text


def test_the_lists_behind_the_bench_lead_there_too(empty_client: TestClient) -> None:
    page = empty_client.get("/bench/soon", headers={"accept": "text/html"})
    assert page.status_code == 200
    assert page.text.count("Add a machine") == empty_client.get("/", headers={"accept": "text/html"}).text.count(
        "Add a machine"
    )


def test_beside_each_share_of_life_stands_what_decided_the_state(client: TestClient) -> None:
    """The two may seem to say different things: the share decides nothing."""
    parts = client.get("/machines/Larch", headers=JSON).json()["sheet"]["parts"]
    told = re.findall(r'<span class="reason">([^<]+)</span>', client.get("/machines/Larch").text)
    assert sorted(told) == sorted(part["advice"]["reason"] for part in parts)
    assert all(told)
    due = client.get("/", headers=JSON).json()["bench"]["now"]
    assert due
    assert re.findall(r'<span class="reason">([^<]+)</span>', client.get("/").text) == [
        part["advice"]["reason"] for part in due
    ]


@pytest.mark.parametrize(("form", "said"), [("finding", "look at"), ("renewal", "renewal of")])
def test_what_was_recorded_of_a_part_is_taken_back_with_one_tap(client: TestClient, form: str, said: str) -> None:
    before = client.get("/machines/Larch", headers=JSON).json()["sheet"]
    told = client.post(f"/machines/Larch/{form}", data={"part": "nozzle", "grade": "trace"})
    assert f"The {said} the nozzle of Larch is on record." in told.text
    to, act = re.findall(r'action="([^"]+)"><input type="hidden" name="act" value="(\d+)"', told.text)[0]
    back = client.post(to, data={"act": act})
    assert back.url.path == "/machines/Larch"
    assert f"Taken back: the {said} the nozzle of Larch." in back.text
    assert "Take it back" not in back.text
    after = client.get("/machines/Larch", headers=JSON).json()["sheet"]
    assert (after["findings"], after["past"]) == (before["findings"], before["past"])


def test_only_what_asks_for_nothing_is_folded_on_a_machines_page(client: TestClient) -> None:
    """What is due, or has used more than one life, stands open."""
    page = client.get("/machines/Larch").text
    shown, _, folded = page.partition("in order, with less than one usual life used")
    for part in client.get("/machines/Larch", headers=JSON).json()["sheet"]["parts"]:
        calm = part["advice"]["status"] == "in order" and part["outlook"]["share_used"]["mid"] < 1
        name = f'id="{part["kind"]}-{part["fitting"]["position"]}"'
        assert (name in folded, name in shown) == (calm, not calm)


def test_the_axis_of_the_life_chart_ends_where_its_longest_bar_ends(client: TestClient) -> None:
    chart = client.get("/", headers=JSON).json()["life_chart"]
    highest = max(row["high"] for row in chart["data"]["values"])
    assert 1 < highest <= 3
    for layer in chart["layer"]:
        assert layer["encoding"]["x"]["scale"]["domain"] == [0, highest]


def test_the_main_button_of_a_job_records_what_the_job_asks_for(farm_folder: Path, tmp_path: Path) -> None:
    """A look asks for what was seen, not for a new part."""
    shutil.copytree(farm_folder, tmp_path / "farm")
    with open_farm(tmp_path / "farm") as store:
        set_figure(store, "look_minutes", 1.0)  # so that looks are due as well
    with TestClient(create_app(tmp_path / "farm", hosts=TEST_HOSTS), client=THIS_MACHINE) as client:
        due = client.get("/", headers=JSON).json()["bench"]["now"]
        page = client.get("/").text
    asked = ["finding" if part["advice"]["act"] == "look" else "renewal" for part in due]
    assert set(asked) == {"finding", "renewal"}
    assert re.findall(r'<p class="acts"><a class="act" href="/machines/[^/]+/(\w+)\?', page) == asked


def test_ten_minutes_of_a_first_time_user(empty_client: TestClient) -> None:
    """Add a machine, hand in a file, log a run: the outlook changes."""
    made = empty_client.post("/machines/new", data={"name": "One", "build": "moving_bed_remote", "history": "new"})
    assert made.status_code == 200
    assert made.url.path == "/machines/One"
    with (SAMPLES / "d09.gcode.gz").open("rb") as file:
        shown = empty_client.post("/toolpaths", files={"file": ("lid.gcode.gz", file)})
    assert shown.status_code == 200
    assert "lid.gcode.gz" in shown.text
    before = _used(empty_client)
    run = empty_client.post(
        "/runs/new",
        data={"machine": "One", "toolpath": shown.url.path.rsplit("/", 1)[1], "material": "pla", "copies": "3"},
    )
    assert run.status_code == 200, run.text
    assert run.url.path == "/runs/1"
    assert _used(empty_client) > before
    assert empty_client.get("/runs/1").status_code == 200
    assert len(empty_client.get("/runs", headers=JSON).json()["lines"]) == 1, "showing a run must not record another"


def _used(client: TestClient) -> float:
    sheet = client.get("/machines/One", headers=JSON).json()["sheet"]
    part = next(part for part in sheet["parts"] if part["kind"] == "tube_end")
    return float(part["outlook"]["share_used"]["mid"])


def test_findings_renewals_events_are_recorded_and_voided(client: TestClient) -> None:
    client.post("/machines/Larch/finding", data={"part": "tube_end", "grade": "ring", "note": "grey"})
    client.post("/machines/Larch/renewal", data={"part": "tube_end", "reason": "worn", "trim": "21,5"})
    client.post("/machines/Larch/event", data={"kind": "jam", "when": "2026-11-01T08:30"})
    sheet = client.get("/machines/Larch", headers=JSON).json()["sheet"]
    assert sheet["findings"][0][0]["grade"] == "ring"
    assert sheet["past"][0][1]["trimmed_mm"] == 21.5
    jam = next(event for event in sheet["events"] if event["kind"] == "jam")
    assert jam["at_utc"] == "2026-11-01T07:30:00+00:00", "a time is meant in the farm's zone"
    gone = client.post(
        "/void", data={"what": "event", "number": jam["id"], "reason": "wrong machine", "back": "/machines"}
    )
    assert gone.url.path == "/machines"
    sheet = client.get("/machines/Larch", headers=JSON).json()["sheet"]
    assert not [event for event in sheet["events"] if event["kind"] == "jam"]


@pytest.mark.parametrize(
    ("path", "data", "named"),
    [
        ("/machines/new", {"name": "", "build": "moving_bed_remote"}, "name"),
        ("/machines/new", {"name": "a/b", "build": "moving_bed_remote"}, "slash"),
        ("/machines/new", {"name": "Larch", "build": "moving_bed_remote"}, "Larch"),
        ("/machines/new", {"name": "Two", "build": "moving_bedd"}, "moving_bed"),
        ("/runs/new", {"machine": "Lurch", "material": "pla", "hours": "2"}, "Larch"),
        ("/runs/new", {"machine": "Larch", "material": "pla", "hours": "two"}, "number"),
        ("/runs/new", {"machine": "Larch", "material": "pla", "hours": "-2"}, "hours"),
        ("/runs/new", {"machine": "Larch", "material": "pla"}, "toolpath"),
        ("/runs/new", {"machine": "Larch", "material": "plaa", "hours": "2"}, "pla"),
        ("/runs/new", {"machine": "Larch", "material": "pla", "hours": "2", "copies": "many"}, "copies"),
        ("/machines/Larch/finding", {"part": "tube_end", "grade": "fine"}, "clean"),
        ("/machines/Larch/renewal", {"part": "tube_end", "trim": "5000"}, "trim"),
        ("/machines/Larch/event", {"kind": "flood"}, "kind"),
        ("/machines/Larch/event", {"kind": "jam", "when": "yesterday"}, "when"),
        ("/settings", {"labour_per_h": "much"}, "An hour of work, in money"),
        ("/settings", {"zone": "Atlantis"}, "zone"),
        ("/runs/new", {"machine": "Larch", "material": "pla", "hours": "1,250"}, "two ways"),
        (
            "/runs/new",
            {"machine": "Larch", "material": "pla", "hours": "2", "outcome": "spoiled", "percent": "0.37"},
            "37",
        ),
        ("/runs/new", {"machine": "Larch", "material": "pla", "hours": "2", "percent": "37"}, "complete"),
        ("/machines/new", {"name": "Old", "build": "moving_bed_remote", "history": "used"}, "service"),
        ("/void", {"what": "run", "number": "1", "reason": ""}, "reason"),
        ("/void", {"what": "run", "number": "99999", "reason": "x"}, "run"),
    ],
)
def test_a_bad_form_is_refused_in_words_and_writes_nothing(
    client: TestClient, path: str, data: dict[str, str], named: str
) -> None:
    folder: Path = client.app.state.farms.folder  # type: ignore[attr-defined]
    with open_farm(folder) as store:
        acts = store.latest_act_id()
    page = client.post(path, data=data)
    assert 400 <= page.status_code < 500
    assert named in page.text
    assert "What to do" in page.text
    told = client.post(path, data=data, headers=JSON)
    assert {"error", "subject", "place", "expected", "remedy"} <= set(told.json())
    with open_farm(folder) as store:
        assert store.latest_act_id() == acts


@pytest.mark.parametrize(
    "content", [b"", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), b"Dear reader, this is a letter.\n" * 40]
)
def test_a_file_that_is_no_filament_toolpath_is_refused_with_the_reason(client: TestClient, content: bytes) -> None:
    page = client.post("/toolpaths", files={"file": ("thing.gcode", content)})
    assert page.status_code == 422
    assert "thing.gcode" in page.text
    assert "Traceback" not in page.text


def test_an_uploads_name_is_never_a_path(client: TestClient) -> None:
    content = (SAMPLES / "d14.gcode.gz").read_bytes()
    page = client.post("/toolpaths", files={"file": ("../../etc/cut<script>.gcode", content)})
    assert page.status_code == 200
    assert "<script>.gcode" not in page.text
    folder: Path = client.app.state.farms.folder  # type: ignore[attr-defined]
    assert not list(folder.parent.rglob("*script*"))


def test_what_people_write_is_shown_as_text(client: TestClient) -> None:
    for path in ("/", "/machines", f"/machines/{ODD}", "/machines/Larch", "/runs/new"):
        text = client.get(path).text
        assert "<b>&" not in text
        assert "<i>brown</i>" not in text


def test_a_file_is_held_against_a_machine_on_its_page(client: TestClient) -> None:
    known = client.get("/toolpaths", headers=JSON).json()["toolpaths"][0]
    asked = {"machine": "Larch", "toolpath": known["sha256"][:12], "material": "pla", "spool_g": "1"}
    told = client.get("/fit", params=asked, headers=JSON).json()
    assert told["verdict"] == "not as it stands"
    page = client.get("/fit", params=asked)
    assert "1 g are left on the spool" in page.text


@pytest.mark.parametrize(
    ("path", "named"),
    [
        ("/machines/Larch/heat?ask=soak&mishap=fan_stall&nozzle_c=240", "minutes"),
        ("/machines/Larch/heat?ask=soak&mishap=flood&nozzle_c=240&minutes=3", "fan_stall"),
        ("/machines/Larch/heat?ask=fan&nozzle_c=2000&sink_c=40", "40 to 450"),
        ("/machines/Larch/heat?ask=push&flow=-3", "flow"),
        ("/machines/Larch/heat?ask=weather", "soak, fan or push"),
    ],
)
def test_a_question_that_cannot_be_is_refused_with_its_range(client: TestClient, path: str, named: str) -> None:
    page = client.get(path)
    assert 400 <= page.status_code < 500
    assert named in page.text


def test_several_figures_are_kept_at_once_and_the_others_left(client: TestClient) -> None:
    before = client.get("/settings", headers=JSON).json()["figures"]["numbers"]
    client.post("/settings", data={"labour_per_h": "31,5", "name": "Yard", "filament_per_kg": "24.0"})
    after = client.get("/settings", headers=JSON).json()
    assert after["figures"]["numbers"]["labour_per_h"]["value"] == 31.5
    assert after["name"] == "Yard"
    assert after["figures"]["numbers"]["filament_per_kg"] == before["filament_per_kg"]


def test_a_currency_is_kept_with_its_price_ratio_alone(client: TestClient) -> None:
    refused = client.post("/settings", data={"currency": "CHF", "price_ratio": "1.0"}, headers=JSON)
    assert (refused.status_code, refused.json()["subject"]) == (422, "price_ratio")
    client.post("/settings", data={"currency": "CHF", "price_ratio": "0,94"})
    figures = client.get("/settings", headers=JSON).json()["figures"]
    assert (figures["currency"], figures["numbers"]["price_ratio"]["value"]) == ("CHF", 0.94)


def test_the_demo_gives_way_to_an_own_farm(farm_folder: Path, tmp_path: Path) -> None:
    app = create_app(farm_folder, own_folder=tmp_path / "own", hosts=TEST_HOSTS)
    with TestClient(app, client=THIS_MACHINE) as client:
        assert "demo farm" in client.get("/").text
        assert "Nothing on the bench yet" in client.post("/own").text
        client.post("/machines/new", data={"name": "Mine", "build": "moving_bed_remote"})
        assert "Mine" in client.get("/machines").text
        assert "demo farm" not in client.get("/").text


def test_a_farm_that_vanishes_is_missed_loudly_and_not_begun_anew(client: TestClient) -> None:
    folder: Path = client.app.state.farms.folder  # type: ignore[attr-defined]
    assert client.get("/books").status_code == 200
    shutil.rmtree(folder)
    for path in ("/", "/books", "/toolpaths", "/runs"):
        page = client.get(path)
        assert page.status_code == 503
        assert "no longer there" in page.text
    assert client.post("/machines/new", data={"name": "x", "build": "moving_bed_remote"}).status_code == 503
    assert not folder.exists()


@pytest.mark.parametrize("content", [b"no database at all\n" * 50, b"SQLite format 3\0" + bytes(4000)])
def test_a_damaged_farm_is_told_on_a_page(client: TestClient, content: bytes) -> None:
    folder: Path = client.app.state.farms.folder  # type: ignore[attr-defined]
    for held in folder.glob("farm.sqlite*"):
        held.unlink()
    (folder / "farm.sqlite").write_bytes(content)
    page = client.get("/")
    assert page.status_code == 503
    assert "What to do" in page.text
    assert "content-security-policy" in page.headers


def test_reading_pages_never_makes_a_farm(empty_client: TestClient) -> None:
    for path in ("/", "/machines", "/runs", "/runs/new", "/toolpaths", "/books", "/handbook"):
        assert empty_client.get(path).status_code == 200
        assert empty_client.get(path, headers=JSON).headers["content-type"] == "application/json"
    assert not empty_client.app.state.farms.folder.exists()  # type: ignore[attr-defined]


def test_unknown_places_are_refused_kindly(client: TestClient) -> None:
    for path in ("/nowhere", "/machines/Nobody", "/runs/999999", "/toolpaths/ffff", "/handbook/parts/wing"):
        page = client.get(path)
        assert page.status_code == 404, path
        assert "What to do" in page.text
    assert json.loads(client.get("/machines/Larc", headers=JSON).text)["error"]


def test_a_first_outlook_says_whether_the_farm_has_learned_anything(client: TestClient) -> None:
    shown = "/first?step=3&machine=Larch"
    assert "still rest on rules of thumb" in client.get(shown).text, "one nozzle was looked at"
    with open_farm(client.app.state.farms.folder) as store:  # type: ignore[attr-defined]
        for finding in store.findings():
            void(store, "finding", finding.id, "a slip")
        for removal in store.removals():
            void(store, "renewal", removal.id, "a slip")
    assert "Nothing has been learned here yet" in client.get(shown).text
