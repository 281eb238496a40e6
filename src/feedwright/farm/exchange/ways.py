"""The ways in and out as they are set, and how each of them goes."""

import json
import secrets as chance
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from feedwright.errors import BadInput
from feedwright.farm.exchange.messages import PREFIX
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import text, within
from feedwright.farm.ground.people import person_id
from feedwright.records.exchange_values import LinkState
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import Setting

BROKER, BROKER_SECRET = "broker", "broker password"
ALIVE = timedelta(seconds=150)
"""A way that said nothing for so long is not at work; each says something once a minute."""
PORT, PORT_TLS = 1883, 8883
"""Registered with IANA for MQTT, plain and over TLS."""
MOST_LISTED = 50


@dataclass(frozen=True, slots=True)
class Broker:
    """The MQTT broker to listen to; its password is kept apart."""

    host: str
    port: int = PORT
    user: str = ""
    tls: bool = False
    ca_file: str = ""
    """Certificates to trust besides the system's; empty where those will do."""
    prefix: str = PREFIX
    """First part of every topic."""
    client_id: str = ""
    """Under which the broker keeps for us what came while we were away."""


@dataclass(frozen=True, slots=True)
class WatchState:
    """How the watching of a folder goes."""

    folder: str
    at_utc: datetime
    alive: bool
    problem: str
    troubles: Mapping[str, str] = field(default_factory=dict)
    """Files that cannot be taken, and why."""


@dataclass(frozen=True, slots=True)
class ListenState:
    """How the listening to a broker goes."""

    broker: str
    at_utc: datetime
    alive: bool
    connected: bool
    problem: str
    taken: int = 0
    """Messages taken since it began."""
    strangers: Mapping[str, str] = field(default_factory=dict)
    """Machines that messages named and nobody described, and when last."""
    refused: tuple[str, ...] = ()
    """The latest messages that could not be taken, and why; newest first."""
    troubles: Mapping[str, str] = field(default_factory=dict)
    """What machines report that somebody should see to now, by cause."""


def broker(store: Reads) -> Broker | None:
    """The broker that ``serve`` listens to; None where none is set."""
    held = store.settings().get(BROKER)
    said = json.loads(held) if held else None
    return Broker(**said) if said else None


def set_broker(store: Store, wanted: Broker | None, *, password: str | None = None, person: str | None = None) -> None:
    """Listen to a broker from now on; None ends it and forgets the password, ``password`` None leaves that as it is."""
    if wanted is None:
        store.ways.keep_secret(BROKER_SECRET, "")
        said: Any = None
    else:
        said = asdict(checked_broker(wanted, held=broker(store)))
        if password is not None:
            store.ways.keep_secret(BROKER_SECRET, password)
    with store.act("set", person_id=person_id(store, person)) as act:
        act.add(Setting(BROKER, json.dumps(said)))


def checked_broker(wanted: Broker, *, held: Broker | None = None) -> Broker:
    """The broker as it is kept, with an id of our own under which it knows us again."""
    host = text("broker", wanted.host, 253, lines=False, needed=True)
    if any(sign in host for sign in "/@ ") or "://" in host:
        remedy = "give its name or address alone; port, user and TLS have fields of their own"
        raise BadInput("broker", place=f"“{host}”", expected="expected a host", remedy=remedy)
    within("port", wanted.port, 1, 65535)
    prefix = text("prefix", wanted.prefix, 60, lines=False, needed=True).strip("/")
    if not prefix or any(sign in prefix for sign in "+#\0"):
        raise BadInput(
            "prefix", place=f"“{prefix}”", expected="expected a topic without + and #", remedy="choose another"
        )
    if wanted.ca_file and not Path(wanted.ca_file).is_file():
        raise BadInput(
            "ca_file", place=wanted.ca_file, expected="expected a file of certificates", remedy="check the path"
        )
    client_id = wanted.client_id or (held.client_id if held else "") or f"feedwright-{chance.token_hex(6)}"
    return replace(
        wanted, host=host, prefix=prefix, user=text("user", wanted.user, 200, lines=False), client_id=client_id
    )


def broker_password(store: Store) -> str:
    """The broker's password; empty where there is none."""
    return store.ways.secrets().get(BROKER_SECRET, "")


def say_watching(
    store: Store, folder: Path, problem: str, troubles: Mapping[str, str], *, at_work: bool = True
) -> None:
    """Keep how the watching goes; ``at_work`` is False where it ends."""
    listed = dict(sorted(troubles.items())[:MOST_LISTED])
    _keep(store, "watch", {"folder": str(folder), "problem": problem, "troubles": listed, "at_work": at_work})


def watching(store: Store) -> WatchState | None:
    """How the watching goes; None where it never began."""
    state: WatchState | None = _state(store, "watch", WatchState)
    return state


def say_listening(store: Store, **said: Any) -> None:
    """Keep how the listening goes: fields of :class:`ListenState`, and ``at_work``, which is False where it ends."""
    said["strangers"] = dict(list(said["strangers"].items())[-MOST_LISTED:])
    _keep(store, "listen", said)


def listening(store: Store) -> ListenState | None:
    """How the listening goes; None where it never began."""
    state: ListenState | None = _state(store, "listen", ListenState)
    return None if state is None else replace(state, refused=tuple(state.refused))


def _keep(store: Store, name: str, said: Mapping[str, Any]) -> None:
    store.ways.keep_state(LinkState(name, moment(None), json.dumps(said)))


def _state(store: Store, name: str, kind: Any) -> Any:
    held = store.ways.states().get(name)
    if held is None:
        return None
    said = json.loads(held.value)
    alive = said.pop("at_work") and moment(None) - held.at_utc < ALIVE
    return kind(at_utc=held.at_utc, alive=alive, **said)
