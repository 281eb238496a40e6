"""The closed list of unit suffixes that names may carry, and how to show a value of each.

A quantity's name is what it is plus its unit: ``nozzle_c``, ``flow_mm3_s``. The list is
checked against a units library in ``tests/test_units.py``.
"""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal


@dataclass(frozen=True, slots=True)
class Unit:
    """One allowed suffix: its printed symbol, factor to SI base units and decimals to show."""

    suffix: str
    symbol: str
    si: str
    factor: float
    decimals: int


UNITS: tuple[Unit, ...] = (
    Unit("mm", "mm", "m", 1e-3, 1),
    Unit("um", "µm", "m", 1e-6, 0),
    Unit("m", "m", "m", 1.0, 1),
    Unit("km", "km", "m", 1e3, 2),
    Unit("mm2", "mm²", "m**2", 1e-6, 2),
    Unit("mm3", "mm³", "m**3", 1e-9, 1),
    Unit("m2", "m²", "m**2", 1.0, 4),
    Unit("m3", "m³", "m**3", 1.0, 6),
    Unit("cm3", "cm³", "m**3", 1e-6, 1),
    Unit("s", "s", "s", 1.0, 0),
    Unit("min", "min", "s", 60.0, 0),
    Unit("minutes", "min", "s", 60.0, 0),
    Unit("h", "h", "s", 3600.0, 1),
    Unit("d", "d", "s", 86400.0, 0),
    Unit("days", "d", "s", 86400.0, 0),
    Unit("mm_s", "mm/s", "m/s", 1e-3, 1),
    Unit("m_s", "m/s", "m/s", 1.0, 2),
    Unit("mm_s2", "mm/s²", "m/s**2", 1e-3, 0),
    Unit("mm3_s", "mm³/s", "m**3/s", 1e-9, 1),
    Unit("mg", "mg", "kg", 1e-6, 0),
    Unit("g", "g", "kg", 1e-3, 1),
    Unit("kg", "kg", "kg", 1.0, 3),
    Unit("g_cm3", "g/cm³", "kg/m**3", 1e3, 2),
    Unit("kg_m3", "kg/m³", "kg/m**3", 1.0, 0),
    Unit("c", "°C", "degC", 1.0, 0),
    Unit("dk", "K", "K", 1.0, 1),
    Unit("kelvin", "K", "K", 1.0, 2),
    Unit("c_s", "°C/s", "K/s", 1.0, 2),
    Unit("w", "W", "W", 1.0, 2),
    Unit("j", "J", "J", 1.0, 1),
    Unit("w_k", "W/K", "W/K", 1.0, 4),
    Unit("k_w", "K/W", "K/W", 1.0, 2),
    Unit("j_k", "J/K", "J/K", 1.0, 2),
    Unit("w_mk", "W/(m K)", "W/(m*K)", 1.0, 2),
    Unit("w_m2k", "W/(m² K)", "W/(m**2*K)", 1.0, 1),
    Unit("j_kgk", "J/(kg K)", "J/(kg*K)", 1.0, 0),
    Unit("n", "N", "N", 1.0, 1),
    Unit("nmm", "N mm", "N*m", 1e-3, 1),
    Unit("mpa", "MPa", "Pa", 1e6, 2),
    Unit("pa_s", "Pa s", "Pa*s", 1.0, 0),
    Unit("pa_sn", "Pa sⁿ", "Pa*s", 1.0, 0),
    Unit("ev", "eV", "J", 1.602176634e-19, 3),
    Unit("v", "V", "V", 1.0, 1),
    Unit("a", "A", "A", 1.0, 2),
    Unit("ohm", "Ω", "ohm", 1.0, 1),
    Unit("deg", "°", "rad", 0.017453292519943295, 1),
    Unit("rpm", "1/min", "1/s", 1 / 60, 0),
    Unit("per_h", "1/h", "1/s", 1 / 3600, 3),
    Unit("per_mm", "1/mm", "1/m", 1e3, 2),
    Unit("per_kg", "1/kg", "1/kg", 1.0, 3),
)
"""Ordered by kind; ``_frac`` (0 to 1), ``_ratio`` and ``_count`` are dimensionless and stand outside."""

DIMENSIONLESS = ("frac", "ratio", "count")

BY_SUFFIX = {unit.suffix: unit for unit in UNITS}


def unit_of(name: str) -> Unit | None:
    """The unit that a quantity's name ends with, the longest suffix first; None where it has none.

    >>> unit_of("flow_mm3_s").symbol
    'mm³/s'
    >>> unit_of("reversals") is None
    True
    """
    words = name.split("_")
    for count in (3, 2, 1):
        unit = BY_SUFFIX.get("_".join(words[-count:])) if len(words) > count else None
        if unit:
            return unit
    return None


def show(value: float, suffix: str) -> str:
    """A value with its symbol as a page shows it.

    >>> show(214.6, "c")
    '215 °C'
    """
    unit = BY_SUFFIX[suffix]
    return f"{value:z,.{unit.decimals}f} {unit.symbol}"


@dataclass(frozen=True, slots=True)
class Imperial:
    """How a unit is shown in imperial measures: value times ``factor`` plus ``offset``."""

    symbol: str
    factor: float
    decimals: int
    offset: float = 0.0


IMPERIAL = {
    "mm": Imperial("in", 1 / 25.4, 3), "um": Imperial("mil", 1 / 25.4, 2), "m": Imperial("ft", 1 / 0.3048, 1),
    "km": Imperial("mi", 1 / 1.609344, 2), "mm_s": Imperial("in/s", 1 / 25.4, 2),
    "m_s": Imperial("ft/s", 1 / 0.3048, 2), "mm_s2": Imperial("in/s²", 1 / 25.4, 0),
    "g": Imperial("oz", 1 / 28.349523125, 2), "kg": Imperial("lb", 1 / 0.45359237, 2),
    "c": Imperial("°F", 1.8, 0, 32.0), "c_s": Imperial("°F/s", 1.8, 2), "n": Imperial("lbf", 1 / 4.4482216152605, 2),
}  # fmt: skip
"""By suffix; exact definitions (NIST SP 811, appendix B). What is left out is shown as it is, since the trade has no
other: flow in mm³/s, density in g/cm³."""


def show_imperial(value: float, suffix: str) -> str:
    """A value in imperial measures with its symbol, as a page shows it where the farm has chosen them.

    >>> show_imperial(210, "c"), show_imperial(25.4, "mm"), show_imperial(8.5, "mm3_s")
    ('410 °F', '1.000 in', '8.5 mm³/s')
    """
    held = IMPERIAL.get(suffix)
    if held is None:
        return show(value, suffix)
    return f"{value * held.factor + held.offset:z,.{held.decimals}f} {held.symbol}"


def show_rounded(value: float) -> str:
    """A bare number to three significant digits, never in powers of ten.

    >>> show_rounded(12345.6), show_rounded(0.01234), show_rounded(2.5)
    ('12,300', '0.0123', '2.5')
    """
    if value == 0 or not math.isfinite(value):
        return f"{value:z.0f}"
    digits = 2 - math.floor(math.log10(abs(value)))
    shown = f"{round(value, digits):,.{max(0, digits)}f}"
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def show_duration(seconds: float) -> str:
    """A length of time in the two largest units that matter.

    >>> show_duration(4980)
    '1 h 23 min'
    >>> show_duration(42)
    '42 s'
    """
    if round(seconds) < 60:
        return f"{seconds:z.0f} s"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 48 * 60:
        return f"{minutes // 60} h {minutes % 60:02d} min"
    hours = round(seconds / 3600)
    return f"{hours // 24} d {hours % 24} h"


@dataclass(frozen=True, slots=True)
class Money:
    """An amount with its currency (ISO 4217 code)."""

    amount: Decimal
    currency: str

    @classmethod
    def of(cls, amount: float, currency: str) -> "Money":
        """A computed amount, rounded to the hundredth.

        >>> str(Money.of(12.345, "EUR"))
        '12.35 EUR'
        """
        return cls(Decimal(repr(float(amount))).quantize(Decimal("0.01"), ROUND_HALF_UP), currency)

    def __str__(self) -> str:
        return f"{self.amount:,.2f} {self.currency}"
