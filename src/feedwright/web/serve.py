"""Serving the pages until the person ends it."""

import contextlib
import socket
from collections.abc import Callable
from pathlib import Path

from feedwright.errors import BadInput

TRIES = 20


def serve_farm(farm_folder: Path, host: str, port: int, on_ready: Callable[[str], None]) -> None:
    """Serve a farm's pages; ``on_ready`` is told the address once the socket listens. Ctrl-C ends it cleanly."""
    import uvicorn

    from feedwright.web.app import create_app

    listening = _listen(host, port)
    address = f"http://{host}:{listening.getsockname()[1]}/"
    hosts = ("127.0.0.1", "localhost", host)
    server = uvicorn.Server(uvicorn.Config(create_app(farm_folder, hosts=hosts), log_level="warning"))
    on_ready(address)
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])
    listening.close()


def _listen(host: str, port: int) -> socket.socket:
    """A listening socket on the port, or on the next free one; port 0 takes any."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for offset in range(1 if port == 0 else TRIES):
        wanted = socket.socket(family, socket.SOCK_STREAM)
        wanted.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            wanted.bind((host, port + offset))
            wanted.listen(128)
            return wanted
        except OSError as error:
            wanted.close()
            last = error
    raise BadInput(
        "--port", place=f"{host}:{port}", expected=last.strerror or "cannot listen there", remedy="name another port"
    )
