"""Spools of filament: where each hangs, how it was kept, and how much is left on it."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import NAME, pick_entry, text, with_capital, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.settings import figures
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.stores.item_terms import PriceGiven, price
from feedwright.planning.spool_mass import MassLeft, Verdict, mass_left, verdict
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.stores_values import Spool, SpoolEntry, SpoolUse
from feedwright.records.values import Machine

MOST_G = 20_000.0
MOST_OVER = 1.2
"""A new spool may hold up to this much of what its label says; beyond it the weighing is a slip (assumed)."""
HOPELESS_FRAC = 0.005
"""A chance that is not worth a number (assumed)."""
LEAST_SAID_G = 0.5
"""What is drawn before a print is not worth a word below this (assumed)."""
PLACES = ("hung", "shelved", "emptied")
"""Kinds of entry that say where a spool is."""


@dataclass(frozen=True, slots=True)
class SpoolSheet:
    """One spool with all that is known of it."""

    spool: Spool
    title: str
    """'spool 3, PLA green'."""
    machine: Machine | None
    """The machine it hangs on."""
    place: str
    """Where else it was put; empty = nobody said."""
    left: MassLeft
    drawn_g: float
    """By the runs since it was added or last weighed."""
    opened_utc: datetime | None
    dried_utc: datetime | None
    empty: bool
    entries: tuple[SpoolEntry, ...]
    """Latest first."""
    uses: tuple[SpoolUse, ...]
    """Latest first; empty in a list of spools."""


@dataclass(frozen=True, slots=True)
class Enough:
    """Whether the spool that hangs on a machine can finish a print."""

    machine: str
    needed_g: float
    """By the print itself ..."""
    before_g: float
    """... and by what is printed before it."""
    spool: Spool | None
    """None where no spool on record hangs there."""
    left: MassLeft | None
    enough_frac: float | None
    verdict: Verdict | None
    words: str
    """One sentence that says it all."""


def add_spool(
    store: Store,
    material: str,
    *,
    net_g: float = 1000.0,
    tare_g: float | None = None,
    label: str = "",
    lot: str = "",
    price_paid: PriceGiven | None = None,
    machine: str | None = None,
    note: str = "",
    at_utc: datetime | None = None,
    person: str | None = None,
) -> SpoolSheet:
    """Take a spool on record with ``net_g`` of filament on it; hung at once where a ``machine`` is named."""
    at = moment(at_utc)
    spool = Spool(
        material=pick_entry(load_catalogue().materials, material, "material").id,
        added_utc=at,
        net_g=within("filament on it", net_g, 1, MOST_G, "g"),
        tare_g=None if tare_g is None else within("empty spool", tare_g, 0, MOST_G, "g"),
        label=text("label", label, NAME, lines=False),
        lot=text("lot", lot, NAME, lines=False),
        price=price("price", price_paid),
        currency=figures(store).currency,
        note=text("note", note),
    )
    whose = None if machine is None else machine_named(store, machine)
    with store.act("add spool", person_id=person_id(store, person)) as act:
        number = act.add(spool)
        if whose is not None:
            hang_within(act, number, whose, at)
    return spool_sheet(store, number)


def hang_spool(
    store: Store,
    number: int,
    machine: str,
    *,
    at_utc: datetime | None = None,
    note: str = "",
    person: str | None = None,
) -> SpoolSheet:
    """Hang a spool on a machine; the one that hung there goes back on the shelf."""
    whose = machine_named(store, machine)
    at, why = moment(at_utc), text("note", note)
    with store.act("hang spool", person_id=person_id(store, person)) as act:
        hang_within(act, spool_numbered(act, number, at).id, whose, at, why)
    return spool_sheet(store, number)


def hang_within(act: ActInHand, number: int, machine: Machine, at_utc: datetime, note: str = "") -> None:
    """The same within an act that writes more."""
    held = [one for one in act.every(SpoolEntry) if one.at_utc <= at_utc]
    before = hanging(held).get(machine.id)
    if before is not None and before != number:
        act.add(SpoolEntry(before, at_utc, "shelved", note="another was hung in its place"))
    if not any(one.kind == "opened" for one in held if one.spool_id == number):
        act.add(SpoolEntry(number, at_utc, "opened"))
    act.add(SpoolEntry(number, at_utc, "hung", machine.id, note=note))


def shelve_spool(
    store: Store, number: int, place: str = "", *, at_utc: datetime | None = None, person: str | None = None
) -> SpoolSheet:
    """Put a spool away: on a shelf, into a dry box."""
    where = text("place", place, NAME, lines=False)
    return _enter(store, "shelve spool", SpoolEntry(number, moment(at_utc), "shelved", place=where), person)


def open_spool(store: Store, number: int, *, at_utc: datetime | None = None, person: str | None = None) -> SpoolSheet:
    """Its bag was opened: from now on it takes up water."""
    return _enter(store, "open spool", SpoolEntry(number, moment(at_utc), "opened"), person)


def dry_spool(
    store: Store,
    number: int,
    *,
    dry_c: float | None = None,
    dry_h: float | None = None,
    at_utc: datetime | None = None,
    note: str = "",
    person: str | None = None,
) -> SpoolSheet:
    """It was dried, at so many degrees for so many hours where that is known."""
    if dry_c is not None:
        within("drying temperature", dry_c, 20, 150, "°C")
    if dry_h is not None:
        within("drying time", dry_h, 0, 200, "h")
    entry = SpoolEntry(number, moment(at_utc), "dried", dry_c=dry_c, dry_h=dry_h, note=text("note", note))
    return _enter(store, "dry spool", entry, person)


def weigh_spool(
    store: Store,
    number: int,
    *,
    gross_g: float | None = None,
    left_g: float | None = None,
    at_utc: datetime | None = None,
    note: str = "",
    person: str | None = None,
) -> SpoolSheet:
    """It was weighed: with its spool (``gross_g``), or the filament alone (``left_g``)."""
    if (gross_g is None) == (left_g is None):
        raise BadInput(
            "mass", expected="expected the mass with the spool, or of the filament alone", remedy="give one of them"
        )
    at = moment(at_utc)
    spool = spool_numbered(store, number, at)
    if gross_g is not None:
        if spool.tare_g is None:
            raise BadInput(
                "mass", place=f"{gross_g:g} g with the spool", expected="the mass of the empty spool is not on record",
                remedy="give what is left without the spool",
            )  # fmt: skip
        if gross_g < spool.tare_g:
            raise BadInput(
                "mass", place=f"{gross_g:g} g with the spool", expected=f"the empty spool alone is {spool.tare_g:g} g",
                remedy="weigh it again, or void the spool and take it on record anew",
            )  # fmt: skip
        left_g = within("mass with the spool", gross_g, spool.tare_g, spool.tare_g + MOST_G, "g") - spool.tare_g
    left = within("filament left", left_g or 0.0, 0, MOST_G, "g")
    if left > spool.net_g * MOST_OVER:
        raise BadInput(
            "mass",
            place=f"{left:g} g of filament",
            expected=f"this spool held {spool.net_g:g} g when it was new",
            remedy="take off what the empty spool weighs; if it held more, void it and take it on record anew",
        )
    return _enter(store, "weigh spool", SpoolEntry(number, at, "weighed", left_g=left, note=text("note", note)), person)


def empty_spool(store: Store, number: int, *, at_utc: datetime | None = None, person: str | None = None) -> SpoolSheet:
    """It is used up or thrown away."""
    return _enter(store, "empty spool", SpoolEntry(number, moment(at_utc), "emptied"), person)


def _enter(store: Store, kind: str, entry: SpoolEntry, person: str | None) -> SpoolSheet:
    with store.act(kind, person_id=person_id(store, person)) as act:
        spool_numbered(act, entry.spool_id, entry.at_utc)
        act.add(entry)
    return spool_sheet(store, entry.spool_id)


def spool_numbered(records: Reads, number: int, at_utc: datetime | None = None) -> Spool:
    """The spool of that number; refuses one that is empty, or was not there yet."""
    spool = records.one(Spool, number)
    if spool is None:
        raise NotFound(
            "spool", place=f"number {number}", expected="no such spool, or void already", remedy="list the spools"
        )
    if at_utc is None:
        return spool
    if at_utc < spool.added_utc:
        raise Conflict(
            f"spool {number}", place=f"{at_utc:%Y-%m-%d %H:%M} UTC",
            expected=f"it is on record only since {spool.added_utc:%Y-%m-%d %H:%M} UTC", remedy="correct the time",
        )  # fmt: skip
    gone = [one for one in records.every(SpoolEntry, spool_id=number) if one.kind == "emptied" and one.at_utc <= at_utc]
    if gone:
        raise Conflict(f"spool {number}", expected="it is empty by the records",
                       remedy=f"void spool_entry {gone[0].id} where that was wrong")  # fmt: skip
    return spool


def in_order(entries: Iterable[SpoolEntry]) -> list[SpoolEntry]:
    """Entries as they happened."""
    return sorted(entries, key=lambda one: (one.at_utc, one.id))


def hanging(entries: Iterable[SpoolEntry]) -> dict[int, int]:
    """The spool that hangs on each machine after these entries, by machine."""
    where: dict[int, int | None] = {}
    for one in in_order(entries):
        if one.kind in PLACES:
            where[one.spool_id] = one.machine_id if one.kind == "hung" else None
    return {machine_id: spool for spool, machine_id in where.items() if machine_id is not None}


def spool_sheet(records: Reads, number: int) -> SpoolSheet:
    """One spool as it stands; refuses an unknown number."""
    spool = spool_numbered(records, number)
    machines = {machine.id: machine for machine in records.machines()}
    entries, uses = records.every(SpoolEntry, spool_id=number), records.every(SpoolUse, spool_id=number)
    return _sheet(spool, entries, machines, uses=uses)


def spools(records: Reads, *, empty: bool = False) -> list[SpoolSheet]:
    """Spools in the order they were added; those that are empty only where asked for."""
    in_use, done, drawn = records.spools_in_use(empty=empty)
    entries: dict[int, list[SpoolEntry]] = defaultdict(list)
    for entry in done:
        entries[entry.spool_id].append(entry)
    machines = {machine.id: machine for machine in records.machines()}
    return [_sheet(spool, entries[spool.id], machines, drawn_g=drawn.get(spool.id, 0.0)) for spool in in_use]


def _sheet(
    spool: Spool, entries: Sequence[SpoolEntry], machines: dict[int, Machine], *, uses: Sequence[SpoolUse] = (),
    drawn_g: float | None = None,
) -> SpoolSheet:  # fmt: skip
    """The sheet; what was drawn since it was weighed is summed from the uses where it is not given."""
    held = in_order(entries)
    weighed = next((one for one in reversed(held) if one.kind == "weighed"), None)
    if drawn_g is None:
        drawn_g = sum(use.used_g for use in uses if weighed is None or use.used_utc > weighed.at_utc)
    last = next((one for one in reversed(held) if one.kind in PLACES), None)
    empty = last is not None and last.kind == "emptied"
    start_g = spool.net_g if weighed is None or weighed.left_g is None else weighed.left_g
    return SpoolSheet(
        spool=spool,
        title=title(spool),
        machine=machines.get(last.machine_id or 0) if last and last.kind == "hung" else None,
        place=last.place if last else "",
        left=MassLeft(0.0, 0.0) if empty else mass_left(start_g, drawn_g, weighed=weighed is not None),
        drawn_g=drawn_g,
        opened_utc=next((one.at_utc for one in held if one.kind == "opened"), None),
        dried_utc=next((one.at_utc for one in reversed(held) if one.kind == "dried"), None),
        empty=empty,
        entries=tuple(reversed(held)),
        uses=tuple(sorted(uses, key=lambda use: (use.used_utc, use.id), reverse=True)),
    )


def title(spool: Spool) -> str:
    """What a spool is called.

    >>> title(Spool("pla_carbon", datetime(2026, 3, 2), 750.0, label="grey", id=7))
    'spool 7, PLA with carbon fibre grey'
    >>> title(Spool("tpu_95a", datetime(2026, 3, 2), 750.0, label="grey", id=8))
    'spool 8, TPU, 95 Shore A, grey'
    """
    material = material_title(spool.material)
    label = f"{',' * (',' in material)} {spool.label}" if spool.label else ""
    return f"spool {spool.id}, {material}{label}"


def material_title(material: str) -> str:
    """What the catalogue calls a material; its id in words where the catalogue does not know it."""
    known = load_catalogue().materials
    return known[material].title if material in known else material.replace("_", " ")


def spool_enough(store: Reads, machine: str, grams: float, *, spool: int | None = None) -> Enough:
    """Whether the spool that hangs on a machine, or another that is named, can finish a print of so many grams."""
    whose = machine_named(store, machine)
    needed = within("filament", grams, 0, 1e7, "g")
    held = next(
        (one for one in spools(store) if one.spool.id == spool or (spool is None and one.machine == whose)), None
    )
    return lasts(held, whose, needed)


def lasts(
    held: SpoolSheet | None, machine: Machine, needed_g: float, before_g: float = 0.0, *, material: str = ""
) -> Enough:
    """Whether the spool that hangs on a machine, or none that is known, lasts a print of so many grams.

    ``before_g`` is drawn from it before, by what is under way and planned there; ``material`` is what the print wants,
    where that is known.
    """
    if held is None or material not in ("", held.spool.material):
        what = "No spool on record" if held is None else f"{with_capital(held.title)}"
        words = f"{what} hangs on {machine.name}: whether there is filament enough is not known."
        return Enough(machine.name, needed_g, before_g, None, None, None, None, words)
    chance = held.left.enough_frac(before_g + needed_g)
    said, left = verdict(chance), held.left.interval
    after = f" after {before_g:.0f} g for what is printed before it" if before_g >= LEAST_SAID_G else ""
    words = (
        f"{with_capital(held.title)} {_can(said, chance)}: it needs {needed_g:.0f} g{after}, and {left.mid:.0f} g are "
        f"left (eight in ten: {left.low:.0f} to {left.high:.0f} g); chance that it lasts {_chance(chance)}."
    )
    return Enough(machine.name, needed_g, before_g, held.spool, held.left, chance, said, words)


def _can(said: Verdict, chance: float) -> str:
    if said == "enough":
        return "can finish it"
    if said == "doubtful":
        return "may run out before its end, weigh it first"
    return "is likely to run out before its end" if chance >= HOPELESS_FRAC else "cannot finish it"


def _chance(chance: float) -> str:
    if chance > 1 - HOPELESS_FRAC:
        return "over 99%"
    return f"{chance:.0%}" if chance >= HOPELESS_FRAC else "under 1%"
