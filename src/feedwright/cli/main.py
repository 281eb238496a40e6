"""The way in: every command, and the one place where a refusal is put into words for the terminal."""

import os
import sys
from collections.abc import Sequence

import typer

from feedwright import __version__
from feedwright.cli import (
    access,
    bench,
    books,
    cases,
    catalogue,
    events,
    exchange,
    figures,
    find,
    findings,
    handbook,
    heat,
    labels,
    learn,
    machines,
    outlook,
    prints,
    queue,
    rounds,
    runs,
    serve,
    spools,
    stores,
    toolpaths,
    truing,
    visits,
    ways,
)
from feedwright.cli.refuse import refusal_of_command_line, say_refusal
from feedwright.errors import FeedwrightError, refusal_of_system

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


for room in (
    bench, cases, toolpaths, machines, runs, prints, queue, findings, events, visits, truing, heat, figures, learn,
    outlook, books, catalogue, find, handbook, labels, access,
    stores, spools, rounds, exchange, ways, serve,
):  # fmt: skip
    room.register(app)


def main(argv: Sequence[str] | None = None) -> None:
    """Run a command; refusals end with code 2 and a plain sentence, never with a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a file name or sign that the terminal cannot show is shown escaped
            stream.reconfigure(errors="backslashreplace")
    sys.exit(run(sys.argv[1:] if argv is None else list(argv)))


def run(argv: list[str]) -> int:
    """Run a command and return its exit code: 0 done, 2 refused, 130 broken off, 1 a fault of the program."""
    try:
        code = app(argv, standalone_mode=False, prog_name="feedwright")
        sys.stdout.flush()
    except (FeedwrightError, typer.TyperException, OSError) as error:
        return _refused(error, as_json="--json" in argv)
    except (KeyboardInterrupt, typer.Abort):
        return 130
    except Exception as error:
        if os.environ.get("FEEDWRIGHT_DEBUG"):
            raise
        print(
            f"feedwright: something went wrong that should not ({type(error).__name__}: {error}). "
            "Nothing was half recorded. Please report it with what FEEDWRIGHT_DEBUG=1 prints.",
            file=sys.stderr,
        )
        return 1
    return code if isinstance(code, int) else 0


def _refused(error: Exception, *, as_json: bool) -> int:
    if isinstance(error, BrokenPipeError):
        # whoever read our output has had enough: nothing is left to say, nor to flush when the process ends
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    if isinstance(error, FeedwrightError):
        say_refusal(error, as_json=as_json)
    elif isinstance(error, OSError):
        say_refusal(refusal_of_system(error), as_json=as_json)
    elif type(error).__name__ == "NoArgsIsHelpError":  # a group alone: its help is the answer
        print(error, file=sys.stderr)
    else:
        say_refusal(refusal_of_command_line(error), as_json=as_json)
    return 2


if __name__ == "__main__":
    main()
