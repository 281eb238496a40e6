"""What the movements of the stores add up to: nobody keeps what is on hand by hand."""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from feedwright.catalogue.load import load_catalogue
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand
from feedwright.records.stores_values import Item, Movement

COMES, GOES, CLOSES = ("in", "arrived"), ("used",), ("arrived", "cancelled")
"""Kinds of movement that add to what is on hand, that take from it, and that close what was ordered."""


@dataclass(frozen=True, slots=True)
class Fit:
    """One kind of part that an item renews."""

    part_kind: str
    product: str
    """Empty = any product of the kind."""
    pieces: int
    """How many pieces one renewal takes."""


@dataclass(frozen=True, slots=True)
class OpenOrder:
    """Something ordered that has not all arrived."""

    movement: Movement
    left: int
    """Pieces still to come."""


@dataclass(frozen=True, slots=True)
class Stock:
    """One item as its movements leave it."""

    on_hand: int
    """Below 0 where more was used than ever came in: a count is wanted."""
    open_orders: tuple[OpenOrder, ...]
    counted_utc: datetime | None
    """When it was last counted."""

    @property
    def on_order(self) -> int:
        """Pieces still to come."""
        return sum(order.left for order in self.open_orders)


NOTHING = Stock(0, (), None)


def stock_of(movements: Iterable[Movement]) -> Stock:
    """The sum of one item's movements: from its latest count on, in the order in which they happened."""
    held = sorted(movements, key=lambda one: (one.moved_utc, one.id))
    on_hand, counted_utc = 0, None
    closed: dict[int | None, int] = defaultdict(int)
    for one in held:
        if one.kind == "counted":
            on_hand, counted_utc = one.count, one.moved_utc
        elif one.kind in COMES:
            on_hand += one.count
        elif one.kind in GOES:
            on_hand -= one.count
        if one.kind in CLOSES:
            closed[one.order_id] += one.count
    orders = (OpenOrder(one, one.count - closed[one.id]) for one in held if one.kind == "ordered")
    return Stock(on_hand, tuple(order for order in orders if order.left > 0), counted_utc)


_KEPT: dict[str, tuple[tuple[int | None, ...], dict[int, Stock]]] = {}
"""What the movements came to last, by farm, and the mark they bore then."""
MOST_KEPT = 8


def stocks(records: Reads) -> dict[int, Stock]:
    """The stock of every item, by item; summed up anew only after a movement."""
    held = _summed(records) if isinstance(records, ActInHand) else _kept(records)
    return {item.id: held.get(item.id, NOTHING) for item in records.every(Item)}


def _kept(records: Reads) -> dict[int, Stock]:
    """What was summed up last, while no movement was written since; of an act in hand it would outlive the act."""
    folder, mark = str(records.folder.resolve()), records.movements_mark()
    kept = _KEPT.get(folder)
    if kept is None or kept[0] != mark:
        while len(_KEPT) >= MOST_KEPT and folder not in _KEPT:
            _KEPT.pop(next(iter(_KEPT)))
        kept = _KEPT[folder] = mark, _summed(records)
    return kept[1]


def _summed(records: Reads) -> dict[int, Stock]:
    """The stock of every item that ever moved, as :func:`stock_of` tells it, summed up where the movements lie."""
    telling: dict[int, list[Movement]] = defaultdict(list)
    for movement in records.movements_that_tell():
        telling[movement.item_id].append(movement)
    moved = records.moved_since_count()
    found = {}
    for item_id in telling.keys() | moved.keys():
        told = stock_of(telling[item_id])
        counted = next((one.count for one in telling[item_id] if one.kind == "counted"), 0)
        found[item_id] = replace(told, on_hand=counted + moved.get(item_id, 0))
    return found


def fits_of(item: Item) -> tuple[Fit, ...]:
    """What an item renews."""
    return tuple(Fit(*held) for held in json.loads(item.fits))


def fit_words(fit: Fit) -> str:
    """'nozzle, hardened steel'."""
    kind = load_catalogue().parts[fit.part_kind]
    product = kind.product(fit.product)
    return kind.title.lower() + (f", {product.title}" if product else "")


def fitting_items(items: Sequence[Item], part_kind: str, product: str) -> list[tuple[Item, int]]:
    """Items that renew such a part, and how many pieces that takes: those made for that product first."""
    found = [
        (fit.product != product, item.id, item, fit.pieces)
        for item in items
        for fit in fits_of(item)
        if fit.part_kind == part_kind and fit.product in (product, "")
    ]
    return [(item, pieces) for _, _, item, pieces in sorted(found, key=lambda one: one[:2])]


def chosen_item(fitting: Sequence[tuple[Item, int]], stock: Mapping[int, Stock]) -> tuple[Item, int]:
    """The item that a renewal takes, with its pieces: the first that fits and has enough on hand, else the first."""
    return next((one for one in fitting if stock[one[0].id].on_hand >= one[1]), fitting[0])
