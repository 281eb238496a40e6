"""The farm's own name, zone and figures; the catalogue's figures hold where the farm has said nothing."""

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Literal, get_args
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, available_timezones

from feedwright.catalogue.entry import Figures, Sourced
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.currencies import ACTIVE
from feedwright.farm.ground.naming import NAME, nearest, one_of, pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Setting

Measures = Literal["metric", "imperial"]
MEASURES: tuple[Measures, ...] = get_args(Measures)
LONGEST_ADDRESS = 200
OWN_FIGURE = "farm"
"""Source mark of a figure the farm has set itself."""
PRICE_RATIO, MONEY = "price_ratio", "currency"
MOST = {
    "frac": 1, "minutes": 1440, "days": 1000, "h": 1000, "mm": 100, "m": 10_000, "mm3_s": 500, "per_h": 100_000,
    "ratio": 1e6, MONEY: 1e9,
}  # fmt: skip
MOST_OF, LEAST_OF = {"usual_hours_per_day_h": 24}, {PRICE_RATIO: 1e-6}
"""What a figure of a unit, and one figure by itself, may be at most and at least (assumed)."""


def _read(store: Reads, name: str, otherwise: Any) -> Any:
    held = store.settings()
    return json.loads(held[name]) if name in held else otherwise


def _write(store: Store, name: str, value: Any, person: str | None) -> None:
    with store.act("set", person_id=person_id(store, person)) as act:
        act.add(Setting(name, json.dumps(value)))


def set_together(
    store: Store, words: Mapping[str, str], numbers: Mapping[str, float], *, person: str | None = None
) -> None:
    """Set words (name, zone, measures, address, currency) and figures in one act: all of them or none.

    A change of currency takes its ``price_ratio`` from the figures.
    """
    figures_asked = dict(numbers)
    with store.act("set", person_id=person_id(store, person)) as act:
        for name, value in words.items():
            if name == MONEY:
                _currency_within(act, value, figures_asked.pop(PRICE_RATIO, None))
            else:
                act.add(Setting(name, json.dumps(CHECKED[name](value))))
        for name, number in figures_asked.items():
            _figure_within(act, name, number)


def farm_name(store: Store) -> str:
    """What the farm calls itself."""
    return str(_read(store, "name", "My farm"))


def set_farm_name(store: Store, name: str, *, person: str | None = None) -> None:
    """Give the farm a name."""
    _write(store, "name", _checked_name(name), person)


def _checked_name(name: str) -> str:
    return text("name", name, NAME, lines=False, needed=True)


def zone(store: Reads) -> ZoneInfo:
    """The zone in which pages and commands show times."""
    return ZoneInfo(str(_read(store, "zone", "UTC")))


def set_zone(store: Store, name: str, *, person: str | None = None) -> None:
    """Choose the zone by its IANA name."""
    _write(store, "zone", _checked_zone(name), person)


def _checked_zone(name: str) -> str:
    if name not in available_timezones():
        remedy = nearest(name, available_timezones())
        raise BadInput("zone", place=f"“{name}”", expected="expected an IANA zone such as Europe/Vienna", remedy=remedy)
    return name


def address(store: Reads) -> str:
    """The address that labels lead to; empty = that under which the pages are opened."""
    return str(_read(store, "address", ""))


def set_address(store: Store, base: str, *, person: str | None = None) -> None:
    """Choose the address that labels lead to; empty goes back to that under which the pages are opened."""
    _write(store, "address", _checked_address(base), person)


def _checked_address(base: str) -> str:
    return checked_base(base) if base.strip() else ""


def checked_base(base: str) -> str:
    """An address under which pages are opened, without a slash at its end; refuses what is none."""
    parts = urlsplit(base.strip())
    if parts.scheme not in ("http", "https") or not parts.netloc or parts.query or len(base) > LONGEST_ADDRESS:
        raise BadInput(
            "address", place=f"“{base:.60}”", expected="expected an address such as http://192.168.1.20:8765",
            remedy="copy it from a browser in which the pages are open",
        )  # fmt: skip
    return f"{parts.scheme}://{parts.netloc}{parts.path.rstrip('/')}"


def measures(store: Reads) -> Measures:
    """The measures in which pages show lengths, masses and temperatures; storage and commands are always metric."""
    return "imperial" if _read(store, "measures", MEASURES[0]) == "imperial" else "metric"


def set_measures(store: Store, word: str, *, person: str | None = None) -> None:
    """Choose the measures of the pages: metric or imperial."""
    _write(store, "measures", _checked_measures(word), person)


def _checked_measures(word: str) -> str:
    return one_of("measures", word, MEASURES)


CHECKED: dict[str, Callable[[str], str]] = {
    "name": _checked_name, "zone": _checked_zone, "address": _checked_address, "measures": _checked_measures,
}  # fmt: skip
"""The words that a farm says of itself, each with what refuses one that cannot be."""


def figures(store: Reads) -> Figures:
    """The figures in force, money in the farm's currency: its own where it has set one, else the catalogue's."""
    base, held = load_catalogue().figures, store.settings()
    ratio = float(json.loads(held.get(f"figure.{PRICE_RATIO}", "1")))
    own = {name: _in_force(sourced, held.get(f"figure.{name}"), ratio) for name, sourced in base.numbers.items()}
    currency = json.loads(held["currency"]) if "currency" in held else base.currency
    return replace(base, currency=currency, numbers=own)


def _in_force(base: Sourced, own: str | None, price_ratio: float) -> Sourced:
    if own is not None:
        value = float(json.loads(own))
        return Sourced(value, value, value, base.unit, OWN_FIGURE, note="set by this farm")
    if base.unit != MONEY or price_ratio == 1:
        return base
    return base.times(price_ratio)


def set_figure(store: Store, name: str, value: float, *, person: str | None = None) -> Sourced:
    """Set one of the farm's own figures; refuses an unknown name and a number that cannot be."""
    with store.act("set", person_id=person_id(store, person)) as act:
        spelt = _figure_within(act, name, value)
    return figures(store).numbers[spelt]


def _figure_within(act: ActInHand, name: str, value: float) -> str:
    numbers = load_catalogue().figures.numbers
    spelt = pick_entry({known: known for known in numbers}, name, "figure")
    within(spelt, value, LEAST_OF.get(spelt, 0.0), MOST_OF.get(spelt, MOST[numbers[spelt].unit]))
    if spelt == PRICE_RATIO:
        _price_ratio(figures(act).currency, value)
    act.add(Setting(f"figure.{spelt}", json.dumps(value)))
    return spelt


def set_currency(store: Store, code: str, *, price_ratio: float | None = None, person: str | None = None) -> None:
    """Choose the currency the farm reckons in, by its ISO 4217 code.

    ``price_ratio`` is how many of its units one of the catalogue's currency is, and needed where the two differ. Money
    figures that the farm has set itself are converted with it.
    """
    with store.act("set", person_id=person_id(store, person)) as act:
        _currency_within(act, code, price_ratio)


def _currency_within(act: ActInHand, code: str, price_ratio: float | None) -> None:
    spelt = code.strip().upper()
    if spelt not in ACTIVE:
        expected = "expected three letters, an active code of ISO 4217 such as EUR"
        raise BadInput("currency", place=f"“{code:.20}”", expected=expected, remedy=nearest(spelt, ACTIVE))
    ratio = _price_ratio(spelt, price_ratio)
    before = figures(act)
    act.add(Setting("currency", json.dumps(spelt)))
    act.add(Setting(f"figure.{PRICE_RATIO}", json.dumps(ratio)))
    by = ratio / before.numbers[PRICE_RATIO].value
    for name, held in before.numbers.items():
        if held.unit == MONEY and held.source == OWN_FIGURE and spelt != before.currency:
            act.add(Setting(f"figure.{name}", json.dumps(held.value * by)))


def _price_ratio(currency: str, ratio: float | None) -> float:
    """The ratio as it may be between that currency and the catalogue's."""
    listed = load_catalogue().figures.currency
    if currency == listed:
        if ratio not in (None, 1):
            expected = f"the farm reckons in {listed}, as the catalogue does: expected 1"
            raise BadInput(PRICE_RATIO, place=f"{ratio:g}", expected=expected, remedy="choose the currency first")
        return 1.0
    if ratio is None:
        raise BadInput(
            PRICE_RATIO,
            expected=f"the catalogue's prices are in {listed}: expected how many {currency} one {listed} is",
            remedy=f"give today's rate, or your shop's prices over those of the catalogue, along with {currency}",
        )
    return within(PRICE_RATIO, ratio, LEAST_OF[PRICE_RATIO], MOST["ratio"])
