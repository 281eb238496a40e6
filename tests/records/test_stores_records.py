"""Stores and spools come back as they were written; what rests on a record holds it; the file refuses nonsense."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from feedwright.errors import Conflict, StoreError
from feedwright.records.engine import FILE_NAME
from feedwright.records.store import Store
from feedwright.records.stores_values import Item, ItemTerms, Movement, Spool, SpoolEntry, SpoolUse
from feedwright.records.values import Fitting, Machine, Removal, Run

AT = datetime(2026, 3, 1, 9, 30, 15, tzinfo=UTC)


@pytest.fixture
def item(store: Store) -> Item:
    with store.act("add item") as act:
        number = act.add(Item("brass nozzle 0.4", '[["nozzle", "brass", 1]]', AT))
        act.add(ItemTerms(number, AT, 25, Decimal("9.50"), Decimal("4.90"), 6.0, "[]", "EUR", "by the web shop"))
    return store.every(Item)[0]


def test_an_item_its_terms_and_movements_come_back(store: Store, item: Item, fitting: Fitting) -> None:
    with store.act("move") as act:
        ordered = act.add(Movement(item.id, AT, "ordered", 25))
        act.add(Movement(item.id, AT, "arrived", 24, order_id=ordered))
        removal = act.add(Removal(fitting.id, AT, "worn"))
        act.add(Movement(item.id, AT, "used", 1, removal_id=removal))
    assert store.every(ItemTerms, item_id=item.id)[0].pack_price == Decimal("9.50")
    assert [held.kind for held in store.every(Movement, item_id=item.id)] == ["ordered", "arrived", "used"]
    assert store.every(Movement, removal_id=removal)[0].count == 1
    assert store.every(Movement, kind="arrived")[0].order_id == ordered


def test_a_spool_what_was_done_with_it_and_what_a_run_drew_come_back(store: Store, machine: Machine) -> None:
    with store.act("spool") as act:
        spool = act.add(Spool("pla", AT, 1000.0, 212.5, "green", "L-7", Decimal("19.90"), "EUR"))
        act.add(SpoolEntry(spool, AT, "hung", machine.id))
        act.add(SpoolEntry(spool, AT, "dried", dry_c=45.0, dry_h=6.0))
        run = act.add(Run(machine.id, AT, "complete", "pla", hours=2.0))
        act.add(SpoolUse(spool, run, AT, 31.25))
        act.add(Spool("petg", AT, 750.0))
    first, second = store.every(Spool)
    assert (first.price, first.tare_g, second.price, second.tare_g) == (Decimal("19.90"), 212.5, None, None)
    assert [entry.kind for entry in store.every(SpoolEntry, spool_id=spool)] == ["hung", "dried"]
    assert store.every(SpoolUse, run_id=run)[0].used_g == 31.25


def test_what_hangs_on_each_machine_is_the_spool_put_there_last_and_put_nowhere_since(
    store: Store, machine: Machine
) -> None:
    with store.act("spools") as act:
        green, grey = act.add(Spool("pla", AT, 1000.0)), act.add(Spool("petg", AT, 1000.0))
        act.add(SpoolEntry(green, AT, "hung", machine.id))
    assert store.hung_materials() == {machine.id: "pla"}
    with store.act("hang") as act:
        act.add(SpoolEntry(grey, AT + timedelta(hours=2), "hung", machine.id))
        act.add(SpoolEntry(green, AT + timedelta(hours=1), "shelved"))
    assert store.hung_materials() == {machine.id: "petg"}
    with store.act("empty") as act:
        act.add(SpoolEntry(grey, AT + timedelta(hours=3), "emptied"))
    assert store.hung_materials() == {}


def test_what_rests_on_a_record_holds_it(store: Store, item: Item, fitting: Fitting) -> None:
    with store.act("move") as act:
        removal = act.add(Removal(fitting.id, AT, "worn"))
        used = act.add(Movement(item.id, AT, "used", 1, removal_id=removal))
    with pytest.raises(Conflict, match="the part taken from the stores"), store.act("void", reason="slip") as act:
        act.void(store.removals()[0])
    with pytest.raises(Conflict, match="movements"), store.act("void", reason="slip") as act:
        act.void(item)
    with store.act("void", reason="slip") as act:
        act.void(store.every(Movement, item_id=item.id)[0])
        act.void(store.removals()[0])
    assert used
    assert store.every(Movement) == []


def test_two_items_of_one_name_are_refused_until_one_is_void(store: Store, item: Item) -> None:
    with pytest.raises(Conflict), store.act("add item") as act:
        act.add(Item(item.name, "[]", AT))


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE movements SET count = 9",
        "DELETE FROM movements",
        "UPDATE spools SET net_g = 9",
        "DELETE FROM spool_entries",
        "UPDATE item_terms SET pack_price = '1'",
        "DELETE FROM spool_uses",
        "DELETE FROM items",
    ],
)
def test_the_file_itself_lets_nothing_be_changed_or_deleted(
    folder: Path, store: Store, machine: Machine, item: Item, statement: str
) -> None:
    with store.act("fill") as act:
        act.add(Movement(item.id, AT, "in", 5))
        spool = act.add(Spool("pla", AT, 1000.0))
        act.add(SpoolEntry(spool, AT, "opened"))
        run = act.add(Run(machine.id, AT, "complete", "pla", hours=2.0))
        act.add(SpoolUse(spool, run, AT, 3.0))
    with closing(sqlite3.connect(folder / FILE_NAME)) as other, pytest.raises(sqlite3.IntegrityError, match="voided"):
        other.execute(statement)


def test_a_movement_of_less_than_nothing_is_refused(store: Store, item: Item) -> None:
    with pytest.raises((Conflict, StoreError)), store.act("move") as act:
        act.add(Movement(item.id, AT, "used", -1))
