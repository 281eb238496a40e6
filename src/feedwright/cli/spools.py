"""``feedwright spool``: spools of filament, where they hang, and what is left on them."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, At, FarmFolder, Note, Who, farm, out, show_time, table, when

if TYPE_CHECKING:
    from feedwright.farm.stores.lots import LotLine
    from feedwright.farm.stores.spools import SpoolSheet
    from feedwright.records.store import Store
    from feedwright.records.stores_values import SpoolEntry

spool = typer.Typer(help="Spools of filament, and what is left on them.", no_args_is_help=True, rich_markup_mode=None)
Number = Annotated[int, typer.Argument(help="The spool's number.", show_default=False)]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(spool, name="spool")


@spool.command("list")
def list_(
    empty: Annotated[bool, typer.Option("--empty", help="Also those that are used up.")] = False,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Every spool: where it is and what is left on it."""
    from feedwright.farm.stores.spools import spools

    with farm(folder) as store:
        held = spools(store, empty=empty)
        rows = [
            (
                str(one.spool.id), one.spool.material, one.spool.label, one.spool.lot, where(one),
                f"{one.left.interval.mid:.0f} ({one.left.interval.low:.0f}-{one.left.interval.high:.0f})",
                show_time(store, one.dried_utc) if one.dried_utc else "",
            )
            for one in held
        ]  # fmt: skip
    out(held, table(("spool", "material", "label", "lot", "where", "left, g", "dried"), rows), as_json=as_json)


def where(one: "SpoolSheet") -> str:
    """Where a spool is, in a word or two."""
    if one.empty:
        return "used up"
    return f"on {one.machine.name}" if one.machine else (one.place or "put away")


def _said(store: "Store", one: "SpoolSheet") -> Iterator[str]:
    from feedwright.farm.ground.naming import with_capital

    left = one.left.interval
    band = f"eight in ten {left.low:.0f} to {left.high:.0f} g"
    yield f"{with_capital(one.title)}: {where(one)}; {left.mid:.0f} g left, {band}."


@spool.command("show")
def show(number: Number, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """One spool: what was done with it and what runs drew from it."""
    from feedwright.farm.stores.spools import spool_sheet

    with farm(folder) as store:
        one = spool_sheet(store, number)
        lines = list(_said(store, one))
        done = [(show_time(store, held.at_utc), str(held.id), held.kind, _detail(held)) for held in one.entries]
        drew = [(show_time(store, use.used_utc), str(use.run_id), f"{use.used_g:.1f}") for use in one.uses[:20]]
        if done:
            lines += table(("when", "entry", "what", "detail"), done)
        if drew:
            lines += table(("when", "run", "drew, g"), drew)
    out(one, lines, as_json=as_json)


def _detail(entry: "SpoolEntry") -> str:
    words = [
        f"{entry.left_g:.0f} g" if entry.left_g is not None else "",
        f"{entry.dry_c:.0f} °C" if entry.dry_c is not None else "",
        f"{entry.dry_h:g} h" if entry.dry_h is not None else "",
        entry.place,
    ]
    return ", ".join(word for word in words if word)


@spool.command("add")
def add(
    material: Annotated[str, typer.Argument(help="Its material, such as pla or petg.", show_default=False)],
    net_g: Annotated[float, typer.Option("--net-g", help="Filament on it in g.")] = 1000.0,
    tare_g: Annotated[float | None, typer.Option("--tare-g", help="Mass of the empty spool in g, where known.")] = None,
    label: Annotated[str, typer.Option("--label", help="Colour, or whatever tells it from its neighbours.")] = "",
    lot: Annotated[str, typer.Option("--lot", help="The maker's lot.")] = "",
    price: Annotated[str | None, typer.Option("--price", help="What it cost.")] = None,
    machine: Annotated[str | None, typer.Option("--machine", help="Hang it on this machine at once.")] = None,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Take a spool on record."""
    from feedwright.farm.stores.spools import add_spool

    with farm(folder) as store:
        made = add_spool(
            store, material, net_g=net_g, tare_g=tare_g, label=label, lot=lot, price_paid=price, machine=machine,
            note=note, at_utc=when(store, at), person=who,
        )  # fmt: skip
        lines = list(_said(store, made))
    out(made, lines, as_json=as_json)


@spool.command("hang")
def hang(
    number: Number,
    machine: Annotated[str, typer.Argument(help="The machine's name.", show_default=False)],
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Hang a spool on a machine; the one that hung there is put away."""
    from feedwright.farm.stores.spools import hang_spool

    with farm(folder) as store:
        made = hang_spool(store, number, machine, at_utc=when(store, at), note=note, person=who)
        lines = list(_said(store, made))
    out(made, lines, as_json=as_json)


@spool.command("shelve")
def shelve(
    number: Number,
    place: Annotated[str, typer.Argument(help="Where: a shelf, a dry box.")] = "",
    at: At = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Put a spool away."""
    from feedwright.farm.stores.spools import shelve_spool

    with farm(folder) as store:
        made = shelve_spool(store, number, place, at_utc=when(store, at), person=who)
        lines = list(_said(store, made))
    out(made, lines, as_json=as_json)


@spool.command("weigh")
def weigh(
    number: Number,
    gross_g: Annotated[float | None, typer.Option("--gross-g", help="Mass with the spool, in g.")] = None,
    left_g: Annotated[float | None, typer.Option("--left-g", help="Filament alone, in g.")] = None,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Record what the scale said: it holds from now on."""
    from feedwright.farm.stores.spools import weigh_spool

    with farm(folder) as store:
        made = weigh_spool(store, number, gross_g=gross_g, left_g=left_g, at_utc=when(store, at), note=note, person=who)
        lines = list(_said(store, made))
    out(made, lines, as_json=as_json)


@spool.command("dry")
def dry(
    number: Number,
    dry_c: Annotated[float | None, typer.Option("--dry-c", help="At so many °C.")] = None,
    dry_h: Annotated[float | None, typer.Option("--dry-h", help="For so many hours.")] = None,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Record that a spool was dried."""
    from feedwright.farm.stores.spools import dry_spool

    with farm(folder) as store:
        made = dry_spool(store, number, dry_c=dry_c, dry_h=dry_h, at_utc=when(store, at), note=note, person=who)
        lines = list(_said(store, made))
    out(made, lines, as_json=as_json)


@spool.command("open")
def open_(number: Number, at: At = None, who: Who = None, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Record that its bag was opened; hanging it does so too."""
    from feedwright.farm.stores.spools import open_spool

    with farm(folder) as store:
        made = open_spool(store, number, at_utc=when(store, at), person=who)
        lines = list(_said(store, made))
    out(made, lines, as_json=as_json)


@spool.command("empty")
def empty_(number: Number, at: At = None, who: Who = None, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Record that a spool is used up or thrown away."""
    from feedwright.farm.stores.spools import empty_spool

    with farm(folder) as store:
        made = empty_spool(store, number, at_utc=when(store, at), person=who)
        lines = list(_said(store, made))
    out(made, lines, as_json=as_json)


@spool.command("enough")
def enough(
    machine: Annotated[str, typer.Argument(help="The machine's name.", show_default=False)],
    grams: Annotated[float, typer.Argument(help="Filament that the print needs, in g.", show_default=False)],
    number: Annotated[int | None, typer.Option("--spool", help="Ask of this spool, else the one that hangs.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Whether the spool that hangs on a machine can finish a print."""
    from feedwright.farm.stores.spools import spool_enough

    with farm(folder) as store:
        found = spool_enough(store, machine, grams, spool=number)
    out(found, [found.words], as_json=as_json)


@spool.command("lots")
def lots_(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """How often runs of each lot go wrong.

    Set against other lots of the material on the same machines.
    """
    from feedwright.farm.stores.lots import lots

    with farm(folder) as store:
        found = lots(store)
    out(found, _lot_lines(found), as_json=as_json)


def _lot_lines(found: "list[LotLine]") -> Iterator[str]:
    if not found:
        yield "No run was drawn from a spool whose lot is known."
        return
    rows = [
        (
            one.material, one.lot, f"{one.verdict.own.wrong} of {one.verdict.own.runs}",
            f"{one.verdict.own_share_frac.low:.0%}-{one.verdict.own_share_frac.high:.0%}",
            f"{one.verdict.others.wrong} of {one.verdict.others.runs}", f"{one.verdict.over_all_lots_frac:.3f}",
            "look at it" if one.verdict.suspect else "",
        )
        for one in found
    ]  # fmt: skip
    yield from table(("material", "lot", "went wrong", "8 in 10", "other lots", "by chance", ""), rows)
    for one in found:
        if one.verdict.suspect:
            yield f"{one.material} lot {one.lot}: " + " ".join(one.verdict.because)
