"""A real broker to listen to: the one of a general-purpose MQTT library."""

import asyncio
import socket
import threading
from pathlib import Path

from amqtt.broker import Broker
from argon2 import PasswordHasher

USER, PASSWORD = "yard", "tall ash"
"""It keeps messages only for those who give a name."""


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return int(probe.getsockname()[1])


class RealBroker:
    """The broker of a general-purpose library, in a thread of its own; it can be ended and begun again."""

    def __init__(self, folder: Path, certificate: tuple[Path, Path] | None = None) -> None:
        """``certificate`` and its key have it speak TLS alone."""
        self.port = free_port()
        self._passwords = folder / "passwords"
        self._passwords.write_text(f"{USER}:{PasswordHasher().hash(PASSWORD)}\n")
        self._tls = (
            {"ssl": True, "certfile": str(certificate[0]), "keyfile": str(certificate[1])} if certificate else {}
        )
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._broker: Broker | None = None

    def begin(self) -> None:
        """Begin to serve."""
        plugins = {"amqtt.plugins.authentication.FileAuthPlugin": {"password_file": str(self._passwords)}}
        listeners = {"default": {"type": "tcp", "bind": f"127.0.0.1:{self.port}", **self._tls}}

        async def beginning() -> Broker:
            broker = Broker({"listeners": listeners, "plugins": plugins})
            await broker.start()
            return broker

        self._broker = self._in_loop(beginning())

    def end(self) -> None:
        """End serving, as a broker that is switched off."""
        if self._broker is not None:
            self._in_loop(self._broker.shutdown())
            self._broker = None

    def close(self) -> None:
        """End it for good."""
        self.end()
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)
        self._loop.close()

    def _in_loop(self, work):  # type: ignore[no-untyped-def]
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(20)
