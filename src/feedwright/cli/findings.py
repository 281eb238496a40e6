"""``feedwright finding`` and ``feedwright renew``: what was seen, and what was renewed."""

from typing import Annotated

import typer

from feedwright.cli.say import (
    AsJson,
    At,
    FarmFolder,
    Limit,
    Note,
    OnlyMachine,
    PhotoFile,
    Position,
    Who,
    farm,
    out,
    photo_of,
    show_time,
    table,
    when,
)
from feedwright.errors import BadInput

finding = typer.Typer(help="What was seen of fitted parts.", no_args_is_help=True, rich_markup_mode=None)
Machine = Annotated[str, typer.Argument(help="The machine's name.", show_default=False)]
Part = Annotated[str, typer.Argument(help="The part kind, such as tube_end.", show_default=False)]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(finding, name="finding")
    app.command("renew")(renew)


@finding.command("add")
def add(
    machine: Machine,
    part: Part,
    grade: Annotated[str, typer.Argument(help="A grade of that part; `catalogue show PART` lists them.")] = "",
    reading: Annotated[float | None, typer.Option("--reading", help="A measured number; needs --unit.")] = None,
    unit: Annotated[str, typer.Option("--unit", help="Its unit, such as mm, c (°C), n (N) or ohm.")] = "",
    position: Position = 1,
    photo: PhotoFile = None,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Record the state a part was found in, or a reading of it."""
    from feedwright.farm.parts.findings import add_finding

    with farm(folder) as store:
        made = add_finding(
            store, machine, part, position=position, grade=grade, reading=reading, reading_unit=unit,
            found_utc=when(store, at), note=note, photo=photo_of(photo), person=who,
        )  # fmt: skip
    out(made, [f"Finding {made.id} is on record."], as_json=as_json)


@finding.command("list")
def list_(
    machine: OnlyMachine = None,
    limit: Limit = 30,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Findings, latest first."""
    from feedwright.farm.parts.findings import finding_lines

    with farm(folder) as store:
        found = finding_lines(store, machine, limit)
        rows = [
            (
                str(seen.id),
                show_time(store, seen.found_utc),
                whose.name,
                fitting.part_kind + (f" {fitting.position}" if fitting.position > 1 else ""),
                seen.grade or f"{seen.reading:g} {seen.reading_unit}",
                seen.note,
            )
            for seen, fitting, whose in found
        ]
    out(found, table(("finding", "when", "machine", "part", "found", "note"), rows), as_json=as_json)


def renew(
    machine: Machine,
    part: Part,
    reason: Annotated[str, typer.Option("--reason", help="failed, worn, sound, moved or retired.")] = "worn",
    found: Annotated[str, typer.Option("--found", help="Grade in which the old part was found.")] = "",
    product: Annotated[str | None, typer.Option("--product", help="What was fitted, where it differs.")] = None,
    trim_mm: Annotated[float | None, typer.Option("--trim-mm", help="Tube end: how many mm were cut off.")] = None,
    length_mm: Annotated[
        float | None, typer.Option("--length-mm", help="Guide tube: length of the new one in mm.")
    ] = None,
    minutes: Annotated[float | None, typer.Option("--minutes", help="How many minutes it took.")] = None,
    from_stores: Annotated[
        bool, typer.Option("--from-stores/--not-from-stores", help="Take what it used from the stores.")
    ] = True,
    position: Position = 1,
    at: At = None,
    note: Note = "",
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Record that a part was renewed.

    The old fitting ends, a new one begins at nought.
    """
    from feedwright.catalogue.load import load_catalogue
    from feedwright.farm.parts.renewals import renew as renew_part

    if reason not in ("failed", "worn", "sound", "moved", "retired"):
        raise BadInput(
            "--reason", place=reason, expected="expected failed, worn, sound, moved or retired", remedy="choose one"
        )
    with farm(folder) as store:
        receipt = renew_part(
            store, machine, part, position=position, product=product, reason=reason, grade_found=found,  # type: ignore[arg-type]
            renewed_utc=when(store, at), trimmed_mm=trim_mm, length_mm=length_mm, minutes=minutes, note=note,
            from_stores=from_stores, person=who,
        )  # fmt: skip
    title = load_catalogue().parts[receipt.fitted.part_kind].title.lower()
    said = f"Renewal {receipt.removal.id} is on record: a new {title} ({receipt.fitted.product}) is fitted."
    out(receipt, [said, *receipt.also], as_json=as_json)
