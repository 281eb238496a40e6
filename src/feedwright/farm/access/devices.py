"""Devices and programs that ask with a token of their own, each with what it may do."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from hmac import compare_digest

from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.access.access_log import network_of, note_down
from feedwright.farm.access.sessions import SEEN_EVERY, TOKEN_BYTES, token_hash
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import NAME, one_of, text
from feedwright.farm.ground.people import person_id
from feedwright.records.access_values import Device, DeviceUse
from feedwright.records.store import Store

SCOPES = {
    "read": "see the farm: machines, outlooks, runs, cases, visits, stores",
    "record": "write down what happened: runs, findings, renewals, events, prints",
    "manage": "describe machines, and take records back",
}
"""What a device may be allowed, and in words what that is. None includes another."""
BEGINS = "fw-"
"""How every token begins, so that one left in a file is known for what it is."""


@dataclass(frozen=True, slots=True)
class DeviceLine:
    """One device as a list shows it."""

    device: Device
    person: str
    used_utc: datetime | None
    address: str

    @property
    def scopes(self) -> list[str]:
        """What it may do."""
        return self.device.scopes.split()


def add_device(store: Store, name: str, scopes: Sequence[str], *, person: str | None = None) -> tuple[Device, str]:
    """Make a token for a device; returns it with the device, this once: only its hash is kept."""
    name = text("name", name, NAME, lines=False, needed=True)
    wanted = {one_of("scope", scope, tuple(SCOPES)) for scope in scopes}
    if not wanted:
        raise BadInput("scope", expected=f"expected at least one of {', '.join(SCOPES)}", remedy="say what it may do")
    token = BEGINS + secrets.token_urlsafe(TOKEN_BYTES)
    device = Device(
        name, " ".join(scope for scope in SCOPES if scope in wanted), token_hash(token), moment(None),
        person_id(store, person or None),
    )  # fmt: skip
    with store.act("add device") as act:
        if any(held.name.casefold() == name.casefold() for held in act.every(Device)):
            known = "a device of that name is known"
            raise Conflict("name", place=f"“{name}”", expected=known, remedy="choose another")
        device = replace(device, id=act.add(device), act_id=act.id)
    note_down(store, "device_added", device_id=device.id)
    return device, token


def revoke_device(store: Store, number: int, *, reason: str) -> Device:
    """Take a device's token back; from now on it is refused."""
    reason = text("reason", reason, needed=True)
    with store.act("revoke device", reason=reason) as act:
        device = act.one(Device, number)
        if device is None:
            raise NotFound(
                "device", place=f"number {number}", expected="no such device, or revoked already", remedy="list them"
            )
        act.void(device)
    note_down(store, "device_revoked", device_id=number, note=reason)
    return device


def device_of(store: Store, token: str, *, address: str, now_utc: datetime) -> Device | None:
    """The device of that token; None where there is none, or it was revoked. Its use is noted."""
    sought = token_hash(token)
    device = store.access.device_of(sought)
    if device is None or not compare_digest(device.token_sha256, sought):
        return None
    use = store.access.device_uses().get(device.id)
    if use is None or now_utc - use.used_utc >= SEEN_EVERY:
        store.access.put_device_use(DeviceUse(device.id, now_utc, network_of(address)))
    return device


def devices(store: Store) -> list[DeviceLine]:
    """Every device whose token holds, by name."""
    people, uses = {person.id: person.name for person in store.people()}, store.access.device_uses()

    def line(held: Device) -> DeviceLine:
        device = replace(held, token_sha256="")  # what a token hashes to is nobody's business
        person, use = people.get(device.person_id or 0, ""), uses.get(device.id)
        return DeviceLine(device, person, use.used_utc, use.address) if use else DeviceLine(device, person, None, "")

    return [line(device) for device in sorted(store.every(Device), key=lambda held: held.name.casefold())]
