"""Serving the pages until the person ends it."""

import contextlib
import ipaddress
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from feedwright.errors import BadInput

if TYPE_CHECKING:
    from feedwright.web.demo_farm import DemoFarm

TRIES = 20


@dataclass(frozen=True, slots=True)
class Listening:
    """Where to listen, and how: ``certificate`` and ``key`` are PEM files, both or neither."""

    host: str
    port: int
    other_names: frozenset[str] = frozenset()
    """Names beside this machine's own under which the network asks."""
    certificate: Path | None = None
    key: Path | None = None


def serve_farm(
    farm_folder: Path,
    where: Listening,
    on_ready: Callable[[str], None],
    *,
    own_folder: Path | None = None,
    demo: "DemoFarm | None" = None,
) -> None:
    """Serve a farm's pages; ``on_ready`` is told the address once the socket listens. Ctrl-C ends it cleanly.

    ``own_folder`` is where the person may begin an own farm while the demo's is served; ``demo`` is the demo farm that
    may be shown, made and thrown away from the pages. Over the network the gate asks
    everybody to sign in, whatever the address; nobody's headers are believed about where a request comes from.
    """
    import uvicorn

    from feedwright.web.app import OWN_NAMES, create_app
    from feedwright.web.keeper import Keeper

    secured = _secured(where)
    listening = _listen(where.host, where.port)
    app = create_app(
        farm_folder, own_folder=own_folder, hosts=OWN_NAMES | {where.host.lower(), socket.gethostname().lower()},
        any_address=not is_loopback(where.host), other_names=where.other_names, demo=demo,
    )  # fmt: skip
    config = uvicorn.Config(
        app, log_level="warning", timeout_graceful_shutdown=3, proxy_headers=False, server_header=False, **secured
    )
    server = uvicorn.Server(config)
    on_ready(address_of(where.host, listening.getsockname()[1], https=bool(secured)))
    keeper = Keeper(app.state.farms)
    keeper.start()
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])
    keeper.stop()
    listening.close()


def is_loopback(host: str) -> bool:
    """True where only this machine itself can reach the address."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def _secured(where: Listening) -> dict[str, Any]:
    """What the server needs for https; nothing without a certificate."""
    if where.certificate is None and where.key is None:
        return {}
    if where.certificate is None or where.key is None:
        raise BadInput("--certificate and --key", expected="expected both or neither", remedy="name the other file too")
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(where.certificate, where.key, "")
    except (OSError, ssl.SSLError) as error:
        words = error.strerror or str(error)
        remedy = "name a certificate and its key, PEM files without a passphrase"
        raise BadInput("--certificate and --key", expected=words, remedy=remedy) from error
    return {"ssl_certfile": str(where.certificate), "ssl_keyfile": str(where.key)}


def address_of(host: str, port: int, *, https: bool = False) -> str:
    """The address to open; of a wildcard, one under which other machines reach this one."""
    if host in ("0.0.0.0", "::"):
        host = _outward_address() or socket.gethostname()
    scheme = "https" if https else "http"
    return f"{scheme}://[{host}]:{port}/" if ":" in host else f"{scheme}://{host}:{port}/"


def _outward_address() -> str:
    """This machine's address on its network; nothing is sent to find it out."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: an address of nobody
            return str(probe.getsockname()[0])
        except OSError:
            return ""


def _listen(host: str, port: int) -> socket.socket:
    """A listening socket on the port, or on the next free one; port 0 takes any."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    refused = OSError("no port is left")
    for tried in [port] if port == 0 else range(port, min(port + TRIES, 65536)):
        wanted = socket.socket(family, socket.SOCK_STREAM)
        wanted.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            wanted.bind((host, tried))
            wanted.listen(128)
            return wanted
        except OSError as error:
            wanted.close()
            refused = error
    raise BadInput(
        "--host and --port", place=f"{host}:{port}", expected=refused.strerror or str(refused),
        remedy="name an address of this machine and another port",
    )  # fmt: skip
