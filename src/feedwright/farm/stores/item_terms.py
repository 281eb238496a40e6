"""How an item is bought: what was said of it, and the catalogue's prices and the farm's figures for the rest."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal, InvalidOperation

from feedwright.catalogue.entry import Figures, Sourced
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.settings import OWN_FIGURE
from feedwright.farm.stores.stock import fits_of
from feedwright.records.reads import Reads
from feedwright.records.stores_values import Item, ItemTerms
from feedwright.units import Money

SAID = "said"
"""Source mark of a term that the farm was told."""
DEAREST = Decimal(1_000_000)
PriceGiven = Decimal | float | int | str


@dataclass(frozen=True, slots=True)
class Terms:
    """How an item is bought now; every number with where it is from."""

    pack_count: int
    pack_price: Money
    pack_price_source: str
    """'said', or the catalogue's usual price with its source."""
    breaks: tuple[tuple[int, Money], ...]
    """From so many packs on, a pack costs this much."""
    delivery_price: Money
    delivery_price_source: str
    lead_days: float
    lead_source: str
    supplier: str

    @property
    def piece_price(self) -> Money:
        """One piece out of a single pack."""
        return Money.of(float(self.pack_price.amount) / self.pack_count, self.pack_price.currency)


def terms_in_force(records: Reads, item: Item, numbers: Figures) -> Terms:
    """The latest terms of an item, gaps filled from the catalogue and the farm's figures."""
    return filled(item, max(records.every(ItemTerms, item_id=item.id), key=_since), numbers)


def all_terms(records: Reads, numbers: Figures) -> dict[int, Terms]:
    """The terms in force of every item, by item."""
    latest = {terms.item_id: terms for terms in sorted(records.every(ItemTerms), key=_since)}
    return {item.id: filled(item, latest[item.id], numbers) for item in records.every(Item)}


def _since(terms: ItemTerms) -> tuple[datetime, int]:
    return terms.from_utc, terms.id


def filled(item: Item, terms: ItemTerms, numbers: Figures) -> Terms:
    """Terms as they were said, with the usual for what was not, or was said in a currency the farm has left."""
    currency = numbers.currency
    if terms.currency != currency:
        terms = replace(terms, pack_price=None, delivery_price=None, breaks="[]")
    usual = usual_price(item, numbers)
    pack, delivery = terms.pack_price, numbers.numbers["delivery_price"]
    lead = numbers.numbers["usual_lead_days"]
    return Terms(
        pack_count=terms.pack_count,
        pack_price=_money(pack, usual.value * terms.pack_count, currency),
        pack_price_source=_source(usual) if pack is None else SAID,
        breaks=tuple((int(packs), Money(Decimal(price), currency)) for packs, price in json.loads(terms.breaks)),
        delivery_price=_money(terms.delivery_price, delivery.value, currency),
        delivery_price_source=_source(delivery) if terms.delivery_price is None else SAID,
        lead_days=lead.value if terms.lead_days is None else terms.lead_days,
        lead_source=_source(lead) if terms.lead_days is None else SAID,
        supplier=terms.supplier,
    )


def _money(said: Decimal | None, usual: float, currency: str) -> Money:
    return Money.of(usual, currency) if said is None else Money(said, currency)


def usual_price(item: Item, numbers: Figures) -> Sourced:
    """What the catalogue takes one piece to cost, in the farm's currency: by its first product, else its renewal."""
    fit = fits_of(item)[0]
    kind = load_catalogue().parts[fit.part_kind]
    product = kind.product(fit.product) if fit.product else None
    listed = product.price if product and product.price else kind.renewal.parts_cost
    return listed.times(numbers.numbers["price_ratio"].value / fit.pieces)


def _source(number: Sourced) -> str:
    return "own figure" if number.source == OWN_FIGURE else f"catalogue, {number.source}"


def price(what: str, given: PriceGiven | None) -> Decimal | None:
    """A price as typed; None stays None. Refuses what is no amount of money."""
    if given is None or given == "":
        return None
    try:
        amount = given if isinstance(given, Decimal) else Decimal(str(given).strip().replace(",", "."))
    except InvalidOperation as error:
        raise BadInput(
            what, place=f"“{given}”", expected="expected an amount of money", remedy="such as 9.50"
        ) from error
    if not (amount.is_finite() and 0 <= amount <= DEAREST):
        raise BadInput(
            what, place=str(given), expected=f"expected 0 to {DEAREST:,}", remedy="check the price and its currency"
        )
    return amount.quantize(Decimal("0.01")) if amount.as_tuple().exponent < -4 else amount  # type: ignore[operator]


def breaks_text(breaks: Sequence[tuple[int, PriceGiven]]) -> str:
    """Price breaks as they are kept; refuses packs or prices that do not go one way."""
    held = [(packs, price("price break", given)) for packs, given in breaks]
    for (before, dear), (packs, cheap) in zip([(1, None), *held], held, strict=False):
        if packs <= before or cheap is None or (dear is not None and cheap >= dear):
            raise BadInput(
                "price break", place=f"{packs} packs at {cheap}",
                expected="expected more packs and a lower price of a pack than the break before it",
                remedy="give breaks in order, such as 5 packs at 8.90, then 10 at 8.20",
            )  # fmt: skip
    return json.dumps([[packs, str(amount)] for packs, amount in held])
