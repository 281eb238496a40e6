"""The stores: what is kept for renewals, what came in, what was used, what was counted and ordered."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import NAME, pick, pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.settings import figures
from feedwright.farm.stores.item_terms import PriceGiven, Terms, breaks_text, price, terms_in_force
from feedwright.farm.stores.stock import Fit, Stock, chosen_item, fits_of, fitting_items, stock_of
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.stores_values import Item, ItemTerms, Movement
from feedwright.records.values import Removal

MOST_PIECES = 1_000_000
MOST_LEAD_DAYS = 1000
SENT_TWICE_WITHIN = timedelta(minutes=1)
"""Nobody orders as many of the same again in so short a time (assumed)."""


@dataclass(frozen=True, slots=True)
class ItemSheet:
    """One item with all that is known of it."""

    item: Item
    fits: tuple[Fit, ...]
    terms: Terms
    stock: Stock
    movements: tuple[Movement, ...]
    """Latest first."""


@dataclass(frozen=True, slots=True)
class Moved:
    """What recording a movement wrote, and what is there now."""

    item: Item
    movements: tuple[Movement, ...]
    stock: Stock
    remarks: tuple[str, ...]


def items(records: Reads) -> list[Item]:
    """Everything kept in the stores, by name."""
    return sorted(records.every(Item), key=lambda item: item.name.casefold())


def item_named(records: Reads, name: str) -> Item:
    """The item of that name; refuses with the nearest names."""
    return pick({item.name: item for item in records.every(Item)}, name, "item of the stores")


def item_numbered(records: Reads, number: int) -> Item:
    """The item of that number."""
    item = records.one(Item, number)
    if item is None:
        expected = "no such item, or void already"
        raise NotFound("item", place=f"number {number}", expected=expected, remedy="look at the stores")
    return item


def item_sheet(records: Reads, name: str) -> ItemSheet:
    """One item with its terms, stock and movements."""
    item = item_named(records, name)
    held = sorted(records.every(Movement, item_id=item.id), key=lambda one: (one.moved_utc, one.id), reverse=True)
    numbers = figures(records)
    return ItemSheet(item, fits_of(item), terms_in_force(records, item, numbers), stock_of(held), tuple(held))


def add_item(
    store: Store,
    name: str,
    fits: Sequence[str],
    *,
    pack_count: int = 1,
    pack_price: PriceGiven | None = None,
    delivery_price: PriceGiven | None = None,
    lead_days: float | None = None,
    breaks: Sequence[tuple[int, PriceGiven]] = (),
    supplier: str = "",
    on_hand: int | None = None,
    note: str = "",
    at_utc: datetime | None = None,
    person: str | None = None,
) -> ItemSheet:
    """Keep something in the stores from now on.

    ``fits`` names what it renews: 'nozzle' (any product), 'nozzle:brass', or 'belt:plain:2' where a renewal takes
    two pieces. A supplier's pack holds ``pack_count`` pieces. Prices and lead time that are left out are the
    catalogue's and the farm's usual ones, and shown as such. ``on_hand`` is a first count.
    """
    item = item_of(name, fits, note, moment(at_utc))
    terms = terms_of(store, item.added_utc, pack_count, pack_price, delivery_price, lead_days, breaks, supplier)
    with store.act("add item", person_id=person_id(store, person)) as act:
        add_item_within(act, item, terms, on_hand)
    return item_sheet(store, item.name)


def item_of(name: str, fits: Sequence[str], note: str, added_utc: datetime) -> Item:
    """The item as it will be written, checked."""
    return Item(
        name=text("name", name, NAME, lines=False, needed=True),
        fits=json.dumps([[fit.part_kind, fit.product, fit.pieces] for fit in _fits(fits)]),
        added_utc=added_utc,
        note=text("note", note),
    )


def add_item_within(act: ActInHand, item: Item, terms: ItemTerms, on_hand: int | None) -> int:
    """Write an item with its terms and first count, within an act that may write more; returns its number."""
    if on_hand is not None:
        within("on hand", on_hand, 0, MOST_PIECES)
    if any(known.name.casefold() == item.name.casefold() for known in act.every(Item)):
        raise Conflict("name", place=f"“{item.name}”", expected="the stores hold an item of that name",
                       remedy="choose another name")  # fmt: skip
    number = act.add(item)
    act.add(replace(terms, item_id=number))
    if on_hand is not None:
        act.add(Movement(number, item.added_utc, "counted", on_hand, reason="first count"))
    return number


def _fits(given: Sequence[str]) -> list[Fit]:
    """What an item renews, as the catalogue spells it."""
    if not given:
        raise BadInput(
            "fits", expected="expected at least one kind of part that it renews", remedy="such as nozzle:brass"
        )
    return [_fit(word) for word in given]


def _fit(word: str) -> Fit:
    part, _, rest = word.partition(":")
    product, _, pieces = rest.partition(":")
    kind = pick_entry(load_catalogue().parts, part, "part kind")
    if product:
        product = pick_entry({one.id: one.id for one in kind.products}, product, f"product of {kind.title.lower()}")
    if pieces and not (pieces.isascii() and pieces.isdigit()):
        raise BadInput(
            "fits", place=f"“{word}”", expected="expected part:product:pieces", remedy="such as belt:plain:2"
        )
    return Fit(kind.id, product, int(within("pieces of a renewal", int(pieces or 1), 1, 1000)))


def terms_of(
    records: Reads, at_utc: datetime, pack_count: int, pack_price: PriceGiven | None,
    delivery_price: PriceGiven | None, lead_days: float | None, breaks: Sequence[tuple[int, PriceGiven]],
    supplier: str,
) -> ItemTerms:  # fmt: skip
    """How an item is bought as it will be written, checked; its item is not yet known."""
    return ItemTerms(
        item_id=0,
        from_utc=at_utc,
        pack_count=int(within("pieces in a pack", pack_count, 1, MOST_PIECES)),
        pack_price=price("price of a pack", pack_price),
        delivery_price=price("price of a delivery", delivery_price),
        lead_days=None if lead_days is None else within("lead time", lead_days, 0, MOST_LEAD_DAYS, "d"),
        breaks=breaks_text(breaks),
        currency=figures(records).currency,
        supplier=text("supplier", supplier, NAME * 4, lines=False),
    )


def set_terms(
    store: Store,
    name: str,
    *,
    pack_count: int = 1,
    pack_price: PriceGiven | None = None,
    delivery_price: PriceGiven | None = None,
    lead_days: float | None = None,
    breaks: Sequence[tuple[int, PriceGiven]] = (),
    supplier: str = "",
    at_utc: datetime | None = None,
    person: str | None = None,
) -> ItemSheet:
    """Say anew how an item is bought, all of it: the terms before stay on record."""
    item = item_named(store, name)
    terms = terms_of(store, moment(at_utc), pack_count, pack_price, delivery_price, lead_days, breaks, supplier)
    with store.act("item terms", person_id=person_id(store, person)) as act:
        act.add(replace(terms, item_id=item.id))
    return item_sheet(store, item.name)


def receive(
    store: Store, name: str, count: int, *, at_utc: datetime | None = None, reason: str = "", person: str | None = None
) -> Moved:
    """Pieces came in: what was ordered first arrives first, the rest came without an order."""
    item, at = item_named(store, name), moment(at_utc)
    left = int(within("count", count, 1, MOST_PIECES))
    why = text("reason", reason)
    with store.act("receive", person_id=person_id(store, person)) as act:
        made = []
        for order in _stock(act, item).open_orders:
            arrived = min(left, order.left)
            if arrived and order.movement.moved_utc <= at:
                made.append(Movement(item.id, at, "arrived", arrived, order_id=order.movement.id, reason=why))
                left -= arrived
        if left:
            made.append(Movement(item.id, at, "in", left, reason=why))
        return _moved(act, item, [_written(act, one) for one in made])


def use_item(
    store: Store,
    name: str,
    count: int = 1,
    *,
    at_utc: datetime | None = None,
    reason: str = "",
    person: str | None = None,
) -> Moved:
    """Pieces were taken without a renewal on record: broken, given away, used elsewhere."""
    item = item_named(store, name)
    used = Movement(item.id, moment(at_utc), "used", int(within("count", count, 1, MOST_PIECES)),
                    reason=text("reason", reason))  # fmt: skip
    with store.act("use", person_id=person_id(store, person)) as act:
        return _moved(act, item, [_written(act, used)])


def count_item(
    store: Store,
    name: str,
    found: int,
    *,
    at_utc: datetime | None = None,
    reason: str = "",
    person: str | None = None,
) -> Moved:
    """Pieces were counted; where that differs from the sum of the movements it needs a reason."""
    item, at, why = item_named(store, name), moment(at_utc), text("reason", reason)
    count = int(within("count", found, 0, MOST_PIECES))
    with store.act("count", person_id=person_id(store, person)) as act:
        before = stock_of(one for one in act.every(Movement, item_id=item.id) if one.moved_utc <= at)
        first = not act.every(Movement, item_id=item.id)
        if count != before.on_hand and not why and not first:
            raise BadInput(
                "reason", place=f"{count} counted, {before.on_hand} by the records",
                expected="a count that differs says why", remedy="such as lost, broken, given away or miscounted",
            )  # fmt: skip
        return _moved(act, item, [_written(act, Movement(item.id, at, "counted", count, reason=why))])


def order_items(
    store: Store,
    packs: Iterable[tuple[str, int]],
    *,
    at_utc: datetime | None = None,
    reason: str = "",
    person: str | None = None,
) -> list[Moved]:
    """Packs of some items were ordered, in one act; the same again within a minute is refused as sent twice."""
    at, why, numbers = moment(at_utc), text("reason", reason), figures(store)
    wanted = [(item_named(store, name), int(within("packs", many, 1, MOST_PIECES))) for name, many in packs]
    if not wanted:
        raise BadInput(
            "order", expected="expected at least one item", remedy="name what was ordered, and how many packs"
        )
    with store.act("order", person_id=person_id(store, person)) as act:
        ordered = [
            Movement(item.id, at, "ordered", many * terms_in_force(act, item, numbers).pack_count, reason=why)
            for item, many in wanted
        ]
        for one in ordered:
            _refuse_twice(act, one)
        return [_moved(act, item, [_written(act, one)]) for (item, _), one in zip(wanted, ordered, strict=True)]


def _refuse_twice(act: ActInHand, order: Movement) -> None:
    for one in act.every(Movement, item_id=order.item_id, kind="ordered"):
        if one.count == order.count and abs(one.moved_utc - order.moved_utc) < SENT_TWICE_WITHIN:
            raise Conflict(
                "order", place=f"{order.count} pieces at {order.moved_utc:%Y-%m-%d %H:%M:%S} UTC",
                expected=f"as many were ordered less than a minute before, by movement {one.id}",
                remedy=f"void movement {one.id} where that was wrong, or give the time of this order",
            )  # fmt: skip


def cancel_order(
    store: Store, number: int, *, at_utc: datetime | None = None, reason: str = "", person: str | None = None
) -> Moved:
    """What is left of an order will not come; ``number`` is that of the movement that ordered it."""
    ordered = store.one(Movement, number)
    item = None if ordered is None else store.one(Item, ordered.item_id)
    if ordered is None or item is None or ordered.kind != "ordered":
        raise NotFound(
            "order", place=f"number {number}", expected="no such order, or void already", remedy="list the orders"
        )
    with store.act("cancel order", person_id=person_id(store, person)) as act:
        open_order = next((one for one in _stock(act, item).open_orders if one.movement.id == number), None)
        if open_order is None:
            raise Conflict("order", place=f"number {number}", expected="all of it has arrived or was cancelled",
                           remedy="look at the movements again")  # fmt: skip
        gone = Movement(item.id, moment(at_utc), "cancelled", open_order.left, order_id=number,
                        reason=text("reason", reason))  # fmt: skip
        return _moved(act, item, [_written(act, gone)])


def consume_for(act: ActInHand, removal: Removal, part_kind: str, product: str) -> tuple[str, ...]:
    """Take what a renewal used from the stores, within the renewal's own act; returns what was done, in words.

    Nothing where no item that fits was kept at that time; of several, the one for that very product, on hand first.
    """
    at_utc = removal.removed_utc
    kept = fitting_items([item for item in act.every(Item) if item.added_utc <= at_utc], part_kind, product)
    if not kept:
        return ()
    item, pieces = chosen_item(kept, {item.id: _stock(act, item) for item, _ in kept})
    used = _written(act, Movement(item.id, at_utc, "used", pieces, removal_id=removal.id))
    moved = _moved(act, item, [used])
    return (f"Taken from the stores: {pieces} of {item.name}; {moved.stock.on_hand} left.", *moved.remarks)


def give_back(act: ActInHand, removal_ids: Iterable[int]) -> None:
    """Void what these renewals used, before they are voided themselves."""
    for number in removal_ids:
        for used in act.every(Movement, removal_id=number):
            act.void(used)


def _stock(records: Reads, item: Item) -> Stock:
    return stock_of(records.every(Movement, item_id=item.id))


def _written(act: ActInHand, movement: Movement) -> Movement:
    return replace(movement, id=act.add(movement), act_id=act.id)


def _moved(act: ActInHand, item: Item, made: Sequence[Movement]) -> Moved:
    for one in made:
        if one.moved_utc < item.added_utc:
            raise Conflict(
                item.name, place=f"{one.moved_utc:%Y-%m-%d %H:%M} UTC",
                expected=f"it is kept only since {item.added_utc:%Y-%m-%d %H:%M} UTC", remedy="correct the time",
            )  # fmt: skip
    stock = _stock(act, item)
    short = f"By the records {-stock.on_hand} more of {item.name} were used than came in: count it."
    return Moved(item, tuple(made), stock, (short,) if stock.on_hand < 0 else ())
