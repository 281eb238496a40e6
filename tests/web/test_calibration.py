"""Feed rate, flow, heater and test pieces by page, and what cannot be is refused with nothing kept."""

import math
from typing import Any

import pytest
from starlette.testclient import TestClient

JSON = {"Accept": "application/json"}
LOG = "time_s;nozzle_c\n" + "\n".join(f"{t};{22 + 280 * (1 - math.exp(-max(t - 8, 0) / 120)):.1f}" for t in range(500))


def test_each_form_answers_and_may_write_the_value_down(client: TestClient) -> None:
    feed = {"commanded": "100", "measured": "98 98,2 98,1", "steps": "93", "write": "yes"}
    assert "New steps per mm: 94.8" in client.post("/machines/Larch/feed-rate", data=feed).text
    assert "Empty: as written down, 94.8" in client.get("/machines/Larch/true").text
    flow = {"asked": "0.48", "walls": "0.51 0.52 0.51 0.52", "material": "pla"}
    assert "Flow ratio: 0.93" in client.post("/machines/Larch/flow", data=flow).text
    page = client.post("/machines/Larch/heater", data={"target": "210"}, files={"log": ("log.csv", LOG)})
    assert "Heater settings for 210" in page.text


def test_how_a_piece_came_out_is_written_below_it(client: TestClient) -> None:
    page = client.post("/machines/Larch/piece/temperature", data={"result": "200", "write": "yes"}).text
    assert "Recorded: 200 °C" in page
    values = client.get("/machines/Larch/values").text
    assert "by the temperature piece" in values
    assert "Length of the guide tube" in values
    assert 'href="/books/' in values


def test_a_test_piece_is_a_file_to_take_along(client: TestClient) -> None:
    file = client.get("/machines/Larch/piece/first_layer?material=petg")
    assert file.headers["content-disposition"] == 'attachment; filename="first_layer-petg.gcode"'
    assert file.text.endswith("M84\n")


@pytest.mark.parametrize(
    ("where", "data", "files", "words"),
    [
        ("feed-rate", {"commanded": "100", "measured": "3.9", "steps": "93"}, None, "inches"),
        ("feed-rate", {"commanded": "100", "measured": "70", "steps": "93"}, None, "not calibration"),
        ("feed-rate", {"commanded": "100", "measured": " ", "steps": "93"}, None, "at least one reading"),
        ("flow", {"asked": "0.48", "walls": "0.019"}, None, "inch"),
        ("piece/temperature", {"result": "410"}, None, "180 to"),
        ("piece/first_layer", {"result": "9"}, None, "0 to 1"),
        ("tram", {"x": ["30", "400", "30"], "y": ["30", "30", "200"], "reading": ["0", "0", "0"]}, None, "bed reaches"),
        (
            "screws",
            {"screw": ["a", "b", "c"], "x": ["30", "30", "200"], "y": ["30", "30", "200"], "pitch": "0.7"},
            None,
            "at one place",
        ),
        (
            "heater",
            {"target": "210"},
            {"log": ("log.csv", "".join(f"{t},22.{t % 2}\n" for t in range(90)))},
            "never heats",
        ),
        ("heater", {"target": "210"}, {"log": ("log.csv", "0,22\n" * 30)}, "time must go on"),
        ("heater", {"target": "290"}, {"log": ("log.csv", LOG)}, "liner bears"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(
    client: TestClient, where: str, data: dict[str, Any], files: dict[str, tuple[str, str]] | None, words: str
) -> None:
    acts = client.get("/books", headers=JSON).json()
    refused = client.post(f"/machines/Larch/{where}", data=data, files=files, headers=JSON)
    assert refused.status_code == 422
    assert words in " ".join(refused.json().values())
    assert client.get("/books", headers=JSON).json() == acts
