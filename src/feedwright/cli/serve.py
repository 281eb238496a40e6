"""``feedwright serve`` and ``feedwright demo``: the pages, and the invented workshop to try them on."""

import contextlib
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.bench import bench_lines
from feedwright.cli.say import AsJson, FarmFolder, farm, now, out, progress
from feedwright.errors import Conflict

if TYPE_CHECKING:
    from feedwright.farm.ground.values import Bench
    from feedwright.records.store import Store
    from feedwright.web.demo_farm import DemoFarm
    from feedwright.web.serve import Listening


OPEN_TO_NETWORK = "Open to your network: whoever reaches this address is asked for the passphrase."
READABLE = "Take care: without --certificate and --key, what is sent can be read on its way, the passphrase too."
THIS_MACHINE, EVERY_ADDRESS = "127.0.0.1", "0.0.0.0"


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("demo")(demo)
    app.command("serve")(serve)


def _make_demo(folder: Path, seed: int | None, *, as_json: bool) -> None:
    from feedwright.demo.workshop import DEFAULT_SEED, make_demo

    if not as_json:
        print("Making the demo farm; this takes about half a minute.", file=sys.stderr)
    with progress("Living ten months", as_json=as_json) as bar:
        make_demo(folder, seed=DEFAULT_SEED if seed is None else seed, progress=bar)


def demo(
    seed: Annotated[int | None, typer.Option("--seed", help="The same seed makes the same farm.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Make the demo farm, an invented workshop.

    It has ten months of prints, findings and renewals. It is made beside your own farm, unless --farm names a folder.
    """
    from feedwright.farm.ground.house import demo_folder, has_farm, open_farm

    where = folder or demo_folder()
    if has_farm(where):
        raise Conflict(
            str(where),
            expected="there is a farm in this folder already",
            remedy=f"open it with `feedwright serve --farm {where}`, or name another folder with --farm",
        )
    _make_demo(where, seed, as_json=as_json)
    with open_farm(where) as store:
        counts = store.counts()
    said = f"The demo farm is in {where}: {counts['machines']} machines, {counts['runs']} runs."
    out({"folder": str(where), **counts}, [said, f"Open it with: feedwright serve --farm {where}"], as_json=as_json)


def serve(
    host: Annotated[
        str | None,
        typer.Option("--host", help="Address to listen on; else this machine's alone, or all where access is open."),
    ] = None,
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="Port; the next free one where it is taken, 0 for any.")
    ] = 8765,
    certificate: Annotated[Path | None, typer.Option("--certificate", help="Certificate for https, PEM.")] = None,
    key: Annotated[Path | None, typer.Option("--key", help="Its private key, PEM.")] = None,
    with_bench: Annotated[bool, typer.Option("--with-bench", help="Print the bench list first.")] = False,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Serve the pages until Ctrl-C.

    Those of your farm, or of the demo farm where you have none yet.
    """
    where, own = _farm_to_serve(folder, as_json=as_json)
    with farm(where) as store:  # refuses what is no farm before anything listens
        listening = _where_to_listen(store, host, port, certificate, key)
        made = _bench(store) if with_bench else None
    if made is not None and not as_json:
        out(made, bench_lines(made), as_json=False)
    from feedwright.web.serve import is_loopback, serve_farm

    if not is_loopback(listening.host):
        print(OPEN_TO_NETWORK, *([] if certificate else [READABLE]), sep="\n", file=sys.stderr)

    def ready(address: str) -> None:
        said = f"\nThe pages are at {address}   (Ctrl-C ends)"
        data = {"address": address, "farm": str(where)} | ({"bench": made} if made is not None else {})
        out(data, [said], as_json=as_json)
        sys.stdout.flush()

    from feedwright.link.alongside import Alongside

    with contextlib.suppress(KeyboardInterrupt), Alongside(own or where):
        serve_farm(where, listening, ready, own_folder=own, demo=_demo_beside(folder))


def _demo_beside(folder: Path | None) -> "DemoFarm":
    """The demo farm that the pages may show: beside a farm that was named, else the usual one."""
    from feedwright.farm.ground.house import demo_folder
    from feedwright.web.demo_farm import DemoFarm

    def make(where: Path, told: Callable[[float, float], None]) -> None:
        from feedwright.demo.workshop import make_demo

        make_demo(where, progress=told)

    beside = folder.resolve().with_name(f"{folder.resolve().name}-demo") if folder is not None else demo_folder()
    return DemoFarm(beside, make)


def _where_to_listen(
    store: "Store", host: str | None, port: int, certificate: Path | None, key: Path | None
) -> "Listening":
    """Where to listen: beyond this machine only where access is open, which a passphrase then guards."""
    from feedwright.farm.access.access import access, is_open, refuse_unguarded
    from feedwright.web.serve import Listening, is_loopback

    chosen = host or (EVERY_ADDRESS if is_open(store) else THIS_MACHINE)
    if not is_loopback(chosen):
        refuse_unguarded(store)
    return Listening(chosen, port, frozenset(access(store).names), certificate, key)


def _farm_to_serve(folder: Path | None, *, as_json: bool) -> tuple[Path, Path | None]:
    """The farm to serve; and, where that is the demo's, where an own one may be begun from its pages."""
    from feedwright.farm.ground.house import demo_folder, farm_folder, has_farm

    own = farm_folder(folder)
    if has_farm(own) or folder is not None:
        return own, None
    where = demo_folder()
    print("No farm of your own yet: this is the demo farm, an invented workshop.", file=sys.stderr)
    if not has_farm(where):
        try:
            _make_demo(where, None, as_json=as_json)
        except Conflict:
            if not has_farm(where):  # else it was started twice, and the other was quicker
                raise
    return where, own


def _bench(store: "Store") -> "Bench":
    from feedwright.farm.outlook.bench import bench

    return bench(store, now())
