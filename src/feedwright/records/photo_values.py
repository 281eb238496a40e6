"""Photos as values: what was photographed at the bench, and which parts and findings it shows."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo; its file lies in the farm's folder under the SHA-256 of its bytes."""

    machine_id: int
    taken_utc: datetime
    sha256: str
    bytes_count: int
    width_px: int
    height_px: int
    visit_entry_id: int | None = None
    """The entry of a visit that it was taken with."""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class PhotoSubject:
    """A photo shows this part, and where ``finding_id`` is set, what was found of it then."""

    machine_id: int
    photo_id: int
    fitting_id: int
    finding_id: int | None = None
    id: int = 0
    act_id: int = 0
