"""The keeper works out behind the pages what would keep a reader waiting."""

import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from feedwright.farm import forecasts, learning, lessons
from feedwright.web.keeper import Keeper
from feedwright.web.render import Farms


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    for kept in (forecasts._KEPT, learning._KEPT, lessons._KEPT):
        kept.clear()


def test_outlooks_are_at_hand_before_they_are_asked_for(farm_folder: Path) -> None:
    keeper = Keeper(Farms(farm_folder))
    keeper.start()
    until = time.monotonic() + 30
    while not any(kept.of_machine for kept in forecasts._KEPT.values()) and time.monotonic() < until:
        time.sleep(0.05)
    keeper.stop()
    assert any(kept.of_machine for kept in forecasts._KEPT.values())


def test_it_waits_where_no_farm_is_yet(tmp_path: Path) -> None:
    Keeper(Farms(tmp_path / "none")).look()
    assert not forecasts._KEPT


def test_a_large_farms_lessons_are_worked_out_behind_the_page(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(learning, "LARGE", 0)
    page = client.get("/learning", headers={"accept": "text/html"})
    assert page.status_code == 200
    assert "is being worked out" in page.text
    Keeper(client.app.state.farms).look()  # type: ignore[attr-defined]
    assert "How long parts last here" in client.get("/learning", headers={"accept": "text/html"}).text
