"""What to order: the outlook of every fitted part against what the stores hold."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from feedwright.catalogue.entry import Figures, PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.settings import figures
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.outlook.forecasts import fitted_parts, refuse_to_wait
from feedwright.farm.outlook.kept import Kept
from feedwright.farm.stores.item_terms import Terms, all_terms
from feedwright.farm.stores.stock import Stock, chosen_item, fit_words, fits_of, fitting_items, stocks
from feedwright.planning.demand import PartAhead, renewals_ahead
from feedwright.planning.inventory import StockCosts, Tier
from feedwright.planning.reorder import YEAR_DAYS, ReorderAdvice, Supply, advise_order
from feedwright.records.store import Store
from feedwright.records.stores_values import Item, Movement

UNKEPT_DAYS = 91
LEAST_UNKEPT = 0.05
"""Expected renewals below which a part that is not kept is not worth a line (assumed)."""
URGENT = {"order now": 0, "order along": 1, "enough": 2, "not used": 3}


@dataclass(frozen=True, slots=True)
class Need:
    """One fitted part that an item may be needed for."""

    machine: str
    part: str
    renewed_frac: float
    """Chance that it is renewed until an order of the next look has arrived."""
    best_in_days: float
    """When it is best renewed; infinite where not by age."""


@dataclass(frozen=True, slots=True)
class ReorderLine:
    """One item, what it is needed for, and whether to order it."""

    item: Item
    terms: Terms
    stock: Stock
    advice: ReorderAdvice
    needs: tuple[Need, ...]
    """Likeliest first."""
    instead: str
    """The item that is used first for the parts that this one fits too; empty where it is this one."""


@dataclass(frozen=True, slots=True)
class Unkept:
    """Parts that machines use and wear out, and the stores do not keep."""

    kind: PartKind
    product: str
    machines: int
    needed_count: float
    """Renewals to be expected in the coming three months."""


@dataclass(frozen=True, slots=True)
class Reordering:
    """What to order, as things stand."""

    at_utc: datetime
    lines: tuple[ReorderLine, ...]
    """What is to be ordered first, then what runs out first."""
    unkept: tuple[Unkept, ...]

    @property
    def to_order(self) -> tuple[ReorderLine, ...]:
        """What is to be ordered now; what is only ordered along with it, where its supplier delivers anyway."""
        due = {line.terms.supplier for line in self.lines if line.advice.status == "order now" and line.terms.supplier}
        return tuple(
            line for line in self.lines
            if line.advice.status == "order now"
            or (line.advice.status == "order along" and line.terms.supplier in due)
        )  # fmt: skip


KEPT_S = 60
"""Advice holds so long at most, for times move on."""
_KEPT = Kept[Reordering]("reorder advice", behind=True)
"""What was worked out last for all of the stores."""


def reordering(store: Store, now_utc: datetime, *, only: str | None = None) -> Reordering:
    """Reorder advice for everything in the stores, or for one item by its name.

    On a page of a large farm all of it is the last that was worked out, until the keeper has done so anew.
    """
    if only is not None:
        return _reordering(store, now_utc, only)
    refuse_to_wait(store)
    return _KEPT.of(store, now_utc, lambda: _reordering(store, now_utc, None), stamp=_stamp(store, now_utc))


def advised_before(store: Store, now_utc: datetime) -> datetime | None:
    """When the advice that is shown was worked out, where something was recorded since; None where it is of now."""
    return _KEPT.out_of_date(store, stamp=_stamp(store, now_utc))


def _stamp(store: Store, now_utc: datetime) -> tuple[int, str, float]:
    return store.latest_act_id(), load_catalogue().digest, now_utc.timestamp() // KEPT_S


def _reordering(store: Store, now_utc: datetime, only: str | None) -> Reordering:
    kept, numbers, parts = store.every(Item), figures(store), fitted_parts(store, now_utc)
    stock = stocks(store)
    served, instead, unserved = _by_item(kept, stock, parts)
    terms = all_terms(store, numbers)
    lines = [
        _line(
            item,
            terms[item.id],
            stock[item.id],
            served[item.id],
            store.every(Movement, item_id=item.id),
            numbers,
            instead,
        )
        for item in kept
        if only is None or item.name == only
    ]
    lines.sort(key=lambda line: (URGENT[line.advice.status], line.advice.run_out_days.mid, line.item.name.casefold()))
    return Reordering(now_utc, tuple(lines), _unkept(unserved, numbers))


def _by_item(
    kept: Sequence[Item], stock: dict[int, Stock], parts: Iterable[FittedPart]
) -> tuple[dict[int, list[tuple[FittedPart, int]]], dict[int, str], list[FittedPart]]:
    """The fitted parts that each item will renew, with pieces; by item, which other is used first for those it fits
    too; and the parts that nothing kept renews."""
    served: dict[int, list[tuple[FittedPart, int]]] = defaultdict(list)
    instead: dict[int, str] = {}
    unserved = []
    found: dict[tuple[str, str], list[tuple[Item, int]]] = {}
    for part in parts:
        key = part.kind.id, part.fitting.product
        if key not in found:
            found[key] = fitting_items(kept, *key)
        if found[key]:
            item, pieces = chosen_item(found[key], stock)
            served[item.id].append((part, pieces))
            instead.update({other.id: item.name for other, _ in found[key] if other.id != item.id})
        else:
            unserved.append(part)
    return served, {number: name for number, name in instead.items() if number not in served}, unserved


def own_lead_days(movements: Sequence[Movement]) -> tuple[float, ...]:
    """How long each order took until its first piece arrived, latest last."""
    ordered = {one.id: one.moved_utc for one in movements if one.kind == "ordered"}
    first: dict[int, datetime] = {}
    for one in movements:
        if one.kind == "arrived" and one.order_id in ordered:
            first[one.order_id] = min(first.get(one.order_id, one.moved_utc), one.moved_utc)
    return tuple((first[number] - ordered[number]) / timedelta(days=1) for number in sorted(first))


def _line(
    item: Item, terms: Terms, stock: Stock, served: Sequence[tuple[FittedPart, int]], moved: Sequence[Movement],
    numbers: Figures, others: Mapping[int, str],
) -> ReorderLine:  # fmt: skip
    ahead = [_ahead(part, pieces, numbers) for part, pieces in served]
    advice = advise_order(ahead, stock.on_hand, stock.on_order, _supply(terms, own_lead_days(moved), numbers))
    needs = [
        Need(part.machine.name, part.title, chance, part.advice.best_in_days)
        for (part, _), chance in zip(served, advice.renewed_frac, strict=True)
    ]
    needs.sort(key=lambda need: (-need.renewed_frac, need.best_in_days, need.machine))
    instead = others.get(item.id, "")
    if instead:
        advice = replace(
            advice, because=(f"{instead} is used first for the parts that this fits: nothing is ordered.",)
        )
    return ReorderLine(item, terms, stock, advice, tuple(needs), instead)


def _ahead(part: FittedPart, pieces: int, numbers: Figures) -> PartAhead:
    idle = numbers.numbers["machine_per_h"].value * part.pace.printing_h_per_day
    return PartAhead(part.outlook, part.pace, part.advice, pieces, idle)


def _supply(terms: Terms, own: tuple[float, ...], numbers: Figures) -> Supply:
    figure = {name: sourced.value for name, sourced in numbers.numbers.items()}
    delivery = float(terms.delivery_price.amount)
    piece = float(terms.pack_price.amount) / terms.pack_count
    tiers = [Tier(1, piece)] + [
        Tier(packs * terms.pack_count, float(price.amount) / terms.pack_count) for packs, price in terms.breaks
    ]
    return Supply(
        pack_count=terms.pack_count,
        lead_days=terms.lead_days,
        own_lead_days=own,
        look_days=figure["order_every_days"],
        most_days=figure["order_most_days"],
        costs=StockCosts(
            order_cost=figure["order_minutes"] * figure["labour_per_h"] / 60 + delivery,
            short_cost=0.0,
            keeping_frac_day=figure["stock_per_year_frac"] / YEAR_DAYS,
            tiers=tuple(tiers),
        ),
        delivery_cost=delivery,
        currency=numbers.currency,
    )


def _unkept(parts: Iterable[FittedPart], numbers: Figures) -> tuple[Unkept, ...]:
    """Parts whose renewal uses something up and for which nothing is kept, most needed first."""
    groups: dict[tuple[str, str], list[FittedPart]] = defaultdict(list)
    for part in parts:
        if part.kind.renewal.parts:
            groups[part.kind.id, part.fitting.product].append(part)
    found = [
        Unkept(
            load_catalogue().parts[kind], product, len({part.machine.id for part in those}),
            float(renewals_ahead([_ahead(part, 1, numbers) for part in those], UNKEPT_DAYS).expected()[-1]),
        )
        for (kind, product), those in groups.items()
    ]  # fmt: skip
    shown = (one for one in found if one.needed_count >= LEAST_UNKEPT)
    return tuple(sorted(shown, key=lambda one: -one.needed_count))


def order_text(found: Reordering) -> str:
    """The order list by supplier, ready to paste; empty where nothing is to be ordered."""
    by_supplier: dict[str, list[ReorderLine]] = defaultdict(list)
    for line in found.to_order:
        by_supplier[line.terms.supplier].append(line)
    blocks = []
    for supplier, lines in by_supplier.items():
        listed = [_order_line(line) for line in lines]
        blocks.append("\n".join([f"{supplier}:" if supplier else "Supplier not named:", *listed]))
    return "\n\n".join(blocks)


def _order_line(line: ReorderLine) -> str:
    advice, terms = line.advice, line.terms
    packs = f"{advice.order_packs} x " + (
        f"pack of {terms.pack_count}, {line.item.name}" if terms.pack_count > 1 else line.item.name
    )
    fits = "; ".join(fit_words(fit) for fit in fits_of(line.item))
    return f"- {packs} ({fits}), about {advice.order_price}"
