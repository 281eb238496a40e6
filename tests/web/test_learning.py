"""The learning page says what was learned, and its JSON is the same."""

from starlette.testclient import TestClient


def test_the_learning_page_shows_lives_and_their_findings(client: TestClient) -> None:
    shown = client.get("/learning")
    assert shown.status_code == 200
    assert "How long parts last here" in shown.text
    assert "rule of thumb" in shown.text


def test_the_same_as_data(client: TestClient) -> None:
    data = client.get("/learning", headers={"accept": "application/json"}).json()
    kinds = data["lessons"]["kinds"]
    assert kinds
    assert all(kind["ratio"]["low"] <= kind["ratio"]["mid"] <= kind["ratio"]["high"] for kind in kinds)
    assert data["life_chart"]["layer"]


def test_the_two_bands_of_a_life_say_what_each_is_of(client: TestClient) -> None:
    kinds = client.get("/learning", headers={"accept": "application/json"}).json()["lessons"]["kinds"]
    nozzle = next(kind for kind in kinds if kind["kind"] == "nozzle")
    page = client.get("/learning?part=nozzle").text
    assert "on any one machine of this farm (eight in ten: " in nozzle["said"][0]
    assert f"For all machines taken together it is {nozzle['ratio']['mid']:.3g} " in page


def test_a_score_is_called_by_what_it_is(client: TestClient) -> None:
    assert "Brier" not in client.get("/learning").text
