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
