"""What people type into a form, taken as it is meant or refused with how to write it."""

import math
import re
from datetime import datetime

from feedwright.errors import BadInput
from feedwright.farm.ground.settings import zone
from feedwright.records.store import Store

THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d+)?")
"""Could be a mark of thousands or a decimal comma: nobody can tell."""


def number(field: str, given: str) -> float:
    """The number of a field; a decimal comma is taken, a mark of thousands refused."""
    text = given.strip()
    if THOUSANDS.fullmatch(text):
        remedy = "write it without a mark of thousands, such as 1000 or 1.5"
        raise BadInput(field, place=f"“{given}”", expected="this may be read in two ways", remedy=remedy)
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadInput(field, place=f"“{given:.40}”", expected="expected a number", remedy="such as 12.5")
    return value


def number_or_none(field: str, given: str) -> float | None:
    """The number of a field that may stay empty."""
    return number(field, given) if given.strip() else None


def share(field: str, given: str) -> float | None:
    """A share typed as percent, as a fraction; None where the field is empty. A share below 1 % is a fraction meant."""
    value = number_or_none(field, given)
    if value is None:
        return None
    if not (value == 0 or 1 <= value <= 100):
        raise BadInput(
            field, place=f"{value:g} %", expected="expected 0, or a percentage from 1 to 100",
            remedy="write 37 for 37 percent",
        )  # fmt: skip
    return value / 100


def own_place(given: str) -> str:
    """A place of our own to go on to; a browser reads two slashes, of either kind, as another site."""
    return given if re.fullmatch(r"/(?![/\\])[^\\\s]*", given) else "/"


def local_moment(store: Store, given: str) -> datetime | None:
    """The moment of a date-time field in the farm's zone; empty means now."""
    if not given:
        return None
    try:
        at = datetime.fromisoformat(given)
    except ValueError as error:
        raise BadInput("when", place=given, expected="expected a date and time", remedy="choose one") from error
    return at if at.tzinfo else at.replace(tzinfo=zone(store))
