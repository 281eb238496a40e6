"""Keeping the books: people, figures, voiding, backup."""

from pathlib import Path
from typing import Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, Who, farm, out, show_time, table
from feedwright.errors import BadInput

person = typer.Typer(help="The people who keep the machines.", no_args_is_help=True, rich_markup_mode=None)
figure = typer.Typer(help="The farm's own figures and name.", no_args_is_help=True, rich_markup_mode=None)
WORDS = ("name", "zone", "currency", "measures", "address")


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(person, name="person")
    app.add_typer(figure, name="figure")
    app.command("void")(void)
    app.command("acts")(acts)
    app.command("backup")(backup)
    app.command("restore")(restore)


@person.command("add")
def add_person(
    name: Annotated[str, typer.Argument(help="The person's name.")], as_json: AsJson = False, folder: FarmFolder = None
) -> None:
    """Remember somebody."""
    from feedwright.farm.ground import people

    with farm(folder) as store:
        made = people.add_person(store, name)
    out(made, [f"{made.name} is on record."], as_json=as_json)


@person.command("list")
def list_people(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Everybody."""
    from feedwright.farm.ground import people

    with farm(folder) as store:
        known = people.people(store)
    out(known, (f"{one.id:>4}  {one.name}" for one in known), as_json=as_json)


@figure.command("list")
def list_figures(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Every figure in force, and where it comes from."""
    from feedwright.farm.ground import settings

    with farm(folder) as store:
        held = settings.figures(store)
        words = {
            "name": settings.farm_name(store), "zone": str(settings.zone(store)), "currency": held.currency,
            "measures": settings.measures(store), "address": settings.address(store),
        }  # fmt: skip
    rows = [(name, word, "", "") for name, word in words.items()]
    rows += [(name, f"{one.value:g}", one.source, one.note) for name, one in held.numbers.items()]
    out({**words, "numbers": held.numbers}, table(("figure", "value", "source", "note"), rows), as_json=as_json)


@figure.command("set", context_settings={"ignore_unknown_options": True})  # so that -4 is taken for a value
def set_figure(
    name: Annotated[str, typer.Argument(help="A figure, or name, zone, currency, measures, address.")],
    value: Annotated[str, typer.Argument(help="Its value.")],
    price_ratio: Annotated[
        float | None,
        typer.Option(
            "--price-ratio", help="With a currency: how many of its units one of the catalogue's currency is."
        ),
    ] = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Set one of the farm's own figures."""
    from feedwright.farm.ground import settings

    if price_ratio is not None and name != "currency":
        raise BadInput("--price-ratio", expected="it goes with a currency alone", remedy="leave it out")
    with farm(folder) as store:
        if name == "currency":
            settings.set_currency(store, value, price_ratio=price_ratio, person=who)
        elif name in WORDS:
            write = {
                "name": settings.set_farm_name, "zone": settings.set_zone, "measures": settings.set_measures,
                "address": settings.set_address,
            }[name]  # fmt: skip
            write(store, value, person=who)
        else:
            try:
                number = float(value)
            except ValueError as error:
                raise BadInput(
                    name, place=f"“{value}”", expected="expected a number", remedy="write it like 24.5"
                ) from error
            settings.set_figure(store, name, number, person=who)
    out({"figure": name, "value": value}, [f"{name} is now {value}."], as_json=as_json)


def void(
    what: Annotated[str, typer.Argument(help="run, finding, event, renewal, visit, measurement, value, ...")],
    number: Annotated[int, typer.Argument(help="Its number, as the lists show it.")],
    reason: Annotated[str, typer.Option("--reason", help="Why it was a mistake.")],
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Take back a record that was a mistake.

    It stays, marked void with the reason; what it charged is taken back.
    """
    from feedwright.farm.prints import voids

    with farm(folder) as store:
        said = voids.void(store, what, number, reason, person=who)
    out({"void": what, "id": number, "done": said}, [said], as_json=as_json)


def acts(
    limit: Annotated[int, typer.Option("--limit", min=1, help="How many, latest first.")] = 30,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What was recorded lately, by whom."""
    from feedwright.farm.ground.people import people
    from feedwright.farm.prints.voids import recent_acts

    with farm(folder) as store:
        done = recent_acts(store, limit)
        names = {one.id: one.name for one in people(store)}
        rows = [
            (
                str(line.act.id), show_time(store, line.act.at_utc), line.act.kind, line.voided or line.wrote,
                names.get(line.act.person_id or 0, ""), line.act.reason,
            )
            for line in done
        ]  # fmt: skip
    out(done, table(("act", "when", "what", "which", "by", "reason"), rows), as_json=as_json)


def backup(
    to: Annotated[Path, typer.Argument(help="A new or empty folder.")],
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Copy the whole farm, also while it is in use.

    The copy is proved by opening it and checking it whole.
    """
    from feedwright.farm.ground.backups import backup_farm

    with farm(folder) as store:
        counts = backup_farm(store, to)
    out(counts, [f"The farm is copied to {to}; the copy opens and is whole: {_counted(counts)}."], as_json=as_json)


def restore(
    source: Annotated[Path, typer.Argument(help="The folder of a backup.")],
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Bring a backup back as the farm.

    An existing farm is never written over; --farm names the new folder.
    """
    from feedwright.farm.ground.backups import restore_farm
    from feedwright.farm.ground.house import farm_folder

    to = farm_folder(folder)
    counts = restore_farm(source, to)
    out(counts, [f"The farm is back in {to}: {_counted(counts)}."], as_json=as_json)


def _counted(counts: dict[str, int]) -> str:
    return ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in counts.items() if count and name != "acts")
