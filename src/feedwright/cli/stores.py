"""``feedwright stores``: spares on hand, what moved, and what to order."""

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, At, FarmFolder, Note, Who, farm, now, out, show_time, table, when
from feedwright.errors import BadInput

if TYPE_CHECKING:
    from feedwright.farm.stores.reordering import Reordering, ReorderLine
    from feedwright.farm.stores.stores import ItemSheet, Moved

stores = typer.Typer(help="Spares on hand, and what to order.", no_args_is_help=True, rich_markup_mode=None)
Name = Annotated[str, typer.Argument(help="The item's name.", show_default=False)]
Pack = Annotated[int, typer.Option("--pack", min=1, help="Pieces in a supplier's pack.")]
Price = Annotated[str | None, typer.Option("--price", help="Price of a pack; else the catalogue's.")]
Delivery = Annotated[str | None, typer.Option("--delivery", help="What a delivery costs on top; else the figures'.")]
Lead = Annotated[float | None, typer.Option("--lead-days", help="Days from order to arrival; else the figures'.")]
Break = Annotated[
    list[str] | None, typer.Option("--break", help="Cheaper from so many packs on, as PACKS:PRICE; may be repeated.")
]
Supplier = Annotated[str, typer.Option("--supplier", help="Who supplies it.")]
Reason = Annotated[str, typer.Option("--reason", help="Why.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(stores, name="stores")


@stores.command("list")
def list_(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """What is on hand, when it runs out, whether to order."""
    from feedwright.farm.stores.reordering import reordering

    with farm(folder) as store:
        found = reordering(store, now())
    out(found, _list_lines(found), as_json=as_json)


def _list_lines(found: "Reordering") -> Iterator[str]:
    if not found.lines:
        yield "Nothing is kept yet: `feedwright stores add NAME --fits PART`."
    else:
        rows = [
            (
                line.item.name, f"{line.stock.on_hand}", f"{line.stock.on_order or ''}", line.advice.status,
                _packs(line), _runs_out(line),
                f"{line.advice.needed.low:.0f}-{line.advice.needed.high:.0f} in {line.advice.until_days:.0f} d",
            )
            for line in found.lines
        ]  # fmt: skip
        yield from table(("item", "on hand", "on order", "advice", "order", "runs out", "needed"), rows)
    for one in found.unkept:
        part = f"{one.kind.title.lower()} ({one.product})"
        yield f"not kept: {part}, on {one.machines} machines; about {one.needed_count:.1f} renewals in three months"


def _packs(line: "ReorderLine") -> str:
    many = line.advice.order_packs
    if not many:
        return ""
    return f"{many} x {line.terms.pack_count}" if line.terms.pack_count > 1 else str(many)


def _runs_out(line: "ReorderLine") -> str:
    """'in 29 d (18-43)': the likely day, and the band that holds it eight times in ten."""
    if line.advice.status == "not used":
        return ""
    out = line.advice.run_out_days
    low, mid, high = (f"{days:.0f}" if math.isfinite(days) else "later" for days in (out.low, out.mid, out.high))
    if math.isinf(out.low):
        return "not within the half-year"
    return f"in {mid} d ({low}-{high})" if math.isfinite(out.mid) else f"later (from {low} d on)"


@stores.command("show")
def show(name: Name, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """One item: why to order it or not.

    Also how it is bought, what it is needed for and what moved.
    """
    from feedwright.farm.stores.reordering import reordering
    from feedwright.farm.stores.stores import item_sheet

    with farm(folder) as store:
        sheet = item_sheet(store, name)
        (line,) = reordering(store, now(), only=sheet.item.name).lines
        moved = [
            (str(one.id), show_time(store, one.moved_utc), one.kind, str(one.count), one.reason)
            for one in sheet.movements[:20]
        ]
    out({"sheet": sheet, "line": line}, _show_lines(sheet, line, moved), as_json=as_json)


def _show_lines(sheet: "ItemSheet", line: "ReorderLine", moved: Sequence[Sequence[str]]) -> Iterator[str]:
    terms, advice = sheet.terms, line.advice
    ordering = f": {_packs(line)}, about {advice.order_price}." if advice.order_packs else "."
    there = f"{sheet.stock.on_hand} on hand, {sheet.stock.on_order} on order"
    yield f"{sheet.item.name}: {there}. {advice.status.capitalize()}{ordering}"
    yield (
        f"pack of {terms.pack_count} at {terms.pack_price} ({terms.pack_price_source}); "
        f"delivery {terms.delivery_price} ({terms.delivery_price_source}); "
        f"{terms.lead_days:g} days ({terms.lead_source}){'; ' + terms.supplier if terms.supplier else ''}"
    )
    yield from advice.because
    likely = [need for need in line.needs if need.renewed_frac >= 0.005][:10]
    if likely:
        yield from table(
            ("machine", "part", "chance to be renewed by then"),
            [(need.machine, need.part, f"{need.renewed_frac:.0%}") for need in likely],
        )
    if moved:
        yield from table(("movement", "when", "what", "pieces", "reason"), moved)


@stores.command("add")
def add(
    name: Name,
    fits: Annotated[
        list[str],
        typer.Option("--fits", help="What it renews, as PART, PART:PRODUCT or PART:PRODUCT:PIECES; may be repeated."),
    ],
    pack: Pack = 1,
    price: Price = None,
    delivery: Delivery = None,
    lead_days: Lead = None,
    breaks: Break = None,
    supplier: Supplier = "",
    on_hand: Annotated[int | None, typer.Option("--on-hand", min=0, help="How many are there: a first count.")] = None,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Keep an item in the stores from now on."""
    from feedwright.farm.stores.stores import add_item

    with farm(folder) as store:
        sheet = add_item(
            store, name, fits, pack_count=pack, pack_price=price, delivery_price=delivery, lead_days=lead_days,
            breaks=_breaks(breaks), supplier=supplier, on_hand=on_hand, note=note, at_utc=when(store, at), person=who,
        )  # fmt: skip
    kept = f"{sheet.item.name} is kept from now on; {sheet.stock.on_hand} on hand."
    out(sheet, [kept, _priced(sheet)], as_json=as_json)


def _priced(sheet: "ItemSheet") -> str:
    terms = sheet.terms
    return (
        f"A pack of {terms.pack_count} is taken to cost {terms.pack_price} ({terms.pack_price_source}) "
        f"and to arrive {terms.lead_days:g} days after the order ({terms.lead_source})."
    )


def _breaks(given: list[str] | None) -> list[tuple[int, str]]:
    held = []
    for word in given or ():
        packs, _, price = word.partition(":")
        if not (packs.isascii() and packs.isdigit() and price):
            raise BadInput(
                "--break", place=f"“{word}”", expected="expected PACKS:PRICE", remedy="such as 4:8.90, from 4 packs on"
            )
        held.append((int(packs), price))
    return held


@stores.command("terms")
def terms(
    name: Name,
    pack: Pack = 1,
    price: Price = None,
    delivery: Delivery = None,
    lead_days: Lead = None,
    breaks: Break = None,
    supplier: Supplier = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Say anew how an item is bought.

    All of it: the terms before stay on record.
    """
    from feedwright.farm.stores.stores import set_terms

    with farm(folder) as store:
        sheet = set_terms(
            store, name, pack_count=pack, pack_price=price, delivery_price=delivery, lead_days=lead_days,
            breaks=_breaks(breaks), supplier=supplier, at_utc=when(store, at), person=who,
        )  # fmt: skip
    out(sheet, [_priced(sheet)], as_json=as_json)


@stores.command("receive")
def receive(
    name: Name,
    count: Annotated[int, typer.Argument(help="How many pieces came in.", min=1, show_default=False)],
    reason: Reason = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Pieces came in; what was ordered first arrives first."""
    from feedwright.farm.stores import stores as use_case

    with farm(folder) as store:
        moved = use_case.receive(store, name, count, at_utc=when(store, at), reason=reason, person=who)
    out(moved, _moved_lines(moved), as_json=as_json)


@stores.command("use")
def use(
    name: Name,
    count: Annotated[int, typer.Argument(help="How many were taken.", min=1)] = 1,
    reason: Reason = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Pieces were taken without a renewal.

    A renewal on record takes its own.
    """
    from feedwright.farm.stores.stores import use_item

    with farm(folder) as store:
        moved = use_item(store, name, count, at_utc=when(store, at), reason=reason, person=who)
    out(moved, _moved_lines(moved), as_json=as_json)


@stores.command("count")
def count_(
    name: Name,
    count: Annotated[int, typer.Argument(help="How many are there.", min=0, show_default=False)],
    reason: Reason = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Pieces were counted.

    A count that differs from the records says why.
    """
    from feedwright.farm.stores.stores import count_item

    with farm(folder) as store:
        moved = count_item(store, name, count, at_utc=when(store, at), reason=reason, person=who)
    out(moved, _moved_lines(moved), as_json=as_json)


def _moved_lines(moved: "Moved") -> Iterator[str]:
    for one in moved.movements:
        yield f"Movement {one.id} is on record: {moved.item.name}, {one.count} {one.kind}."
    yield f"{moved.stock.on_hand} on hand, {moved.stock.on_order} on order."
    for remark in moved.remarks:
        yield f"note: {remark}"


@stores.command("orders")
def orders(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """What to order, ready to paste, and what is still to come."""
    from feedwright.farm.stores.reordering import order_text, reordering

    with farm(folder) as store:
        found = reordering(store, now())
        text = order_text(found)
        coming = [
            (str(order.movement.id), show_time(store, order.movement.moved_utc), line.item.name, str(order.left))
            for line in found.lines
            for order in line.stock.open_orders
        ]
    lines = [text or "Nothing is to be ordered.", *([""] if coming else [])]
    if coming:
        lines += table(("order", "ordered", "item", "still to come"), coming)
    data = {"text": text, "to_order": found.to_order, "open_orders": [line.stock.open_orders for line in found.lines]}
    out(data, lines, as_json=as_json)


@stores.command("order")
def order(
    name: Name,
    packs: Annotated[int, typer.Argument(help="How many packs were ordered.", min=1, show_default=False)],
    reason: Reason = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Record that packs of an item were ordered."""
    from feedwright.farm.stores.stores import order_items

    with farm(folder) as store:
        (moved,) = order_items(store, [(name, packs)], at_utc=when(store, at), reason=reason, person=who)
    out(moved, _moved_lines(moved), as_json=as_json)


@stores.command("cancel")
def cancel(
    number: Annotated[int, typer.Argument(help="The order's number, as `stores orders` lists it.", show_default=False)],
    reason: Reason = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What is left of an order will not come."""
    from feedwright.farm.stores.stores import cancel_order

    with farm(folder) as store:
        moved = cancel_order(store, number, at_utc=when(store, at), reason=reason, person=who)
    out(moved, _moved_lines(moved), as_json=as_json)
