"""``feedwright serve`` and ``feedwright demo``: the pages, and the invented workshop to try them on."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, now, out


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("demo")(demo)
    app.command("serve")(serve)


@contextmanager
def _progress(words: str) -> Iterator[Callable[[float], None]]:
    """A bar on the terminal, or one line where there is none."""
    if not sys.stderr.isatty():
        print(words, file=sys.stderr)
        yield lambda _share: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TimeRemainingColumn

    with Progress(words, BarColumn(), TimeRemainingColumn(), console=Console(stderr=True)) as bar:
        task = bar.add_task(words, total=1.0)
        yield lambda share: bar.update(task, completed=share)


def _make_demo(folder: Path, seed: int) -> None:
    from feedwright.demo.workshop import make_demo

    with _progress("Making the demo farm") as progress:
        make_demo(folder, seed=seed, progress=progress)


def demo(
    seed: Annotated[int, typer.Option("--seed", help="The same seed makes the same farm.")] = 2026,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Make the demo farm: an invented workshop with ten months of prints, findings and renewals."""
    from feedwright.errors import Conflict
    from feedwright.farm.house import demo_folder, has_farm, open_farm

    where = folder or demo_folder()
    if has_farm(where):
        raise Conflict(str(where), expected="there is a farm in this folder already", remedy="name another with --farm")
    _make_demo(where, seed)
    with open_farm(where) as store:
        counts = store.counts()
    said = f"The demo farm is in {where}: {counts['machines']} machines, {counts['runs']} runs."
    out({"folder": str(where), **counts}, [said, f"Open it with: feedwright serve --farm {where}"], as_json=as_json)


def serve(
    host: Annotated[str, typer.Option("--host", help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", help="Port; the next free one where it is taken.")] = 8765,
    with_bench: Annotated[bool, typer.Option("--with-bench", help="Print the bench list first.")] = False,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Serve the pages until Ctrl-C: your farm, or the demo farm where there is none yet."""
    from feedwright.farm.house import demo_folder, farm_folder, has_farm, open_farm

    where = farm_folder(folder)
    if not has_farm(where) and folder is None:
        where = demo_folder()
        print("No farm of your own yet: this is the demo farm, an invented workshop.", file=sys.stderr)
        if not has_farm(where):
            _make_demo(where, 2026)
    if with_bench:
        from feedwright.cli.bench import bench_lines
        from feedwright.farm.bench import bench

        with open_farm(where) as store:
            made = bench(store, now())
        out(made, bench_lines(made), as_json=as_json)
    from feedwright.web.serve import serve_farm

    def ready(address: str) -> None:
        said = f"\nThe pages are at {address}   (Ctrl-C ends)"
        out({"address": address, "farm": str(where)}, [said], as_json=as_json)
        sys.stdout.flush()

    serve_farm(where, host, port, ready)
