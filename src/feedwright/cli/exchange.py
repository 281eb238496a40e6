"""``feedwright csv``, ``export`` and ``import``: whole files in and out."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from feedwright.cli.say import AsJson, FarmFolder, Who, farm, out, progress, table
from feedwright.errors import BadInput

if TYPE_CHECKING:
    from feedwright.farm.exchange.csv_columns import Reading
    from feedwright.farm.exchange.csv_in import Look
    from feedwright.farm.ground.csv_text import Writing
    from feedwright.records.store import Store

csv = typer.Typer(help="CSV files in and out.", no_args_is_help=True, rich_markup_mode=None)
File = Annotated[Path, typer.Argument(help="The CSV file.")]
Kind = Annotated[
    str, typer.Option("--kind", help="machines, runs, renewals, findings, events or stores; else by its headings.")
]
Separator = Annotated[str, typer.Option("--separator", help="comma, semicolon, tab or bar; else as it looks.")]
Decimal = Annotated[str, typer.Option("--decimal", help="comma or point; else as it looks.")]
Dates = Annotated[str, typer.Option("--dates", help="iso, day_month_year or month_day_year; else as it looks.")]
Column = Annotated[
    list[str] | None, typer.Option("--column", help="COLUMN=HEADING where the headings do not say it; several times.")
]
Units = Annotated[list[str] | None, typer.Option("--unit", help="COLUMN=UNIT, such as hours=min; several times.")]
Fixed = Annotated[list[str] | None, typer.Option("--fixed", help="COLUMN=VALUE for every row; several times.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(csv, name="csv")
    app.command("export")(export)
    app.command("import")(import_)


@csv.command("list")
def list_(as_json: AsJson = False) -> None:
    """The lists that can be had, and which of them can be taken in again."""
    from feedwright.farm.exchange.csv_out import lists

    held = lists()
    rows = [(one.name, one.title, "out and in" if one.can_come_in else "out") for one in held]
    out(held, table(("list", "what it holds", "ways"), rows), as_json=as_json)


@csv.command("out")
def write(
    name: Annotated[str, typer.Argument(help="A list, as `feedwright csv list` names them; or all.")],
    to: Annotated[
        Path | None, typer.Option("--to", help="File to write, or a new folder for all; else standard output.")
    ] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Write a list as CSV; with --json say what was written."""
    from feedwright.farm.exchange.csv_out import csv_lines, lists

    with farm(folder) as store:
        if name == "all":
            if to is None or to.exists():
                raise BadInput("--to", expected="expected a new folder for all lists", remedy="name one")
            names = [one.name for one in lists()]
            with progress("Writing", as_json=as_json) as bar:
                to.mkdir(parents=True)
                for done, one in enumerate(names):
                    _write(store, one, to / f"{one}.csv")
                    if bar is not None:
                        bar(done + 1, len(names))
            out({"files": [f"{one}.csv" for one in names], "folder": str(to)}, [f"{len(names)} files are in {to}."],
                as_json=as_json)  # fmt: skip
        elif to is None:
            sys.stdout.writelines(line.replace("\r\n", "\n") for line in csv_lines(store, name))
        else:
            count = _write(store, name, to)
            out({"file": str(to), "rows": count}, [f"{count} rows are in {to}."], as_json=as_json)


def _write(store: "Store", name: str, to: Path) -> int:
    """Write a list into a new file; returns its rows. UTF-8 with its mark, by which spreadsheets know it."""
    from feedwright.farm.exchange.csv_out import csv_lines

    if to.exists():
        raise BadInput(str(to), expected="there is such a file already", remedy="name another")
    lines = csv_lines(store, name)
    count = -1
    with to.open("w", encoding="utf-8-sig", newline="") as file:
        for line in lines:
            file.write(line)
            count += 1
    return count


@csv.command("look")
def look(
    file: File, kind: Kind = "", separator: Separator = "", decimal: Decimal = "", dates: Dates = "",
    column: Column = None, unit: Units = None, fixed: Fixed = None, as_json: AsJson = False, folder: FarmFolder = None,
) -> None:  # fmt: skip
    """See how a file would be taken; nothing is recorded."""
    from feedwright.farm.exchange.csv_in import look_at

    with farm(folder) as store:
        content = file.read_bytes()
        writing, reading = _as_told(content, file.name, kind, (separator, decimal, dates), column, unit, fixed)
        made = look_at(store, content, file.name, writing=writing, reading=reading)
    out(made, _look_lines(made), as_json=as_json)


def _look_lines(made: "Look") -> Iterator[str]:
    writing, reading = made.writing, made.reading
    yield f"{made.rows} rows of {reading.kind}; {writing.separator} between cells, " + (
        f"decimal {'comma' if writing.decimal_comma else 'point'}, dates {writing.date_format}, {writing.encoding}."
    )
    rows = [(name, heading, reading.units.get(name, "")) for name, heading in reading.headings.items()]
    rows += [(name, f"“{value}” for every row", reading.units.get(name, "")) for name, value in reading.fixed.items()]
    yield from table(("column", "is taken from", "unit"), rows)
    for name in made.missing:
        yield f"missing: {name}; say which heading it is with --column {name}=HEADING, or --fixed {name}=VALUE"
    for fault in made.faults:
        yield f"row {fault.line}, column “{fault.column}”: “{fault.given:.40}”: {fault.expected}"
    if made.refused:
        yield f"refused: {made.refused}"
    if made.new or made.known:
        yield f"{made.new} rows would be recorded; {made.known} are on record already."


@csv.command("in")
def take(
    file: File, kind: Kind = "", separator: Separator = "", decimal: Decimal = "", dates: Dates = "",
    column: Column = None, unit: Units = None, fixed: Fixed = None, who: Who = None, as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:  # fmt: skip
    """Record every row of a file, all of them or none.

    Rows that are on record already are left out.
    """
    from feedwright.farm.exchange.csv_in import take_in

    with farm(folder) as store:
        content = file.read_bytes()
        writing, reading = _as_told(content, file.name, kind, (separator, decimal, dates), column, unit, fixed)
        taken = take_in(store, content, file.name, writing=writing, reading=reading, person=who)
    known = f"; {taken.known} were on record already" if taken.known else ""
    out(taken, [f"{taken.new} rows of {taken.kind} are recorded{known}."], as_json=as_json)


def _as_told(
    content: bytes, name: str, kind: str, writing: tuple[str, str, str], column: list[str] | None,
    unit: list[str] | None, fixed: list[str] | None,
) -> "tuple[Writing, Reading]":  # fmt: skip
    """How the file is read: by the guess, with what was said instead."""
    from dataclasses import replace

    from feedwright.farm.exchange.csv_columns import KINDS, guessed_kind, guessed_reading
    from feedwright.farm.ground.csv_text import DATE_FORMATS, SEPARATORS, decoded, guessed, read_sheet
    from feedwright.farm.ground.naming import one_of

    if kind:
        one_of("--kind", kind, list(KINDS))

    separator, decimal, dates = writing
    text, encoding = decoded(content, name)
    told = guessed(text, encoding)
    if separator:
        told = replace(told, separator=one_of("--separator", separator, list(SEPARATORS)))
    if decimal:
        told = replace(told, decimal_comma=one_of("--decimal", decimal, ["comma", "point"]) == "comma")
    if dates:
        told = replace(told, date_format=one_of("--dates", dates, list(DATE_FORMATS)))
    seen = read_sheet(text, told, name).headings
    guess = guessed_reading(kind or guessed_kind(seen), seen)
    headings = {**guess.headings, **_pairs("--column", column)}
    constants = _pairs("--fixed", fixed)
    headings = {name: heading for name, heading in headings.items() if heading and name not in constants}
    units = {**guess.units, **_pairs("--unit", unit)}
    return told, replace(guess, headings=headings, units=units, fixed=constants)


def _pairs(option: str, given: list[str] | None) -> dict[str, str]:
    pairs = [one.partition("=") for one in given or ()]
    for name, found, _ in pairs:
        if not found or not name:
            raise BadInput(option, place=f"“{name}”", expected="expected COLUMN=…", remedy="such as hours=min")
    return {name.strip(): value.strip() for name, _, value in pairs}


def export(
    to: Annotated[Path, typer.Argument(help="The archive to write, a new file that ends with .zip.")],
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Write the whole farm into one archive.

    It may be in use meanwhile. docs/archive.md describes it. Secrets, devices and sign-ins stay behind.
    """
    from feedwright.farm.exchange.archives import export_farm

    with farm(folder) as store, progress("Writing", as_json=as_json) as bar:
        sheet = export_farm(store, to, progress=bar)
    out(sheet, [f"The farm is in {to}: {_counted(sheet)}."], as_json=as_json)


def import_(
    source: Annotated[Path, typer.Argument(help="An archive that `export` wrote.")],
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Bring an archive back as a farm.

    Every total is counted again and must come out the same. An existing farm is never written over; --farm names the
    new folder.
    """
    from feedwright.farm.exchange.archives import import_farm
    from feedwright.farm.ground.house import farm_folder

    to = farm_folder(folder)
    with progress("Reading", as_json=as_json) as bar:
        sheet = import_farm(source, to, progress=bar)
    said = f"The farm is in {to}: {_counted(sheet)}; {sheet.recounted} totals were counted again and are the same."
    out(sheet, [said], as_json=as_json)


def _counted(sheet: Any) -> str:
    rows = (f"{count} {name.replace('_', ' ')}" for name, count in sheet.rows.items() if name != "acts")
    return ", ".join([*rows, f"{sheet.files} files"])
