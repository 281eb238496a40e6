"""The keeper works out behind the pages what would keep a reader waiting."""

import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from feedwright.farm.ground.house import open_farm
from feedwright.farm.outlook import forecasts, kept, learning
from feedwright.web.keeper import Keeper, _Over
from feedwright.web.render import Farms


@pytest.fixture(autouse=True)
def nothing_kept() -> None:
    for held in (forecasts._KEPT, learning._KEPT, *(kind._held for kind in kept.KINDS.values())):
        held.clear()


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


def test_a_large_farm_is_planned_for_in_a_process_beside_the_pages(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(learning, "LARGE", 0)
    keeper = Keeper(client.app.state.farms)  # type: ignore[attr-defined]
    assert client.get("/queue", headers={"accept": "text/html"}).status_code == 503
    keeper.start()
    until = time.monotonic() + 90
    while client.get("/queue", headers={"accept": "text/html"}).status_code == 503 and time.monotonic() < until:
        time.sleep(0.2)
    assert client.get("/queue", headers={"accept": "text/html"}).status_code == 200
    held = keeper._planner
    assert held is not None
    assert held.alive
    keeper.stop()
    assert not held.alive


def test_no_process_is_begun_once_the_keeper_has_ended(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "LARGE", 0)
    keeper = Keeper(client.app.state.farms)  # type: ignore[attr-defined]
    keeper.stop()
    with pytest.raises(_Over):
        keeper._look(keeper._plans)
    assert not keeper._beside


def test_the_planner_of_a_large_farm_goes_when_a_small_one_is_shown(client: TestClient) -> None:
    keeper = Keeper(client.app.state.farms)  # type: ignore[attr-defined]
    with open_farm(client.app.state.farms.folder) as store:  # type: ignore[attr-defined]
        planner = keeper._planner = keeper._begun(store)
    keeper._look(keeper._plans)
    assert keeper._planner is None
    assert not planner.alive
    assert not keeper._beside
