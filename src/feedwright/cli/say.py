"""What every command shares: its common options, and how it speaks to people and to programs."""

import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from feedwright.errors import BadInput

if TYPE_CHECKING:
    from feedwright.records.store import Store

AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")]
FarmFolder = Annotated[
    Path | None, typer.Option("--farm", help="Folder of the farm; else $FEEDWRIGHT_FARM, else your own.")
]
At = Annotated[str | None, typer.Option("--at", help="When it happened, such as 2026-03-01T14:00; else now.")]
Who = Annotated[str | None, typer.Option("--by", help="Who did it.")]
Note = Annotated[str, typer.Option("--note", help="A note to keep with it.")]
Position = Annotated[int, typer.Option("--position", min=1, help="Which one, where a machine has several.")]


@contextmanager
def farm(folder: Path | None, *, create: bool = False) -> "Iterator[Store]":
    """The open farm for one command."""
    from feedwright.farm.house import farm_folder, open_farm

    with open_farm(farm_folder(folder), create=create) as store:
        yield store


def when(store: "Store", given: str | None) -> datetime | None:
    """A time as typed, in the farm's zone where it names none; None for now."""
    if given is None:
        return None
    try:
        at = datetime.fromisoformat(given)
    except ValueError as error:
        raise BadInput(
            "--at", place=f"“{given}”", expected="expected a date and time", remedy="such as 2026-03-01T14:00"
        ) from error
    if at.tzinfo is None:
        from feedwright.farm.settings import zone

        at = at.replace(tzinfo=zone(store))
    return at


def out(data: Any, lines: Iterable[str], *, as_json: bool) -> None:
    """Print the data as JSON, or else the lines."""
    if as_json:
        from feedwright.farm.plain import plain

        print(json.dumps(plain(data), indent=2, ensure_ascii=False))
        return
    for line in lines:
        print(line)


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """A plain table as lines, as wide as the terminal lets it be."""
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    drawn = Table(*headings, box=SIMPLE_HEAD, pad_edge=False)
    for row in rows:
        drawn.add_row(*row)
    console = Console(highlight=False, markup=False, no_color=True)
    width = console.width if sys.stdout.isatty() else 140
    with console.capture() as held:
        console.print(drawn, width=width)
    yield from (line.rstrip() for line in held.get().splitlines())


def show_time(store: "Store", at_utc: datetime) -> str:
    """A time in the farm's zone."""
    from feedwright.farm.settings import zone

    return at_utc.astimezone(zone(store)).strftime("%Y-%m-%d %H:%M")


def now() -> datetime:
    """The present moment, for a command that looks at the farm as it stands."""
    from feedwright.farm.house import moment

    return moment(None)
