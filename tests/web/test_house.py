"""The pages of the house: one part, the handbook, search, labels, first use and the demo, settings."""

import time
from pathlib import Path

import pytest
from small_farm import ODD_NAME, SAMPLES, TEST_HOSTS, THIS_MACHINE
from starlette.testclient import TestClient

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import load_network
from feedwright.catalogue.procedures import load_procedures
from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.settings import set_farm_name
from feedwright.farm.machines.machines import add_machine
from feedwright.web.app import create_app
from feedwright.web.demo_farm import DemoFarm
from feedwright.web.pages.settings import TITLES

JSON, HTML = {"accept": "application/json"}, {"accept": "text/html"}


def test_a_tag_on_the_drawing_leads_to_each_part_with_its_state_in_words(client: TestClient) -> None:
    sheet = client.get("/machines/Larch", headers=JSON).json()["sheet"]
    html = client.get("/machines/Larch", headers=HTML).text
    drawing = html[html.index('<svg class="path"') : html.index("Its parts")]
    for part in sheet["parts"]:
        title = load_catalogue().parts[part["kind"]].title
        place = drawing.index(f"part?part={part['kind']}&amp;")
        words = drawing[place : place + 300]
        assert title in words
        assert any(state in words for state in ("service now", "service soon", "in order", "unknown"))


def test_a_parts_use_adds_up_from_the_runs_that_brought_it(client: TestClient) -> None:
    held = client.get("/machines/Larch/part?part=tube_end", headers=JSON).json()["sheet"]
    use = held["use"]
    assert sum(one["exposure"] for one in use["by_title"]) == pytest.approx(use["gathered"], rel=1e-9)
    assert sum(one["share_frac"] for one in use["by_title"]) == pytest.approx(1.0)
    assert use["before"]["mid"] + use["gathered"] == pytest.approx(held["part"]["outlook"]["exposure"]["mid"], rel=1e-9)
    assert [one["exposure"] for one in use["most"]] == sorted((one["exposure"] for one in use["most"]), reverse=True)


def test_a_part_says_how_its_numbers_came_about(client: TestClient) -> None:
    html = client.get("/machines/Larch/part?part=tube_end", headers=HTML).text
    constants = load_catalogue().parts["tube_end"].exposure.numbers
    assert "How the share of life used came about" in html
    assert f"{constants['activation_ev'].value:g}" in html
    assert "no published value for this geometry was found" in html
    assert (
        client.get("/machines/Larch/part?part=nozzle", headers=JSON).json()["sheet"]["findings"][0]["grade"] == "trace"
    )


@pytest.mark.parametrize("asked", ["part=wing", "part=nozzle&position=9", "part=linear_bearing"])
def test_a_part_that_is_not_there_is_refused(client: TestClient, asked: str) -> None:
    assert client.get(f"/machines/Larch/part?{asked}", headers=JSON).status_code in (404, 422)


def test_every_chapter_of_the_handbook_opens(client: TestClient, empty_client: TestClient) -> None:
    network = load_network()
    chapters = {
        "parts": load_catalogue().parts, "materials": load_catalogue().materials, "causes": network.causes,
        "checks": network.checks, "repairs": network.repairs, "procedures": load_procedures().procedures,
    }  # fmt: skip
    contents = client.get("/handbook", headers=HTML).text
    for path, entries in chapters.items():
        for key in entries:
            assert f'"/handbook/{path}/{key}"' in contents
        for key in list(entries)[:2]:
            for asked in (client, empty_client):
                assert entries[key].title in asked.get(f"/handbook/{path}/{key}", headers=HTML).text
            assert client.get(f"/handbook/{path}/{key}", headers=JSON).json()
    assert client.get("/handbook/parts/wing").status_code == 404


def test_cautions_stand_before_the_step_that_needs_them(client: TestClient) -> None:
    procedure = load_procedures().procedures["trim_tube"]
    html = client.get("/handbook/procedures/trim_tube", headers=HTML).text
    caution = load_procedures().cautions["fumes"]
    step = next(step for step in procedure.steps if "fumes" in step.cautions)
    assert html.index(caution) < html.index(step.do.split("'")[0][:40])


def test_the_handbook_comes_as_a_file_on_the_paper_that_is_asked_for(client: TestClient) -> None:
    held = client.get("/handbook.pdf?paper=letter")
    assert held.headers["content-type"] == "application/pdf"
    assert held.content.startswith(b"%PDF-")
    assert client.get("/handbook.pdf?paper=foolscap", headers=JSON).status_code == 422


def test_search_groups_what_it_finds_and_shows_names_as_text(client: TestClient) -> None:
    found = client.get("/search?q=larch", headers=JSON).json()["groups"]
    assert found["Machines"][0]["to"] == "/machines/Larch"
    assert client.get("/search?q=run 61", headers=JSON).json()["groups"]["Runs"][0]["to"] == "/runs/61"
    assert client.get("/search?q=setings", headers=JSON).json()["groups"]["Pages"][0]["to"] == "/settings"
    odd = client.get("/search?q=ash oak", headers=HTML).text
    assert "<b>" not in odd
    assert client.get(client.get("/search?q=ash oak", headers=JSON).json()["groups"]["Machines"][0]["to"]).is_success
    assert "Nothing fits" in client.get("/search?q=<script>xylophone", headers=HTML).text


def test_labels_are_shown_and_printed_and_lead_to_their_machine(client: TestClient) -> None:
    asked = {"machine": ODD_NAME, "base": "http://10.0.0.7:8765"}
    shown = client.get("/labels", params=asked, headers=JSON)
    label = shown.json()["shown"]
    assert label["name"] == ODD_NAME
    opened = client.get(label["address"].removeprefix("http://10.0.0.7:8765"), headers=JSON).json()
    assert opened["held"]["machine"]["name"] == ODD_NAME
    assert len(opened["choices"]) == 3
    for choice in opened["choices"]:
        assert client.get(choice["to"], headers=HTML).is_success
    assert client.get("/labels.pdf?sheet=66.7x25.4&first=4").content.startswith(b"%PDF-")


@pytest.mark.parametrize(
    "asked", ["sheet=71x37", "base=ftp://x", "first=99", "sheet=own&columns=3&rows=9", "sheet=own&columns=many",
              "machine=Nobody", "sheet=own&width_mm=5"],
)  # fmt: skip
def test_labels_that_cannot_be_are_refused_in_words(client: TestClient, asked: str) -> None:
    refused = client.get(f"/labels.pdf?{asked}", headers=JSON)
    assert refused.status_code in (404, 422)
    assert refused.json()["remedy"]


def test_what_one_wants_before_a_machine_follows_its_state(client: TestClient) -> None:
    def wishes() -> list[str]:
        return client.get("/m/larch", headers=JSON).json()["held"]["wishes"]

    assert "start print" in wishes()
    client.post("/machines/Larch/visit", data={"job": "renew_nozzle", "material": "pla"})
    assert wishes() == ["continue visit", "open case", "see machine"]


def test_first_use_goes_step_by_step_and_each_can_be_skipped(empty_client: TestClient) -> None:
    assert empty_client.get("/first", headers=JSON).json()["step"] == 1
    assert empty_client.get("/first?step=2", headers=JSON).json()["step"] == 2
    assert empty_client.get("/first?step=3", headers=JSON).json()["step"] == 1
    described = {"name": "Thistle", "build": "three_tower_remote", "history": "new", "walk": "1"}
    assert "Drop a toolpath" in empty_client.post("/machines/new", data=described).text
    skipped = empty_client.get("/first?step=3&machine=Thistle", headers=JSON).json()["outlook"]
    assert skipped["report"] is None
    assert skipped["parts"]
    with (SAMPLES / "d09.gcode.gz").open("rb") as file:
        seen = empty_client.post("/toolpaths", data={"walk": "Thistle"}, files={"file": ("d09.gcode.gz", file)})
    assert "First outlook of Thistle" in seen.text
    outlook = empty_client.get("/first?machine=Thistle", headers=JSON).json()["outlook"]
    for one in outlook["parts"]:
        if one["exposure"]:
            assert one["prints"]["low"] < one["prints"]["mid"] < one["prints"]["high"]
            assert one["prints"]["mid"] * one["share_frac"]["mid"] == pytest.approx(1.0)


def _quick_demo(folder: Path, told) -> None:
    told(1.0, 2.0)
    with open_farm(folder, create=True) as store:
        set_farm_name(store, "Quick yard (demo)")
        add_machine(store, "Alder", "moving_bed_remote")


def test_the_demo_farm_is_opened_and_thrown_away(tmp_path: Path) -> None:
    demo = DemoFarm(tmp_path / "demo", _quick_demo)
    app = create_app(tmp_path / "own", hosts=TEST_HOSTS, demo=demo)
    with TestClient(app, client=THIS_MACHINE, follow_redirects=True) as client:
        assert "Look at the demo farm" in client.get("/", headers=HTML).text
        client.post("/demo", headers=HTML)
        deadline = time.monotonic() + 20
        while not client.get("/demo", headers=JSON).json()["ready"]:
            assert time.monotonic() < deadline
            time.sleep(0.05)
        assert "this is the demo farm" in client.get("/demo", headers=HTML).text.lower()
        assert "Alder" in client.get("/machines", headers=HTML).text
        assert "Nothing on the bench yet" in client.post("/demo/away", headers=HTML).text
    assert not demo.folder.exists()


def test_no_farm_but_a_demo_is_ever_thrown_away(tmp_path: Path) -> None:
    demo = DemoFarm(tmp_path / "demo", _quick_demo)
    _quick_demo(demo.folder, lambda done, of: None)
    with open_farm(demo.folder) as store:
        set_farm_name(store, "Real after all")
    app = create_app(tmp_path / "own", hosts=TEST_HOSTS, demo=demo)
    with TestClient(app, client=THIS_MACHINE, follow_redirects=True) as client:
        assert client.post("/demo/away", headers=JSON).status_code == 409
    assert (demo.folder / "farm.sqlite").is_file()
    with TestClient(create_app(tmp_path / "own", hosts=TEST_HOSTS), client=THIS_MACHINE) as client:
        assert client.post("/demo/away", headers=JSON).status_code == 404


def test_a_demo_that_cannot_be_made_says_why(tmp_path: Path) -> None:
    (tmp_path / "demo").mkdir()
    (tmp_path / "demo" / "letter.txt").write_text("somebody's")

    def refuse(folder: Path, told) -> None:
        from feedwright.demo.workshop import make_demo

        make_demo(folder, progress=told)

    demo = DemoFarm(tmp_path / "demo", refuse)
    demo.begin()
    deadline = time.monotonic() + 20
    while not demo.fault:
        assert time.monotonic() < deadline
        time.sleep(0.05)
    assert "new or empty folder" in demo.fault
    assert (tmp_path / "demo" / "letter.txt").read_text() == "somebody's"


def test_settings_group_every_figure_and_keep_what_is_changed(client: TestClient) -> None:
    held = client.get("/settings", headers=JSON).json()
    grouped = [name for group in held["groups"] for name in group["names"]]
    assert sorted(grouped) == sorted(held["figures"]["numbers"])
    client.post("/settings", data={"measures": "imperial", "address": "http://10.0.0.7:8765/", "labour_per_h": "31"})
    after = client.get("/settings", headers=JSON).json()
    assert (after["measures"], after["address"]) == ("imperial", "http://10.0.0.7:8765")
    assert after["figures"]["numbers"]["labour_per_h"]["value"] == 31
    assert client.get("/labels", headers=JSON).json()["base"] == "http://10.0.0.7:8765"
    page = client.get("/handbook", headers=HTML).text
    assert "°F" in page
    assert "°C" not in page[page.index("Materials</h2>") : page.index("What you see")]
    for wrong in ({"measures": "cubits"}, {"address": "the workshop"}):
        assert client.post("/settings", data=wrong, headers=JSON).status_code == 422


@pytest.mark.parametrize("given", ["nan", "inf", "1e999"])
def test_what_is_no_number_of_labels_is_refused(client: TestClient, given: str) -> None:
    answer = client.get(f"/labels.pdf?sheet=own&columns={given}")
    assert answer.status_code == 422
    assert "expected a number" in answer.text


def test_every_figure_with_a_title_of_its_own_is_one_of_the_catalogues(client: TestClient) -> None:
    assert set(TITLES) <= set(load_catalogue().figures.numbers)
    assert all(title.replace("'", "&#39;") in client.get("/settings").text for title in TITLES.values())


def test_a_sign_opens_what_may_be_behind_it(client: TestClient) -> None:
    html = client.get("/handbook/signs", headers=HTML).text
    signs = load_network().observations
    assert html.count('<li class="tile sign"') == html.count("<details><summary>") == len(signs)


def test_the_settings_are_kept_from_anywhere_on_the_page(client: TestClient) -> None:
    assert '<p class="thumb"><button class="act">Keep them</button></p>' in client.get("/settings", headers=HTML).text


def test_a_causes_numbers_are_folded_and_its_cautions_never(client: TestClient) -> None:
    html = client.get("/handbook/causes/liner_gap", headers=HTML).text
    assert html.index('class="caution"') < html.index("<summary>Its numbers") < html.index("<table>")
    assert "<details" not in html[html.index("<main") : html.index('class="caution"')]


@pytest.mark.parametrize("which", ["back-1", "back-99999999999999999999999", "back-²", "run-7"])
def test_a_page_of_no_farm_says_nothing_of_what_was_recorded(empty_client: TestClient, which: str) -> None:
    for path, status in (("/", 200), ("/rounds", 200), ("/nowhere", 404)):
        answer = empty_client.get(f"{path}?recorded={which}")
        assert answer.status_code == status
        assert "on record." not in answer.text


def test_a_made_up_line_of_what_was_taken_back_is_left_out(client: TestClient) -> None:
    for which in ("back-²", "back-1", "back-99999999999999999999999", "back-"):
        assert client.get(f"/prints?recorded={which}").status_code == 200
