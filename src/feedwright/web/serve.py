"""Serving the pages until the person ends it."""

import contextlib
import ipaddress
import socket
from collections.abc import Callable
from pathlib import Path

from feedwright.errors import BadInput

TRIES = 20


def serve_farm(
    farm_folder: Path, host: str, port: int, on_ready: Callable[[str], None], *, own_folder: Path | None = None
) -> None:
    """Serve a farm's pages; ``on_ready`` is told the address once the socket listens. Ctrl-C ends it cleanly.

    ``own_folder`` is where the person may begin an own farm while the demo's is served. On an address that is not this
    machine's alone, whoever reaches it may read and write: there is no sign-in.
    """
    import uvicorn

    from feedwright.web.app import OWN_NAMES, create_app

    listening = _listen(host, port)
    app = create_app(
        farm_folder, own_folder=own_folder, hosts=OWN_NAMES | {host.lower(), socket.gethostname().lower()},
        any_address=not is_loopback(host),
    )  # fmt: skip
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=3))
    on_ready(address_of(host, listening.getsockname()[1]))
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])
    listening.close()


def is_loopback(host: str) -> bool:
    """True where only this machine itself can reach the address."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def address_of(host: str, port: int) -> str:
    """The address to open; of a wildcard, one under which other machines reach this one."""
    if host in ("0.0.0.0", "::"):
        host = _outward_address() or socket.gethostname()
    return f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"


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
