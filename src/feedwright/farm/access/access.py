"""Whether the farm may be reached over the local network, and the passphrase that it then asks for."""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from feedwright.errors import BadInput, Conflict, NotAllowed
from feedwright.farm.access.access_log import note_down, refuse_too_many
from feedwright.farm.access.passphrases import checked_passphrase, hashed, matches, to_renew
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.settings import farm_name
from feedwright.records.store import Store
from feedwright.records.values import Setting

OPEN, NAMES = "access.open", "access.names"
HOST_NAME = re.compile(r"(?=.{1,253}$)[a-z0-9]([a-z0-9-]{0,62})?(\.[a-z0-9]([a-z0-9-]{0,62})?)*")
"""A host's name as RFC 1123 writes it."""
MOST_NAMES = 10
FAILED = "sign_in_failed"


@dataclass(frozen=True, slots=True)
class Access:
    """How the farm may be reached."""

    open: bool
    """True where the local network may reach it."""
    names: tuple[str, ...]
    """Names beside its own under which it may be asked, such as a reverse proxy's."""
    passphrase_set_utc: datetime | None


def access(store: Store) -> Access:
    """How the farm may be reached."""
    held, passphrase = store.settings(), store.access.passphrase()
    names = tuple(json.loads(held.get(NAMES, "[]")))
    return Access(json.loads(held.get(OPEN, "false")), names, None if passphrase is None else passphrase[1])


def is_open(store: Store) -> bool:
    """True where the network may reach the farm: it was opened, and a passphrase guards it."""
    state = access(store)
    return state.open and state.passphrase_set_utc is not None


def set_passphrase(store: Store, passphrase: str, *, address: str = "") -> None:
    """Set or change the passphrase; every session but the one that does it ends, for it was let in by the old one."""
    secret = hashed(checked_passphrase(passphrase, farm=farm_name(store)))
    store.access.put_passphrase(secret, moment(None))
    store.access.end_sessions(moment(None), but=store.hand.session_id)
    note_down(store, "passphrase_set", address=address)


def change_passphrase(store: Store, current: str, passphrase: str, *, address: str = "") -> None:
    """The same from a page, which must give the one in force where there is one."""
    if store.access.passphrase() is not None:
        prove_passphrase(store, current, address=address)
    set_passphrase(store, passphrase, address=address)


def prove_passphrase(store: Store, given: str, *, address: str) -> None:
    """Raises NotAllowed where this is not the passphrase, TooOften where that was tried too often.

    A hash made with the parameters of another time is renewed.
    """
    refuse_too_many(store, FAILED, address, moment(None))
    held = store.access.passphrase()
    if held is None:
        raise NotAllowed("passphrase", expected="none is set", remedy="set one at the machine that keeps the farm")
    if not matches(held[0], given):
        note_down(store, FAILED, address=address)
        raise NotAllowed("passphrase", expected="this is not the passphrase", remedy="check its spelling and try again")
    if to_renew(held[0]):
        store.access.put_passphrase(hashed(given), held[1])


def open_to_network(store: Store, names: Sequence[str] = ()) -> Access:
    """Let the local network reach the farm; raises Conflict where no passphrase is set yet."""
    if store.access.passphrase() is None:
        raise Conflict(
            "access", expected="the network is let in only where a passphrase is set",
            remedy="set one first, with `feedwright access passphrase` or on the Access page",
        )  # fmt: skip
    checked = [_checked_name(name) for name in names]
    if len(checked) > MOST_NAMES:
        raise BadInput("names", place=f"{len(checked)}", expected=f"expected {MOST_NAMES} at most", remedy="name fewer")
    with store.act("open access") as act:
        act.add(Setting(OPEN, "true"))
        act.add(Setting(NAMES, json.dumps(checked)))
    note_down(store, "opened")
    return access(store)


def close_to_network(store: Store) -> Access:
    """Shut the local network out, at once; every session ends."""
    with store.act("close access") as act:
        act.add(Setting(OPEN, "false"))
    store.access.end_sessions(moment(None))
    note_down(store, "closed")
    return access(store)


def refuse_unguarded(store: Store) -> None:
    """Raises Conflict where the farm may not be served beyond this machine: it is not open, or nothing guards it."""
    if not is_open(store):
        raise Conflict(
            "access", expected="this farm is not open to the network",
            remedy="set a passphrase with `feedwright access passphrase`, then `feedwright access open`",
        )  # fmt: skip


def _checked_name(name: str) -> str:
    spelt = name.strip().lower()
    if not HOST_NAME.fullmatch(spelt):
        raise BadInput(
            "name", place=f"“{name:.60}”", expected="expected a host's name such as feed.example", remedy="correct it"
        )
    return spelt
