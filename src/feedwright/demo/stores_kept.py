"""The stores of the yard: what is kept, used up, ordered and counted over the ten months."""

import random
from dataclasses import dataclass
from datetime import datetime, timedelta

from feedwright.demo.spool_rack import BAD_LOT, BAD_MATERIAL, NET_G, TARE_G
from feedwright.demo.yard import KEEPERS
from feedwright.farm.stores.spools import add_spool, dry_spool, shelve_spool, weigh_spool
from feedwright.farm.stores.stock import stock_of
from feedwright.farm.stores.stores import add_item, count_item, item_named, order_items, receive
from feedwright.records.store import Store
from feedwright.records.stores_values import Movement

SUPPLIER = "Quill & Brace"
LATE_DAYS = 6
"""What was ordered so lately is still on its way."""


@dataclass(frozen=True, slots=True)
class Kept:
    """One item: what it renews, how it comes, and how the keepers go about it."""

    name: str
    fits: tuple[str, ...]
    pack_count: int
    pack_price: str
    lead_days: int
    on_hand: int
    packs_ordered: int = 1
    order_at: int = 2


ITEMS = (
    Kept("Brass nozzle 0.4", ("nozzle:brass",), 25, "24.00", 9, 30, order_at=6),
    Kept("Hardened nozzle 0.4", ("nozzle:hardened_steel",), 5, "46.00", 14, 6),
    Kept("Coated steel sheet", ("bed_surface:coated_sheet",), 2, "29.00", 7, 6, packs_ordered=2, order_at=3),
    Kept("Guide tube, one metre", ("guide_tube",), 1, "5.20", 5, 4, packs_ordered=3),
    Kept("Tube coupler", ("tube_coupler",), 10, "8.50", 12, 10, order_at=4),
    Kept("Drive gear", ("drive_gear",), 2, "7.00", 12, 6, packs_ordered=3, order_at=4),
    Kept("Idler with its arm", ("idler",), 4, "12.40", 12, 8, packs_ordered=2, order_at=6),
    Kept("Sink fan", ("sink_fan",), 2, "8.40", 6, 2, order_at=0),
    Kept("Heater cartridge", ("heater",), 5, "21.00", 18, 5, order_at=1),
    Kept("Temperature sensor", ("temperature_sensor",), 5, "11.00", 18, 5, order_at=1),
)


def begin_stores(store: Store, begun: datetime) -> None:
    """Put the items on record before anything is renewed, so that each renewal takes from them."""
    for kept in ITEMS:
        add_item(
            store, kept.name, kept.fits, pack_count=kept.pack_count, pack_price=kept.pack_price, delivery_price="4.90",
            lead_days=kept.lead_days, supplier=SUPPLIER, on_hand=kept.on_hand, at_utc=begun, person=KEEPERS[0],
        )  # fmt: skip


def keep_stores(store: Store, begun: datetime, until: datetime, seed: int) -> None:
    """Order and receive as the items ran low, and put the shelf of spools on record."""
    draw = random.Random(f"{seed} stores")
    for kept in ITEMS:
        _replenish(store, kept, begun, until, draw)
    if until - begun > timedelta(days=60):
        _correct(store, until)
        _fill_shelf(store, until, draw)


def _replenish(store: Store, kept: Kept, begun: datetime, until: datetime, draw: random.Random) -> None:
    """Walk through what was used; where little is left, an order goes out and comes some days after its time."""
    used = store.every(Movement, item_id=item_named(store, kept.name).id)
    moments = sorted((one.moved_utc, one.count) for one in used if one.kind == "used")
    held, coming = kept.on_hand, list[tuple[datetime, int]]()
    for at, count in moments:
        held += sum(pieces for when, pieces in coming if when <= at)
        coming = [(when, pieces) for when, pieces in coming if when > at]
        held -= count
        if held <= kept.order_at and not coming:
            ordered = at + timedelta(hours=draw.uniform(1, 30))
            arrives = ordered + timedelta(days=kept.lead_days * draw.uniform(0.7, 1.4))
            if ordered >= until:
                return
            order_items(store, [(kept.name, kept.packs_ordered)], at_utc=ordered, person=draw.choice(KEEPERS))
            if arrives >= until - timedelta(days=LATE_DAYS) or arrives >= until:
                return
            pieces = kept.packs_ordered * kept.pack_count
            receive(store, kept.name, pieces, at_utc=arrives, person=draw.choice(KEEPERS))
            coming.append((arrives, pieces))


def _correct(store: Store, until: datetime) -> None:
    """A count some weeks ago found one nozzle more than the books said."""
    at = until - timedelta(days=25)
    item = item_named(store, "Brass nozzle 0.4")
    before = stock_of(one for one in store.every(Movement, item_id=item.id) if one.moved_utc <= at)
    count_item(
        store,
        item.name,
        max(0, before.on_hand) + 1,
        at_utc=at,
        reason="one lay in the drawer of the bench",
        person=KEEPERS[1],
    )


def _fill_shelf(store: Store, until: datetime, draw: random.Random) -> None:
    """Spools that hang nowhere: new ones, one in the dry box, a weighed rest, and one more of the bad lot."""
    at = until - timedelta(days=10)
    for material, lot, label in (("pla", "L-124", "green"), ("pla", "L-124", "grey"), ("pla_carbon", "C-9", "black"),
                                 (BAD_MATERIAL, BAD_LOT, "grey"), ("abs", "A-31", "white")):  # fmt: skip
        made = add_spool(store, material, net_g=NET_G, tare_g=TARE_G, lot=lot, label=label, at_utc=at,
                         person=draw.choice(KEEPERS))  # fmt: skip
        shelve_spool(store, made.spool.id, "shelf by the door", at_utc=at)
    rest = add_spool(store, "pa12", net_g=NET_G, tare_g=TARE_G, lot="N-4", label="natural", at_utc=at)
    weigh_spool(store, rest.spool.id, gross_g=TARE_G + 384, at_utc=at + timedelta(days=2), person=KEEPERS[1])
    dry_spool(store, rest.spool.id, dry_c=75, dry_h=8, at_utc=at + timedelta(days=6), person=KEEPERS[1])
    shelve_spool(store, rest.spool.id, "dry box", at_utc=at + timedelta(days=6, hours=8))
