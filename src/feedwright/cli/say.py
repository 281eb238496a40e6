"""What every command shares: its common options, and how it speaks to people and to programs."""

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from feedwright.errors import BadInput, StoreError, refusal_of_system

if TYPE_CHECKING:
    from feedwright.records.store import Store

AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for other programs.")]
FarmFolder = Annotated[
    Path | None, typer.Option("--farm", help="Folder of the farm; else $FEEDWRIGHT_FARM, else your own.")
]
At = Annotated[
    str | None,
    typer.Option("--at", help="When, such as 2026-03-01T14:00, in the farm's zone where none is given; else now."),
]
Who = Annotated[str | None, typer.Option("--by", help="Who did it; a person on record.")]
Note = Annotated[str, typer.Option("--note", help="A note to keep with it.")]
PhotoFile = Annotated[Path | None, typer.Option("--photo", help="A photo of it: JPEG, PNG or WebP.")]
Position = Annotated[int, typer.Option("--position", min=1, help="Which one, where a machine has several.")]
OnlyMachine = Annotated[str | None, typer.Option("--machine", help="Only this machine.")]
Limit = Annotated[int, typer.Option("--limit", min=1, help="How many, latest first.")]
WIDTH_OF_FILES = 140
"""Columns of a table that is not printed on a terminal."""


@contextmanager
def farm(folder: Path | None) -> "Iterator[Store]":
    """The open farm for one command."""
    from feedwright.farm.ground.house import farm_folder, has_farm, open_farm

    where = farm_folder(folder)
    if not has_farm(where):
        raise StoreError(
            str(where),
            expected="there is no farm in this folder",
            remedy="begin one with `feedwright machine add NAME BUILD`, make the invented one with `feedwright demo`, "
            "or name the folder with --farm",
        )
    with open_farm(where) as store:
        yield store


def when(store: "Store", given: str | None, option: str = "--at") -> datetime | None:
    """A time as typed, in the farm's zone where it names none; None for now. Refuses what is still to come."""
    if given is None:
        return None
    try:
        at = datetime.fromisoformat(given)
    except ValueError as error:
        raise BadInput(
            option, place=f"“{given}”", expected="expected a date and time", remedy="write it like 2026-03-01T14:00"
        ) from error
    if at.tzinfo is None:
        from feedwright.farm.ground.settings import zone

        at = at.replace(tzinfo=zone(store))
    from feedwright.farm.ground.house import moment

    return moment(at, option)


def photo_of(path: Path | None) -> bytes | None:
    """The bytes of a photo's file; no more of them than a photo may have, and one."""
    if path is None:
        return None
    from feedwright.farm.parts.photos import LONGEST_BYTES

    try:
        with path.open("rb") as file:
            return file.read(LONGEST_BYTES + 1)
    except OSError as error:
        raise refusal_of_system(error) from error


def out(data: Any, lines: Iterable[str], *, as_json: bool) -> None:
    """Print the data as JSON, or else the lines."""
    if as_json:
        from feedwright.farm.ground.plain import plain

        print(json.dumps(plain(data), indent=2, ensure_ascii=False))
        return
    for line in lines:
        print(line)


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    """A plain table as lines, as wide as the terminal lets it be."""
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table

    drawn = Table(*headings, box=SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for row in rows:
        drawn.add_row(*row)
    width = None if sys.stdout.isatty() else WIDTH_OF_FILES
    console = Console(highlight=False, markup=False, emoji=False, no_color=True, width=width)
    with console.capture() as held:
        console.print(drawn)
    yield from (line.rstrip() for line in held.get().splitlines())


@contextmanager
def progress(words: str, *, as_json: bool, in_bytes: bool = False) -> Iterator[Callable[[float, float], None] | None]:
    """A bar on stderr, told what is done and how much there is; None for programs and away from a terminal."""
    if as_json or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, DownloadColumn, Progress, ProgressColumn, TimeRemainingColumn

    amounts = [DownloadColumn()] if in_bytes else []
    columns: list[str | ProgressColumn] = [words, BarColumn(), *amounts, TimeRemainingColumn()]
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def show_time(store: "Store", at_utc: datetime) -> str:
    """A time in the farm's zone."""
    from feedwright.farm.ground.settings import zone

    return at_utc.astimezone(zone(store)).strftime("%Y-%m-%d %H:%M")


def now() -> datetime:
    """The present moment, for a command that looks at the farm as it stands."""
    from feedwright.farm.ground.house import moment

    return moment(None)
