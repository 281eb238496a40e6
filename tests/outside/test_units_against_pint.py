"""The unit list judged by pint, a general-purpose units library (the SI brochure's factors)."""

import pint
import pytest

from feedwright.units import BY_SUFFIX, IMPERIAL, UNITS, Unit

REGISTRY = pint.UnitRegistry()
PINT_NAMES = {
    "um": "micrometer", "min": "minute", "minutes": "minute", "h": "hour", "d": "day", "days": "day", "g": "gram",
    "mm2": "mm**2", "mm3": "mm**3", "m2": "m**2", "m3": "m**3", "cm3": "cm**3", "mm_s": "mm/s", "m_s": "m/s",
    "mm_s2": "mm/s**2", "mm3_s": "mm**3/s", "g_cm3": "g/cm**3", "kg_m3": "kg/m**3", "dk": "delta_degC",
    "c_s": "delta_degC/s", "w": "W", "j": "J", "w_k": "W/K", "k_w": "K/W", "j_k": "J/K", "w_mk": "W/(m*K)",
    "w_m2k": "W/(m**2*K)", "j_kgk": "J/(kg*K)", "n": "N", "nmm": "N*mm", "mpa": "MPa", "pa_s": "Pa*s", "ev": "eV",
    "v": "V", "a": "A", "deg": "degree", "rpm": "1/minute", "per_h": "1/hour", "per_kg": "1/kg", "per_mm": "1/mm",
}  # fmt: skip
NOT_SCALES = ("c", "pa_sn")
"""°C is a point with an offset; a power law's constant has a dimension that depends on its exponent."""


@pytest.mark.parametrize("unit", [unit for unit in UNITS if unit.suffix not in NOT_SCALES], ids=lambda u: u.suffix)
def test_factor_to_si_agrees(unit: Unit) -> None:
    judged = REGISTRY.Quantity(1.0, PINT_NAMES.get(unit.suffix, unit.suffix)).to(unit.si)
    assert judged.magnitude == pytest.approx(unit.factor, rel=1e-12)


@pytest.mark.parametrize("suffix", IMPERIAL)
@pytest.mark.parametrize("value", [0.0, 1.0, 215.0, -3.5])
def test_imperial_measures_agree_with_the_library(suffix: str, value: float) -> None:
    names = {"in": "inch", "mil": "thou", "ft": "foot", "mi": "mile", "in/s": "inch/second", "ft/s": "foot/second",
             "in/s²": "inch/second**2", "oz": "ounce", "lb": "pound", "°F": "degF", "°F/s": "delta_degF/second",
             "lbf": "force_pound"}  # fmt: skip
    ours, unit = IMPERIAL[suffix], BY_SUFFIX[suffix]
    held = REGISTRY.Quantity(value * unit.factor, "delta_degC/second" if suffix == "c_s" else unit.si)
    assert value * ours.factor + ours.offset == pytest.approx(held.to(names[ours.symbol]).magnitude, rel=1e-9, abs=1e-9)
