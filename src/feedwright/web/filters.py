"""The words of numbers and names that templates show alike."""

import math
from collections.abc import Callable, Iterable
from contextvars import ContextVar
from datetime import date
from typing import Any

from feedwright.farm.ground.naming import with_capital
from feedwright.units import BY_SUFFIX, show, show_duration, show_imperial, show_rounded, unit_of
from feedwright.wear.values import Interval


def days_words(days: float) -> str:
    """A number of days as a person says it."""
    if math.isinf(days):
        return "no date while idle"
    if days < 1:
        return "now"
    return f"in {days:.0f} days" if days < 120 else f"in {days / 30.4:.0f} months"


def day_words(day: str) -> str:
    """A day as kept, as a person says it.

    >>> day_words("2026-12-05")
    'Sat 05 Dec'
    """
    return f"{date.fromisoformat(day):%a %d %b}"


def count(many: int, one: str, several: str = "") -> str:
    """A number of things in words.

    >>> count(1, "machine"), count(1200, "run")
    ('1 machine', '1,200 runs')
    """
    return f"{many:,} {one if many == 1 else several or one + 's'}"


def percent(value: float) -> str:
    """A share as percent; small ones keep a digit that tells them from nothing."""
    if value >= 10:
        return "over 1,000%"
    return f"{value:.1%}" if 0 < value < 0.0995 else f"{value:.0%}"


def decimals(column: Iterable[Interval | None]) -> int:
    """How many decimals a column of numbers is shown with: as many as its greatest needs for three digits.

    >>> decimals([Interval(0.1, 0.2, 0.3), None, Interval(11.0, 12.5, math.inf)]), decimals([])
    (1, 0)
    """
    greatest = max((held.mid for held in column if held and 0 < held.mid < 1e300), default=math.inf)
    return 0 if math.isinf(greatest) else max(0, 2 - math.floor(math.log10(greatest)))


def bar_x(share: float) -> float:
    """Where a share of life falls on a bar of 300 units that ends at three lives."""
    return 100.0 * min(3.0, max(0.0, share))


def unit_symbol(suffix: str) -> str:
    """The printed symbol of a unit suffix; nothing for a plain ratio."""
    return BY_SUFFIX[suffix].symbol if suffix in BY_SUFFIX else ""


def named(name: str, unit: str) -> str:
    """A quantity's name in words, its unit's symbol after it.

    >>> named("usual_flow_mm3_s", "mm3_s")
    'usual flow, mm³/s'
    """
    plain_name = name.removesuffix(f"_{unit}").replace("_", " ")
    symbol = unit_symbol(unit)
    return f"{plain_name}, {symbol}" if symbol else plain_name


def called(name: str, value: Any) -> str:
    """A column's name in words; its unit is left to a number that is shown with it.

    >>> called("nozzle_c", 212.0), called("begun_utc", ""), called("box_mm", "230, 230, 240")
    ('nozzle', 'begun', 'box, mm')
    """
    unit = unit_of(name)
    if unit is None:
        return name.removesuffix("_utc").removesuffix("_kind").replace("_", " ")
    return (
        name.removesuffix(f"_{unit.suffix}").replace("_", " ") if isinstance(value, float) else named(name, unit.suffix)
    )


IMPERIAL_SHOWN = ContextVar("imperial shown", default=False)
"""True while a page is made for a farm that has chosen imperial measures; macros do not see a page's own values."""


def show_in_measures(value: float, suffix: str) -> str:
    """A value with its symbol, in the measures that the farm has chosen for its pages."""
    return show_imperial(value, suffix) if IMPERIAL_SHOWN.get() else show(value, suffix)


def quantity(value: Any, name: str) -> str:
    """A value as it is shown under its name: a number with its unit and no more digits than tell, all else as it is.

    >>> quantity(212.0, "nozzle_c"), quantity(1.5, "hours"), quantity(4, "copies"), quantity("PLA", "material")
    ('212 °C', '1.5', '4', 'PLA')
    """
    if not isinstance(value, float):
        return str(value)
    unit = unit_of(name)
    return show_in_measures(value, unit.suffix) if unit else f"{value:.6g}"


FILTERS: dict[str, Callable[..., Any]] = {
    "days": days_words, "day": day_words, "number": show_rounded, "count": count, "percent": percent, "bar_x": bar_x,
    "show": show_in_measures, "duration": show_duration, "words": lambda text: text.replace("_", " "),
    "unit": unit_symbol, "named": named, "capitalize": with_capital, "quantity": quantity, "called": called,
    "decimals": decimals,
}  # fmt: skip
"""By the names that templates know them under."""
