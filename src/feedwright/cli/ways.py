"""``feedwright watch``, ``listen``, ``arrival`` and ``notices``: the ways in and out that stay at work."""

import contextlib
import json
import os
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from feedwright.cli.say import AsJson, FarmFolder, Who, farm, out, show_time, table
from feedwright.errors import BadInput, Conflict

if TYPE_CHECKING:
    from feedwright.farm.exchange.ways import Broker

arrival = typer.Typer(
    help="Files that came into the watched folder.", no_args_is_help=True, rich_markup_mode=None
)  # fmt: skip
notices = typer.Typer(help="Notices to whoever keeps the machines.", no_args_is_help=True, rich_markup_mode=None)
PASSWORD_VARIABLE = "FEEDWRIGHT_BROKER_PASSWORD"
Set = Annotated[bool, typer.Option("--set", help="Only set it down, for `serve` to do from now on.")]
Off = Annotated[bool, typer.Option("--off", help="Have `serve` do it no more.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("watch")(watch)
    app.command("listen")(listen)
    app.add_typer(arrival, name="arrival")
    app.add_typer(notices, name="notices")


def watch(
    watched: Annotated[Path | None, typer.Argument(metavar="FOLDER", help="Folder where toolpaths are saved.")] = None,
    keep: Set = False,
    off: Off = False,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Read each toolpath that is saved in a folder, until Ctrl-C.

    With --json one line for each file. Without a folder it is the one that was set down with --set.
    """
    from feedwright.farm.toolpaths.arrivals import checked_folder, set_watched_folder, watched_folder

    with farm(folder) as store:
        if off or keep:
            if keep and watched is None:
                raise BadInput("FOLDER", expected="expected the folder to watch", remedy="name it")
            path = set_watched_folder(store, "" if off else str(watched))
            said = f"`serve` watches {path} from now on." if path else "`serve` watches no folder any more."
            out({"watch_folder": str(path) if path else None}, [said], as_json=as_json)
            return
        path = checked_folder(store, watched) if watched else watched_folder(store)
        where = store.folder
    if path is None:
        raise BadInput("FOLDER", expected="no folder is named and none is set down", remedy="name the folder to watch")
    _watch(where, path, as_json=as_json)


def _watch(where: Path, path: Path, *, as_json: bool) -> None:
    from feedwright.farm.ground.house import open_farm
    from feedwright.link.watch import watch as watch_folder
    from feedwright.records.exchange_values import Arrival

    def tell(one: Arrival) -> None:
        said = f"{one.name}: refused, {one.refused}" if one.refused else f"{one.name}: read, it waits for an answer"
        _tell_line(one, said, as_json=as_json)

    print(f"Watching {path}   (Ctrl-C ends)", file=sys.stderr)
    _until_ended(lambda stop: watch_folder(lambda: open_farm(where), path, stop, tell=tell))


def _tell_line(data: Any, said: str, *, as_json: bool) -> None:
    """One line as it comes: of JSON for a program that reads along, else of words."""
    from feedwright.farm.ground.plain import plain

    print(json.dumps(plain(data), ensure_ascii=False) if as_json else said, flush=True)


def _until_ended(work: Callable[[threading.Event], None]) -> None:
    """Work in a thread until it ends or Ctrl-C is pressed; then let it end cleanly."""
    stop = threading.Event()
    thread = threading.Thread(target=work, args=(stop,), daemon=True)
    thread.start()
    with contextlib.suppress(KeyboardInterrupt):
        while thread.is_alive():
            thread.join(0.5)
    stop.set()
    thread.join(10)


def listen(
    host: Annotated[
        str | None, typer.Option("--broker", help="Host of the MQTT broker, or HOST:PORT; else the one set down.")
    ] = None,
    user: Annotated[str, typer.Option("--user", help="User at the broker.")] = "",
    password_file: Annotated[
        Path | None, typer.Option("--password-file", help=f"File with the password; else ${PASSWORD_VARIABLE}.")
    ] = None,
    tls: Annotated[bool, typer.Option("--tls", help="Encrypt, and check the broker's certificate.")] = False,
    ca_file: Annotated[Path | None, typer.Option("--ca-file", help="Certificates to trust, PEM.")] = None,
    prefix: Annotated[str, typer.Option("--prefix", help="First part of every topic.")] = "feedwright",
    keep: Set = False,
    off: Off = False,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Record what machines report over MQTT, until Ctrl-C.

    With --json one line for each report. docs/mqtt.md describes topics and payloads.
    """
    from feedwright.farm.exchange.ways import broker, broker_password, checked_broker, listening, set_broker
    from feedwright.farm.ground.house import open_farm

    with farm(folder) as store:
        if off:
            set_broker(store, None)
            out({"broker": None}, ["`serve` listens to no broker any more."], as_json=as_json)
            return
        password = _password(password_file)
        wanted = broker(store)
        if host is not None:
            wanted = checked_broker(_broker(host, user, ca_file, prefix, tls=tls), held=wanted)
        if wanted is None:
            raise BadInput("--broker", expected="no broker is named and none is set down", remedy="name its host")
        if keep:
            set_broker(store, wanted, password=password)
            said = f"`serve` listens to {wanted.host}:{wanted.port} from now on."
            out({"broker": wanted}, [said], as_json=as_json)
            return
        state = listening(store)
        if state is not None and state.alive:
            remedy = "end that first, or let it go on"
            raise Conflict("listen", place=state.broker, expected="another program listens already", remedy=remedy)
        password, where = password if password is not None else broker_password(store), store.folder
    from feedwright.link.listen import listen as listen_to

    print(f"Listening to {wanted.host}:{wanted.port}   (Ctrl-C ends)", file=sys.stderr)
    tell = _told(as_json=as_json)
    _until_ended(lambda stop: listen_to(lambda: open_farm(where), wanted, password, stop, tell=tell))


def _told(*, as_json: bool) -> Callable[[str], None]:
    return lambda said: _tell_line({"report": said}, said, as_json=as_json)


def _broker(host: str, user: str, ca_file: Path | None, prefix: str, *, tls: bool) -> "Broker":
    from feedwright.farm.exchange.ways import PORT, PORT_TLS, Broker

    name, found, port = host.rpartition(":")
    if found and not (port.isascii() and port.isdigit()):
        raise BadInput("--broker", place=f"“{host}”", expected="expected HOST or HOST:PORT", remedy="correct it")
    number = int(port) if found else (PORT_TLS if tls else PORT)
    return Broker(name if found else host, number, user, tls, str(ca_file) if ca_file else "", prefix)


def _password(file: Path | None) -> str | None:
    if file is not None:
        try:
            return file.read_text(encoding="utf-8").rstrip("\r\n")
        except UnicodeDecodeError as error:
            raise BadInput(str(file), expected="expected a password in UTF-8", remedy="save it as text") from error
    return os.environ.get(PASSWORD_VARIABLE)


@arrival.command("list")
def list_arrivals(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """What waits for an answer, and what was refused."""
    from feedwright.farm.toolpaths.arrivals import arrivals

    with farm(folder) as store:
        held = arrivals(store)
        rows = [
            (
                str(one.id),
                show_time(store, one.seen_utc),
                one.name,
                f"refused: {one.refused}" if one.refused else "waits",
            )
            for one in (*(offer.arrival for offer in held.offers), *held.refused)
        ]
    out(held, table(("file", "came", "name", "state"), rows), as_json=as_json)


@arrival.command("answer")
def answer(
    number: Annotated[int, typer.Argument(help="Number of the file, as the list shows it.")],
    what: Annotated[str, typer.Argument(help="printed, under_way or put_aside.")],
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Say what became of a file.

    Logging a run of it, or beginning its print, says so by itself.
    """
    from feedwright.farm.toolpaths.arrivals import answer_arrival

    with farm(folder) as store:
        said = answer_arrival(store, number, what, person=who)  # type: ignore[arg-type]
    out(said, [f"File {number} is {said.answer.replace('_', ' ')}."], as_json=as_json)


@notices.command("show")
def show_notices(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """How notices go out, and the latest of them."""
    from feedwright.farm.exchange.notices import last_sending, notice_settings

    with farm(folder) as store:
        settings, lines = notice_settings(store), store.ways.notices(20)
        rows = [
            (show_time(store, one.arose_utc), one.title, show_time(store, one.sent_utc) if one.sent_utc else "not sent",
             "over" if one.cleared_utc else "holds")
            for one in lines
        ]  # fmt: skip
        last = last_sending(store)
    data = {"settings": settings, "notices": lines, "last_sending": last}
    out(data, [*_notice_lines(settings), *(table(("arose", "what", "sent", "state"), rows) if rows else ())],
        as_json=as_json)  # fmt: skip


def _notice_lines(settings: Any) -> Iterator[str]:
    yield f"Notices are {'on' if settings.on else 'off'}: {', '.join(settings.kinds) or 'of nothing'}."
    if settings.quiet_from:
        yield f"Quiet from {settings.quiet_from} until {settings.quiet_until}."
    yield from (f"  to {address}" for address in settings.addresses)


@notices.command("set")
def set_notices(
    on: Annotated[bool | None, typer.Option("--on/--off", help="Send notices, or not.", show_default=False)] = None,
    kind: Annotated[
        list[str] | None, typer.Option("--kind", help="Of what: fan, heat, part, stores, print; give it several times.")
    ] = None,
    quiet: Annotated[
        str | None, typer.Option("--quiet", help="Hours without notices, such as 22:00-07:00; empty for none.")
    ] = None,
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Change how notices go out; what is left out stays."""
    from feedwright.farm.exchange import notices as room

    begin, end = (None, None) if quiet is None else (quiet.partition("-")[0], quiet.partition("-")[2])
    with farm(folder) as store:
        settings = room.set_notices(store, on=on, kinds=kind or None, quiet_from=begin, quiet_until=end, person=who)
    out(settings, _notice_lines(settings), as_json=as_json)


@notices.command("add")
def add_address(
    address: Annotated[
        str, typer.Argument(help="Address as docs/exchange.md describes it; - reads it from standard input.")
    ],
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Send notices to one more address. It is a secret: it is never shown whole again."""
    from feedwright.farm.exchange import notices as room
    from feedwright.link.notify import check

    given = sys.stdin.readline().strip() if address == "-" else address
    check(given)
    with farm(folder) as store:
        shown = room.add_address(store, given)
    out({"address": shown}, [f"Notices go to {shown} too."], as_json=as_json)


@notices.command("remove")
def remove_address(
    mark: Annotated[str, typer.Argument(help="The address as it is shown, or the mark in it.")],
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Send no more notices to an address, and forget it."""
    from feedwright.farm.exchange import notices as room

    with farm(folder) as store:
        room.remove_address(store, mark)
    out({"removed": mark}, ["It is forgotten."], as_json=as_json)


@notices.command("test")
def send_a_test(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Send a test to every address, now. Ends with code 2 where it did not arrive at one."""
    from feedwright.link.notify import send_test

    with farm(folder) as store:
        arrived = send_test(store)
    lines = (f"{address}: {'arrived' if done else 'did not arrive'}" for address, done in arrived.items())
    out(arrived, lines, as_json=as_json)
    if not all(arrived.values()):
        raise typer.Exit(2)
