"""``feedwright access``: who may reach the farm over the network, with which passphrase and which devices."""

import sys
from typing import Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, Limit, Who, farm, out, show_time, table
from feedwright.errors import BadInput

access = typer.Typer(help="Who may reach the farm over the network.", no_args_is_help=True, rich_markup_mode=None)
device = typer.Typer(help="Devices with a token of their own.", no_args_is_help=True, rich_markup_mode=None)
access.add_typer(device, name="device")
Number = Annotated[int, typer.Argument(help="Its number in the list.", show_default=False)]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(access, name="access")


@access.command("show")
def show(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """How the farm may be reached, and who is signed in."""
    from feedwright.farm.access.access import access as state_of
    from feedwright.farm.access.sessions import open_sessions

    with farm(folder) as store:
        state, sessions = state_of(store), open_sessions(store)
        since = state.passphrase_set_utc
        lines = [
            "Open to the network, with the passphrase." if state.open else "Closed: only this machine gets in.",
            f"Passphrase set {show_time(store, since)}." if since else "No passphrase is set.",
            *([f"Also asked for as {', '.join(state.names)}."] if state.names else []),
        ]
        rows = [
            (str(one.session.id), one.person, one.session.address, show_time(store, one.session.seen_utc),
             show_time(store, one.lapses_utc), one.session.browser)
            for one in sessions
        ]  # fmt: skip
    if rows:
        lines += table(("session", "person", "from", "last used", "lapses", "browser"), rows)
    out({"access": state, "sessions": sessions}, lines, as_json=as_json)


@access.command("passphrase")
def passphrase(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Set or change the passphrase.

    It is asked for, or read from a pipe. Every session ends: each was let in by the one before.
    """
    from feedwright.farm.access.access import access as state_of
    from feedwright.farm.access.access import set_passphrase

    with farm(folder) as store:
        set_passphrase(store, _asked())
        state = state_of(store)
    out(state, ["The passphrase is set. Let the network in with: feedwright access open"], as_json=as_json)


def _asked() -> str:
    """The passphrase as typed twice without being shown, or the first line of a pipe."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    import getpass

    given = getpass.getpass("Passphrase: ")
    if getpass.getpass("Once more: ") != given:
        raise BadInput("passphrase", expected="the two are not alike", remedy="type it again")
    return given


@access.command("open")
def open_(
    name: Annotated[
        list[str] | None, typer.Option("--name", help="A name to be asked for by, such as a proxy's; repeatable.")
    ] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Let the local network reach the farm; it needs a passphrase.

    `feedwright serve` listens on every address from its next start on.
    """
    from feedwright.farm.access.access import open_to_network

    with farm(folder) as store:
        state = open_to_network(store, name or [])
    out(state, ["The farm is open to the network. Start its pages anew with: feedwright serve"], as_json=as_json)


@access.command("close")
def close(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Shut the network out at once and end every session."""
    from feedwright.farm.access.access import close_to_network

    with farm(folder) as store:
        state = close_to_network(store)
    out(state, ["The farm is closed to the network, and every session has ended."], as_json=as_json)


@access.command("sign-out")
def sign_out_(
    session: Annotated[int | None, typer.Argument(help="Its number; else every session.", show_default=False)] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """End one session, or all of them."""
    from feedwright.farm.access.sessions import sign_out, sign_out_everywhere

    with farm(folder) as store:
        if session is None:
            many = sign_out_everywhere(store)
        else:
            sign_out(store, session)
            many = 1
    out({"ended": many}, [f"{many} session{'' if many == 1 else 's'} ended."], as_json=as_json)


@access.command("log")
def log(limit: Limit = 30, as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """What happened at the door, latest first.

    Sign-ins and failures, devices made and revoked, access opened and closed.
    """
    from feedwright.farm.access.access_log import log_lines

    with farm(folder) as store:
        found = log_lines(store, limit)
        rows = [
            (show_time(store, line.entry.at_utc), line.entry.kind.replace("_", " "), line.entry.address,
             line.device or line.person, line.entry.note)
            for line in found
        ]  # fmt: skip
    out(found, table(("when", "what", "from", "who", "note"), rows), as_json=as_json)


@device.command("add")
def add(
    name: Annotated[str, typer.Argument(help="What you call it.", show_default=False)],
    scope: Annotated[list[str], typer.Option("--scope", help="read, record or manage; repeatable.")],
    who: Who = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Make a token for a device or program and show it, this once.

    With --by, what the device does carries that person's name.
    """
    from feedwright.farm.access.devices import add_device

    with farm(folder) as store:
        made, token = add_device(store, name, scope, person=who)
    data = {"number": made.id, "name": made.name, "scopes": made.scopes.split(), "token": token}
    said = f"Device {made.id} may {made.scopes.replace(' ', ', ')}. Its token, shown this once:"
    out(data, [said, token], as_json=as_json)


@device.command("list")
def list_(as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Devices whose token holds."""
    from feedwright.farm.access.devices import devices

    with farm(folder) as store:
        found = devices(store)
        rows = [
            (str(line.device.id), line.device.name, ", ".join(line.scopes), line.person,
             show_time(store, line.used_utc) if line.used_utc else "never", line.address)
            for line in found
        ]  # fmt: skip
    out(found, table(("device", "name", "may", "whose", "last used", "from"), rows), as_json=as_json)


@device.command("revoke")
def revoke(
    number: Number,
    reason: Annotated[str, typer.Option("--reason", help="Why, such as: lost.")],
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Take a device's token back; from now on it is refused."""
    from feedwright.farm.access.devices import revoke_device

    with farm(folder) as store:
        made = revoke_device(store, number, reason=reason)
    said = f"The token of “{made.name}” is refused from now on."
    out({"number": made.id, "name": made.name}, [said], as_json=as_json)
