"""The way in: every command, and the one place where a refusal is put into words for the terminal."""

import json
import os
import sys

import typer

from feedwright import __version__
from feedwright.cli import bench, books, catalogue, events, findings, machines, runs, serve, toolpaths
from feedwright.errors import FeedwrightError

app = typer.Typer(
    name="feedwright",
    help="Keeps filament printers feeding: what each fitted part has been through, what to service now, and why.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(wanted: bool) -> None:
    if wanted:
        print(f"feedwright {__version__}")
        raise typer.Exit


@app.callback()
def _everything(
    version: bool = typer.Option(False, "--version", callback=_version, is_eager=True, help="Print the version."),
) -> None:
    pass


for room in (bench, toolpaths, machines, runs, findings, events, books, catalogue, serve):
    room.register(app)


def main() -> None:
    """Run a command; refusals end with code 2 and a plain sentence, never with a traceback."""
    try:
        app()
    except FeedwrightError as refusal:
        _refuse(refusal)
        sys.exit(2)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except KeyboardInterrupt:
        sys.exit(130)
    except Exception as error:
        if os.environ.get("FEEDWRIGHT_DEBUG"):
            raise
        print(
            f"feedwright: something went wrong that should not ({type(error).__name__}: {error}). "
            "Nothing was half recorded. Please report it with what FEEDWRIGHT_DEBUG=1 prints.",
            file=sys.stderr,
        )
        sys.exit(1)


def _refuse(refusal: FeedwrightError) -> None:
    if "--json" in sys.argv:
        print(json.dumps(refusal.as_dict(), ensure_ascii=False), file=sys.stderr)
        return
    where = f"{refusal.subject} ({refusal.place})" if refusal.place else refusal.subject
    print(f"feedwright: {where}: {refusal.expected}", file=sys.stderr)
    if refusal.remedy:
        print(f"  what to do: {refusal.remedy}", file=sys.stderr)


if __name__ == "__main__":
    main()
