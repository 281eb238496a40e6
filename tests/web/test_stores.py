"""Stores and spools on pages: what is on hand, one touch to take, count or order; bad input records nothing."""

import re

import pytest
from starlette.testclient import TestClient

from feedwright.web.pages import spools

JSON = {"accept": "application/json"}


def on_hand(client: TestClient, number: int) -> tuple[int, int]:
    stock = client.get(f"/stores/{number}", headers=JSON).json()["sheet"]["stock"]
    return stock["on_hand"], sum(order["left"] for order in stock["open_orders"])


def test_the_whole_round_of_an_item(client: TestClient) -> None:
    """Kept, ordered from the list, received, taken, counted; then a renewal takes its own."""
    made = client.post(
        "/stores/new", data={"name": "gears", "fits": "drive_gear", "on_hand": "2", "pack": "4", "price": "7,90"}
    )
    assert made.status_code == 200, made.text
    assert "Item 3 is on record." in made.text
    assert client.post("/stores/order", data={"packs-3": "1", "packs-1": "0", "packs-2": ""}).status_code == 200
    assert on_hand(client, 3) == (2, 4)
    client.post("/stores/3/receive", data={"count": "3"})
    assert on_hand(client, 3) == (5, 1)
    client.post("/stores/3/use")
    client.post("/machines/Larch/renewal", data={"part": "drive_gear"})
    assert on_hand(client, 3) == (3, 1)
    client.post("/machines/Larch/renewal", data={"part": "idler"})
    client.post("/stores/3/count", data={"count": "2", "reason": "lost"})
    assert on_hand(client, 3) == (2, 1)
    order = client.get("/stores/3", headers=JSON).json()["sheet"]["stock"]["open_orders"][0]["movement"]["id"]
    client.post("/stores/3/cancel", data={"order": order})
    assert on_hand(client, 3) == (2, 0)
    client.post("/stores/3/terms", data={"pack": "10", "lead_days": "12", "breaks": "4 8.9\n10 8.1"})
    terms = client.get("/stores/3", headers=JSON).json()["sheet"]["terms"]
    assert (terms["pack_count"], terms["lead_days"], len(terms["breaks"])) == (10, 12.0, 2)


def test_a_renewal_may_say_that_its_part_came_from_elsewhere(client: TestClient) -> None:
    form = client.get("/machines/Larch/renewal?part=nozzle").text
    assert "The part came from elsewhere" in form
    client.post("/machines/Larch/renewal", data={"part": "nozzle", "elsewhere": "true"})
    assert on_hand(client, 1) == (0, 0)


BAD = [
    ("/stores/new", {"name": "x", "fits": "gold"}),
    ("/stores/new", {"name": "", "fits": "nozzle"}),
    ("/stores/new", {"name": "x", "fits": "nozzle", "pack": "1.5"}),
    ("/stores/new", {"name": "x", "fits": "nozzle", "price": "dear"}),
    ("/stores/new", {"name": "x", "fits": "nozzle", "breaks": "4"}),
    ("/stores/1/use", {"count": "0"}),
    ("/stores/1/use", {"count": "many"}),
    ("/stores/1/count", {"count": "7"}),
    ("/stores/1/count", {"count": "-1", "reason": "lost"}),
    ("/stores/1/receive", {"count": "1e9"}),
    ("/stores/1/terms", {"lead_days": "-3"}),
    ("/stores/1/cancel", {"order": "1"}),
    ("/stores/99/use", {}),
    ("/stores/order", {"packs-99": "1"}),
    ("/stores/order", {}),
    ("/stores/order", {"packs-1": "0.5"}),
    ("/spools/new", {"material": "wood"}),
    ("/spools/new", {"material": "pla", "net_g": "-1"}),
    ("/spools/1/hang", {"machine": "Nobody"}),
    ("/spools/1/weigh", {}),
    ("/spools/1/weigh", {"gross_g": "20"}),
    ("/spools/2/weigh", {"gross_g": "900"}),
    ("/spools/1/dry", {"dry_c": "900"}),
    ("/spools/99/empty", {}),
]


def test_bad_input_is_refused_in_words_and_records_nothing(client: TestClient) -> None:
    before = client.get("/books", headers=JSON).json()["acts"]
    for path, data in BAD:
        refused = client.post(path, data=data, headers=JSON)
        assert 400 <= refused.status_code < 500, (path, data, refused.text)
        assert refused.json()["remedy"]
    assert client.get("/books", headers=JSON).json()["acts"] == before


def test_bench_visit_and_order_list_say_what_is_on_hand_and_wanted(client: TestClient) -> None:
    client.post("/stores/new", data={"name": "sheets", "fits": "bed_surface", "on_hand": "3"})
    plan = client.get("/machines/Larch/visit?part=nozzle").text
    assert "1 of brass nozzle 0.4, none on hand" in plan
    assert "Not in the stores" in plan
    bench = client.get("/", headers=JSON).json()
    named = {spare["item"]["name"] for spare in bench["spares"].values() if spare["item"]}
    assert named <= {"brass nozzle 0.4", "liner <b>steel</b>", "sheets"}
    shown = client.get("/stores/order")
    held = client.get("/stores/order", headers=JSON).json()
    text = re.search(r"<textarea[^>]*readonly>(.*?)</textarea>", shown.text, re.S)
    assert held["text"].splitlines()[0] in text[1] if text else "Nothing is to be ordered" in shown.text
    for path in ("/stores", "/stores/2", "/stores/order", "/spools"):
        assert not re.search("<b>steel|<i>green", client.get(path).text), "names are shown as they were written"


def test_the_whole_round_of_a_spool(client: TestClient) -> None:
    made = client.post("/spools/new", data={"material": "pla", "label": "grey", "machine": "Larch", "tare_g": "200"})
    assert made.url.path == "/spools/3"
    client.post("/runs/new", data={"machine": "Larch", "material": "pla", "hours": "3"})
    sheet = client.get("/spools/3", headers=JSON).json()["sheet"]
    assert sheet["drawn_g"] > 10
    assert client.get("/spools/1", headers=JSON).json()["sheet"]["machine"] is None, "it was put away"
    client.post("/runs/new", data={"machine": "Larch", "material": "pla", "hours": "3", "spool": "1"})
    assert client.get("/spools/1", headers=JSON).json()["sheet"]["uses"]
    client.post("/spools/3/weigh", data={"gross_g": "800"})
    assert client.get("/spools/3", headers=JSON).json()["sheet"]["left"]["mean_g"] == 600
    for path, data in (("shelve", {"place": "dry box"}), ("dry", {"dry_h": "6"}), ("open", {}), ("empty", {})):
        assert client.post(f"/spools/3/{path}", data=data).status_code == 200
    assert "Spool 3" not in client.get("/spools").text
    assert "used up" in client.get("/spools?empty=true").text


def test_spools_are_listed_so_many_at_a_time(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(spools, "MOST_SHOWN", 1)
    for label in ("one", "two"):
        client.post("/spools/new", data={"material": "tpu_95a", "label": label})
    first = client.get("/spools").text
    assert "1 to 1 of 3" in first
    assert 'href="/spools?skip=1">2 more' in first
    last = client.get("/spools?skip=2").text
    assert "3 to 3 of 3" in last
    assert 'href="/spools?skip=1">those before' in last
    assert "more</a>" not in last
    assert "On the machines" not in last
    assert "Nothing from here on" in client.get("/spools?skip=3").text
    assert client.get("/spools?skip=-1").status_code == 422
