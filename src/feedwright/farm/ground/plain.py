"""Any of our values as plain JSON data: the one form that commands and pages give to other programs."""

import dataclasses
import math
from datetime import date
from decimal import Decimal
from typing import Any

from feedwright.catalogue.entry import PartKind


def plain(value: Any) -> Any:
    """The value as dicts, lists, strings and numbers.

    Infinite and undefined numbers become null, times ISO 8601 in UTC, money a decimal string with its
    currency, an entry of the catalogue its id.

    >>> plain(Money.of(3, "EUR"))
    {'amount': '3.00', 'currency': 'EUR'}
    """
    if isinstance(value, PartKind):
        return value.id
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {str(key): plain(held) for key, held in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(held) for held in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, date):  # and so a datetime
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    return value
