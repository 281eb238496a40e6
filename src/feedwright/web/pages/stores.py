"""The stores: what is on hand, what moved, what to order."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import Response

from feedwright.catalogue.entry import PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.people import people
from feedwright.farm.stores.reordering import Reordering, ReorderLine, advised_before, order_text, reordering
from feedwright.farm.stores.stores import (
    ItemSheet,
    add_item,
    cancel_order,
    count_item,
    item_numbered,
    item_sheet,
    order_items,
    receive,
    set_terms,
    use_item,
)
from feedwright.records.store import Store
from feedwright.records.values import Person
from feedwright.web.fields import local_moment, number, number_or_none
from feedwright.web.pages.bench import NOTHING
from feedwright.web.render import answer, done, farm, no_farm_yet
from feedwright.web.stock_charts import demand_and_stock

router = APIRouter()
Text = Annotated[str, Form()]


@dataclass(frozen=True, slots=True)
class ListContext:
    """Everything kept, and what is not."""

    found: Reordering
    before_utc: datetime | None
    """When that was worked out, where something was recorded since."""


@dataclass(frozen=True, slots=True)
class NewContext:
    """The form for an item."""

    kinds: list[PartKind]
    fits: str
    people: list[Person]


@dataclass(frozen=True, slots=True)
class ItemContext:
    """One item: what to do about it and why."""

    sheet: ItemSheet
    line: ReorderLine
    demand: dict[str, Any]
    people: list[Person]


@dataclass(frozen=True, slots=True)
class OrderContext:
    """The order list, ready to paste."""

    found: Reordering
    text: str


@router.get("/stores")
def list_(request: Request) -> Response:
    """Everything kept: what is to be ordered first, then what runs out first."""
    if no_farm_yet(request):
        return answer(request, "first_steps", NOTHING)
    with farm(request) as store:
        return answer(request, "stores", _list(store))


def _list(store: Store) -> ListContext:
    now_utc = _now()
    return ListContext(reordering(store, now_utc), advised_before(store, now_utc))


def _now() -> datetime:
    return datetime.now(UTC)


@router.get("/stores/new")
def new(request: Request, fits: str = "") -> Response:
    """The form for an item."""
    with farm(request) as store:
        return answer(request, "stores_new", NewContext(list(load_catalogue().parts.values()), fits, people(store)))


@router.post("/stores/new")
def add(
    request: Request,
    name: Text,
    fits: Annotated[list[str], Form()],
    pieces: Text = "1",
    pack: Text = "1",
    price: Text = "",
    delivery: Text = "",
    lead_days: Text = "",
    breaks: Text = "",
    supplier: Text = "",
    on_hand: Text = "",
    note: Text = "",
    when: Text = "",
    person: Text = "",
) -> Response:
    """Keep an item from now on."""
    each = _whole("pieces of a renewal", pieces)
    with farm(request) as store:
        sheet = add_item(
            store, name, [f"{one if ':' in one else one + ':'}:{each}" for one in fits],
            pack_count=_whole("pieces in a pack", pack), pack_price=price or None, delivery_price=delivery or None,
            lead_days=number_or_none("lead time", lead_days), breaks=_breaks(breaks), supplier=supplier,
            on_hand=_whole("on hand", on_hand) if on_hand.strip() else None, note=note,
            at_utc=local_moment(store, when), person=person or None,
        )  # fmt: skip
    return done(request, f"/stores/{sheet.item.id}?recorded=item-{sheet.item.id}", sheet)


def _whole(field: str, given: str) -> int:
    """A whole number of a field, refused where it is none."""
    value = number(field, given)
    if not value.is_integer():
        raise BadInput(field, place=f"“{given}”", expected="expected a whole number", remedy="such as 3")
    return int(value)


def _breaks(given: str) -> list[tuple[int, str]]:
    """Price breaks as typed, one to a line: '4 8.90'."""
    lines = [line.replace(":", " ").split() for line in given.splitlines() if line.strip()]
    return [(_whole("price break", words[0]), words[-1] if len(words) > 1 else "?") for words in lines]


@router.get("/stores/order")
def order_list(request: Request) -> Response:
    """What to order now, ready to paste."""
    with farm(request) as store:
        found = reordering(store, _now())
        return answer(request, "stores_order", OrderContext(found, order_text(found)))


@router.post("/stores/order")
async def order(request: Request) -> Response:
    """Record that what the list says, or as many packs as were typed, was ordered."""
    form = await request.form()
    packs = {name.removeprefix("packs-"): str(held) for name, held in form.items() if name.startswith("packs-")}
    with farm(request) as store:
        wanted = [
            (item_numbered(store, int(item)).name, _whole("packs", many))
            for item, many in packs.items()
            if item.isdigit() and many.strip() not in ("", "0")
        ]
        made = order_items(store, wanted, reason=str(form.get("reason", "")))
    return done(request, f"/stores?recorded=movement-{made[-1].movements[-1].id}", made)


@router.get("/stores/{number}")
def show(request: Request, number: int) -> Response:
    """One item."""
    with farm(request) as store:
        item = item_numbered(store, number)
        line = next((one for one in reordering(store, _now()).lines if one.item.id == number), None)
        if line is None:  # new since
            (line,) = reordering(store, _now(), only=item.name).lines
        demand = demand_and_stock(line)
        return answer(request, "stores_item", ItemContext(item_sheet(store, item.name), line, demand, people(store)))


def _moved(request: Request, number: int, made: Any) -> Response:
    return done(request, f"/stores/{number}?recorded=movement-{made.movements[-1].id}", made)


def _named(store: Store, number: int) -> str:
    return item_numbered(store, number).name


@router.post("/stores/{number}/use")
def use(
    request: Request, number: int, count: Text = "1", reason: Text = "", when: Text = "", person: Text = ""
) -> Response:
    """Pieces were taken."""
    with farm(request) as store:
        made = use_item(store, _named(store, number), _whole("how many", count), reason=reason,
                        at_utc=local_moment(store, when), person=person or None)  # fmt: skip
    return _moved(request, number, made)


@router.post("/stores/{number}/receive")
def came(request: Request, number: int, count: Text, reason: Text = "", when: Text = "", person: Text = "") -> Response:
    """Pieces came in."""
    with farm(request) as store:
        made = receive(store, _named(store, number), _whole("how many", count), reason=reason,
                       at_utc=local_moment(store, when), person=person or None)  # fmt: skip
    return _moved(request, number, made)


@router.post("/stores/{number}/count")
def counted(
    request: Request, number: int, count: Text, reason: Text = "", when: Text = "", person: Text = ""
) -> Response:
    """Pieces were counted."""
    with farm(request) as store:
        made = count_item(store, _named(store, number), _whole("how many", count), reason=reason,
                          at_utc=local_moment(store, when), person=person or None)  # fmt: skip
    return _moved(request, number, made)


@router.post("/stores/{number}/terms")
def terms(
    request: Request,
    number: int,
    pack: Text = "1",
    price: Text = "",
    delivery: Text = "",
    lead_days: Text = "",
    breaks: Text = "",
    supplier: Text = "",
    person: Text = "",
) -> Response:
    """Say anew how an item is bought."""
    with farm(request) as store:
        sheet = set_terms(
            store, _named(store, number), pack_count=_whole("pieces in a pack", pack), pack_price=price or None,
            delivery_price=delivery or None, lead_days=number_or_none("lead time", lead_days), breaks=_breaks(breaks),
            supplier=supplier, person=person or None,
        )  # fmt: skip
    return done(request, f"/stores/{number}?recorded=item-{number}", sheet)


@router.post("/stores/{number}/cancel")
def cancel(request: Request, number: int, order: Annotated[int, Form()], reason: Text = "") -> Response:
    """What is left of an order will not come."""
    with farm(request) as store:
        made = cancel_order(store, order, reason=reason)
    return _moved(request, number, made)
