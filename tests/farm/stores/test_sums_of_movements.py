"""Sums made where the records lie equal those made from every single record."""

import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.farm.conftest import BEGUN

from feedwright.farm.ground.house import open_farm
from feedwright.farm.prints.runs import add_run
from feedwright.farm.stores.spools import add_spool, spool_sheet, spools, weigh_spool
from feedwright.farm.stores.stock import stock_of, stocks
from feedwright.farm.stores.stores import add_item
from feedwright.records.store import Store
from feedwright.records.stores_values import Movement

KINDS = ("in", "used", "counted", "ordered", "arrived", "cancelled")
MOVES = st.lists(
    st.tuples(st.sampled_from(KINDS), st.integers(1, 9), st.integers(0, 3), st.booleans()), max_size=12
)  # fmt: skip


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moves=MOVES)
def test_a_stock_summed_up_is_that_of_all_movements(farm: Store, moves: list[tuple[str, int, int, bool]]) -> None:
    """Movements of one moment, orders closed in part and void ones among them."""
    name = f"item {len(farm.acts(10_000))}"
    item = add_item(farm, name, ["nozzle:brass"], at_utc=BEGUN).item.id
    with farm.act("moves") as act:
        orders = list[int]()
        for kind, count, day, void in moves:
            closes = orders[-1] if kind in ("arrived", "cancelled") and orders else None
            at = BEGUN + timedelta(days=day)
            number = act.add(Movement(item, at, kind, count, order_id=closes))  # type: ignore[arg-type]
            if kind == "ordered":
                orders.append(number)
            elif void:
                act.void(act.one(Movement, number))
    assert stocks(farm)[item] == stock_of(farm.every(Movement, item_id=item))


def test_a_stock_is_of_now_after_every_movement_and_after_an_act_that_was_given_up(farm: Store) -> None:
    item = add_item(farm, "ends", ["tube_end"], on_hand=5, at_utc=BEGUN).item.id
    assert stocks(farm)[item].on_hand == 5
    with pytest.raises(KeyboardInterrupt):
        used_and_given_up(farm, item)
    assert stocks(farm)[item].on_hand == 5
    with farm.act("moves") as act:
        number = act.add(Movement(item, BEGUN, "used", 1))  # takes the number of the one that was given up
    assert stocks(farm)[item].on_hand == 4
    with farm.act("void") as act:
        act.void(act.one(Movement, number))
    assert stocks(farm)[item].on_hand == 5
    other = add_item(farm, "more ends", ["tube_end"], at_utc=BEGUN).item.id
    assert stocks(farm)[other].on_hand == 0


def used_and_given_up(farm: Store, item: int) -> None:
    with farm.act("moves") as act:
        act.add(Movement(item, BEGUN, "used", 4))
        assert stocks(act)[item].on_hand == 1
        raise KeyboardInterrupt


def test_a_list_of_spools_tells_what_each_sheet_does(farm: Store) -> None:
    held = [add_spool(farm, "pla", machine=name, at_utc=BEGUN).spool.id for name in ("Alder", "Beech")]
    for day in (1, 3, 5):
        add_run(farm, "Alder", material="pla", hours=2.0, started_utc=BEGUN + timedelta(days=day))
    add_run(farm, "Beech", material="pla", hours=2.0, started_utc=BEGUN + timedelta(days=1))
    weigh_spool(farm, held[0], left_g=600, at_utc=BEGUN + timedelta(days=4))
    listed = {sheet.spool.id: sheet for sheet in spools(farm)}
    assert listed.keys() == set(held)
    for number in held:
        sheet = spool_sheet(farm, number)
        assert (listed[number].drawn_g, listed[number].left) == (sheet.drawn_g, sheet.left)
        assert listed[number].entries == sheet.entries
        assert sheet.drawn_g > 0


def test_a_farm_made_anew_in_the_same_folder_has_its_own_stock(tmp_path: Path) -> None:
    for day, many in ((0, 3), (1, 7)):
        with open_farm(tmp_path / "farm", create=True) as store:
            add_item(store, "ends", ["tube_end"], on_hand=many, at_utc=BEGUN + timedelta(days=day))
            assert [one.on_hand for one in stocks(store).values()] == [many]
        shutil.rmtree(tmp_path / "farm")
