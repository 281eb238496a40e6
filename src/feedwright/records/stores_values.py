"""What the farm remembers of its stores and spools, as values; see :mod:`feedwright.records.values`."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal

MovementKind = Literal["in", "used", "counted", "ordered", "arrived", "cancelled"]
SpoolEntryKind = Literal["opened", "hung", "shelved", "dried", "weighed", "emptied"]


@dataclass(frozen=True, slots=True)
class Item:
    """One thing kept in the stores."""

    name: str
    fits: str
    """What it renews, as JSON: a list of [part kind, product, pieces a renewal takes]; an empty product fits all."""
    added_utc: datetime
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class ItemTerms:
    """How an item is bought from some moment on; the latest of an item holds."""

    item_id: int
    from_utc: datetime
    pack_count: int
    """Pieces in a supplier's pack."""
    pack_price: Decimal | None = None
    """None where nobody said: the catalogue's usual price holds. So for the two below, with the farm's figures."""
    delivery_price: Decimal | None = None
    """What one delivery costs on top."""
    lead_days: float | None = None
    """From order to arrival."""
    breaks: str = "[]"
    """Cheaper packs from a number on, as JSON: a list of [packs, price of a pack]."""
    currency: str = ""
    supplier: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Movement:
    """One movement of the stores. What is on hand is the sum of them since the latest count."""

    item_id: int
    moved_utc: datetime
    kind: MovementKind
    count: int
    """Pieces that moved; at a count, pieces that were there."""
    order_id: int | None = None
    """What arrived or was cancelled: the movement that ordered it."""
    removal_id: int | None = None
    """What was used: the renewal that used it."""
    reason: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class Spool:
    """One spool of filament."""

    material: str
    """Catalogue id of the material."""
    added_utc: datetime
    net_g: float
    """Filament on it when it was added."""
    tare_g: float | None = None
    """Mass of the empty spool, where known."""
    label: str = ""
    """Colour or whatever tells it from its neighbours."""
    lot: str = ""
    """The maker's lot; empty = not known."""
    price: Decimal | None = None
    currency: str = ""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class SpoolEntry:
    """Something that was done with a spool."""

    spool_id: int
    at_utc: datetime
    kind: SpoolEntryKind
    machine_id: int | None = None
    """Where it was hung."""
    left_g: float | None = None
    """Weighed: filament left, without the spool."""
    dry_c: float | None = None
    dry_h: float | None = None
    place: str = ""
    """Where it was put: a shelf, a dry box."""
    note: str = ""
    id: int = 0
    act_id: int = 0


@dataclass(frozen=True, slots=True)
class SpoolUse:
    """What one run drew from a spool."""

    spool_id: int
    run_id: int
    used_utc: datetime
    used_g: float
    id: int = 0
    act_id: int = 0
