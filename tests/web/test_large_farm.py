"""Pages of a large farm: what takes long is shown as it was worked out last, or said to be under way."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from feedwright.farm.dispatch import dispatch
from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.settings import set_figure
from feedwright.farm.outlook import forecasts, learning
from feedwright.farm.toolpaths.toolpaths import known_toolpaths
from feedwright.web.keeper import Keeper
from feedwright.web.pages import bench as bench_pages

PAGE, JSON = {"accept": "text/html"}, {"accept": "application/json"}


@pytest.fixture
def keeper(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> Iterator[Keeper]:
    """A keeper that works only when told to, of a farm that is taken for a large one."""
    monkeypatch.setattr(learning, "LARGE", 0)
    forecasts._KEPT.clear()
    learning._KEPT.clear()
    yield Keeper(client.app.state.farms)  # type: ignore[attr-defined]
    forecasts._KEPT.clear()
    learning._KEPT.clear()


@pytest.mark.parametrize("path", ["/", "/machines", "/stores", "/queue"])
def test_what_is_not_worked_out_yet_is_said_at_once(client: TestClient, keeper: Keeper, path: str) -> None:
    page = client.get(path, headers=PAGE)
    assert page.status_code == 503
    assert "is being worked out" in page.text
    assert page.headers["refresh"] == page.headers["retry-after"] == "4"
    assert keeper._plans_sooner.is_set()
    keeper._plans_sooner.clear()
    answer = client.get(path, headers=JSON)
    assert (answer.status_code, answer.json()["error"]) == (503, "StillWorking")
    assert int(answer.headers["retry-after"]) > 0
    keeper.look()
    assert client.get(path, headers=PAGE).status_code == 200


def test_pages_that_need_no_outlooks_answer_meanwhile(client: TestClient, keeper: Keeper) -> None:
    assert client.get("/settings", headers=PAGE).status_code == 200
    assert client.get("/runs/new", headers=PAGE).status_code == 200


def test_a_figure_of_the_farm_is_waited_for_by_the_keeper_alone(client: TestClient, keeper: Keeper) -> None:
    keeper.look()
    with open_farm(client.app.state.farms.folder) as store:  # type: ignore[attr-defined]
        set_figure(store, "labour_per_h", 31.0)
    assert client.get("/", headers=PAGE).status_code == 503
    keeper.look()
    assert client.get("/", headers=PAGE).status_code == 200


def queued(client: TestClient) -> str:
    with open_farm(client.app.state.farms.folder) as store:  # type: ignore[attr-defined]
        toolpath = known_toolpaths(store)[0].sha256
    answer = client.post("/queue", data={"toolpath": toolpath, "material": "pla"}, headers=JSON)
    assert answer.status_code == 201, answer.text
    return str(answer.json()["entry"]["id"])


def test_the_last_plan_is_shown_with_its_moment_until_the_keeper_plans_anew(client: TestClient, keeper: Keeper) -> None:
    dispatch._KEPT._held.clear()
    first = queued(client)
    keeper.look()
    planned = client.get("/queue", headers=JSON).json()
    assert planned["planned_before_utc"] is None
    assert [one["line"]["entry"]["id"] for one in planned["made"]["proposals"]] == [int(first)]
    keeper._plans_sooner.clear()
    second = queued(client)
    assert keeper._plans_sooner.is_set(), "what is queued is planned at once"
    page = client.get("/queue", headers=PAGE).text
    assert "planned anew shortly" in page
    assert f'id="entry-{second}"' in page, "the queue itself is always as it stands"
    client.post(f"/queue/{first}/take-off", headers=JSON)
    assert client.get("/queue", headers=JSON).json()["made"]["proposals"] == [], "what no longer waits is not proposed"
    keeper.look()
    planned = client.get("/queue", headers=JSON).json()
    assert [one["line"]["entry"]["id"] for one in planned["made"]["proposals"]] == [int(second)]
    assert "planned anew shortly" not in client.get("/queue", headers=PAGE).text


def test_a_small_farms_plan_is_of_now(client: TestClient, farm_folder: Path) -> None:
    Keeper(client.app.state.farms)  # type: ignore[attr-defined]
    number = int(queued(client))
    planned = client.get("/queue", headers=JSON).json()
    assert planned["planned_before_utc"] is None
    assert number in [one["line"]["entry"]["id"] for one in planned["made"]["proposals"]]


def test_a_group_of_the_bench_list_is_shown_so_many_lines_at_a_time(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bench_pages, "MOST_OF_GROUP", 2)
    whole = client.get("/", headers=JSON).json()["bench"]
    shown: list[object] = []
    while len(shown) < len(whole["watch"]):
        part = client.get(f"/bench/watch?skip={len(shown)}", headers=JSON).json()
        assert part["whole"] == len(whole["watch"])
        shown += part["parts"]
    assert [one["fitting"]["id"] for one in shown] == [one["fitting"]["id"] for one in whole["watch"]]
    page = client.get("/bench/watch?skip=2", headers=PAGE).text
    assert f"3 to 4 of {len(shown)}" in page
    assert client.get("/bench/none", headers=PAGE).status_code in (404, 422)
