"""Who may reach the farm over the network, as values.

Only devices are records; a session is opened, seen and ended, and a passphrase that was replaced is gone.
"""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Device:
    """A program or phone that asks with a token of its own. Voided, its token is refused."""

    name: str
    scopes: str
    """What it may do, words of :data:`feedwright.farm.access.devices.SCOPES` with blanks between."""
    token_sha256: str
    """Hash of the token; the token itself is kept nowhere."""
    made_utc: datetime
    person_id: int | None = None
    """Whose it is, where that was said: its acts carry the name."""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class DeviceUse:
    """When a device last asked, and from where."""

    device_id: int
    used_utc: datetime
    address: str


@dataclass(frozen=True, slots=True)
class Session:
    """One browser that was signed in, from then until it is signed out or lapses."""

    token_sha256: str
    person_id: int | None
    browser: str
    """What it calls itself, shortened."""
    address: str
    opened_utc: datetime
    seen_utc: datetime
    ended_utc: datetime | None = None
    id: int = 0


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One thing that happened at the door: signing in or failing to, a token made or refused, and the like."""

    at_utc: datetime
    kind: str
    address: str = ""
    session_id: int | None = None
    device_id: int | None = None
    person_id: int | None = None
    note: str = ""
    id: int = 0


@dataclass(frozen=True, slots=True)
class Hand:
    """Whose hand an act is: a session's or a device's; neither where somebody is at the machine itself.

    ``entry_key`` lets one request be sent twice and count once; ``request_sha256`` tells it from another request.
    """

    person_id: int | None = None
    session_id: int | None = None
    device_id: int | None = None
    entry_key: str = ""
    request_sha256: str = ""
