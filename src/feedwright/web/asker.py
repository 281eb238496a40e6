"""Who asks: somebody at this machine, a browser that was signed in, a device with its token, or nobody known."""

import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.requests import HTTPConnection, Request

from feedwright.farm.access.devices import SCOPES
from feedwright.records.access_values import Hand

EVERYTHING = frozenset(SCOPES)
NOBODYS_HAND = Hand()
FORWARDING = frozenset({
    "forwarded", "via", "x-real-ip", "x-client-ip", "x-cluster-client-ip", "true-client-ip", "x-originating-ip",
    "x-remote-ip", "x-remote-addr",
})  # fmt: skip
"""Headers by which a proxy says that somebody else asks through it; RFC 7239 and RFC 9110, the rest common practice."""
COOKIE, COOKIE_HTTPS = "feedwright", "__Host-feedwright"
"""A cookie of the second name is taken by browsers over https alone, and from this very host (RFC 6265bis)."""


@dataclass(frozen=True, slots=True)
class Asker:
    """Who asks, and what they may do."""

    kind: Literal["here", "session", "device", "nobody"]
    address: str = ""
    hand: Hand = NOBODYS_HAND
    scopes: frozenset[str] = frozenset()
    name: str = ""
    """The person's or the device's, where known."""

    @property
    def key(self) -> str:
        """What tells one asker's entry keys from another's."""
        number = self.hand.device_id or self.hand.session_id
        return f"{self.kind}-{number}" if number else self.kind


def asker_of(request: HTTPConnection) -> Asker:
    """Who the gate found to ask."""
    held = request.scope.get("state", {}).get("asker")
    return held if isinstance(held, Asker) else Asker("nobody")


def here(address: str) -> Asker:
    """Somebody at this machine, who may do everything: the farm's folder is theirs anyway."""
    return Asker("here", address, scopes=EVERYTHING)


def address_of(request: HTTPConnection) -> str:
    """The address of whoever is at the other end of the line; a proxy's, where one stands between."""
    return request.client.host if request.client else ""


def is_here(request: HTTPConnection, own_names: Iterable[str]) -> bool:
    """True only where the line itself comes from this machine, nothing says it was passed on, and the name is our own.

    A header can take that away and never give it.
    """
    if any(name in FORWARDING or name.startswith("x-forwarded") for name in request.headers):
        return False
    return is_loopback(address_of(request)) and host_name(request.headers) in own_names


def is_loopback(address: str) -> bool:
    """True for an address of this machine alone."""
    try:
        held = ipaddress.ip_address(address)
    except ValueError:
        return False
    mapped = held.ipv4_mapped if isinstance(held, ipaddress.IPv6Address) else None
    return (mapped or held).is_loopback


def host_name(headers: Headers) -> str:
    """The name in the Host header without its port; empty where it is none."""
    try:
        return urlsplit(f"//{headers.get('host', '')}").hostname or ""
    except ValueError:
        return ""


def is_https(request: Request) -> bool:
    """True where the browser came by https, if only as far as a proxy that says so; decides about the cookie alone."""
    return request.url.scheme == "https" or request.headers.get("x-forwarded-proto", "").lower() == "https"


def cookie_name(request: Request) -> str:
    """Under which name the session's cookie travels."""
    return COOKIE_HTTPS if is_https(request) else COOKIE
