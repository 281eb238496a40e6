"""The log of the door: who came in, who failed to, and what was opened, closed, made or taken back."""

import ipaddress
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from feedwright.errors import TooOften
from feedwright.farm.ground.house import moment
from feedwright.records.access_values import Device, LogEntry
from feedwright.records.store import Store

WINDOW = timedelta(minutes=15)
MOST_FROM_ONE, MOST_FROM_ALL = 5, 30
"""Failures within the window after which an address, or everybody on the network, has to wait (assumed)."""


@dataclass(frozen=True, slots=True)
class LogLine:
    """One entry with the names that belong to it."""

    entry: LogEntry
    person: str
    device: str


def network_of(address: str) -> str:
    """What failures are counted by: an address, of IPv6 the /64 that one household or machine has to itself."""
    try:
        held = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return ""
    if isinstance(held, ipaddress.IPv6Address):
        if held.ipv4_mapped is not None:
            return str(held.ipv4_mapped)
        return str(ipaddress.ip_network((held, 64), strict=False))
    return str(held)


def note_down(
    store: Store, kind: str, *, address: str = "", note: str = "", session_id: int | None = None,
    device_id: int | None = None, person_id: int | None = None,
) -> None:  # fmt: skip
    """Write down what happened; the hand that did it is added where none is named."""
    hand = store.hand
    session = hand.session_id if session_id is None else session_id
    device = hand.device_id if device_id is None else device_id
    person = hand.person_id if person_id is None else person_id
    store.access.log(LogEntry(moment(None), kind, network_of(address), session, device, person, note))


def refuse_too_many(store: Store, kind: str, address: str, now_utc: datetime) -> None:
    """Raises TooOften where this address, or all together, failed that too often lately. It holds over restarts.

    The first refusal of an address in a while is written down; the rest are not, so that nobody fills the disk.
    """
    since, network = now_utc - WINDOW, network_of(address)
    own, every = store.access.logged(kind, since, network), store.access.logged(kind, since)
    for failures, most in ((own, MOST_FROM_ONE), (every, MOST_FROM_ALL)):
        if len(failures) >= most:
            if not store.access.logged(f"{kind}_too_often", since, network):
                note_down(store, f"{kind}_too_often", address=address)
            wait_s = (failures[-most] + WINDOW - now_utc).total_seconds()
            raise TooOften("sign-in", wait_s=max(1.0, wait_s), expected="it failed too often lately")


def log_lines(store: Store, limit: int = 50) -> list[LogLine]:
    """What happened at the door, latest first."""
    people = {person.id: person.name for person in store.people()}
    devices = {device.id: device.name for device in store.every(Device)}
    return [
        LogLine(entry, people.get(entry.person_id or 0, ""), _device(entry, devices))
        for entry in store.access.log_entries(limit)
    ]


def hands_by_name(store: Store, act_ids: Collection[int]) -> dict[int, str]:
    """What acts came through over the network: a device by its name, else a browser; by act."""
    devices = {device.id: device.name for device in store.every(Device)}
    return {
        act_id: "a browser" if hand.device_id is None else devices.get(hand.device_id, f"device {hand.device_id}")
        for act_id, hand in store.access.hands(act_ids).items()
        if hand.device_id or hand.session_id
    }


def _device(entry: LogEntry, devices: dict[int, str]) -> str:
    if entry.device_id is None:
        return ""
    return devices.get(entry.device_id, f"device {entry.device_id}")
