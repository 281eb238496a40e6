"""What is known of a case before any symptom: the machine's build, its parts' outlook, its events and renewals."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import MaterialTrait, Network
from feedwright.diagnosis.values import Situation
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.records.store import Store
from feedwright.records.values import Event, Fitting, Machine, Removal
from feedwright.wear.values import Interval, Outlook

RECENT = timedelta(days=14)
"""How far back an event, a renewal or a look bears on a trouble (assumed)."""
NINE_TENTHS = 1.2815515655446004
"""Standard normal quantile: the outlook's band holds the middle 80 %."""
WET_POLYMERS = frozenset(["pa6", "pa12", "pva", "tpu_95a", "tpu_85a", "pc"])
"""Polymers that take up so much water that it shows (common practice)."""


@dataclass(frozen=True, slots=True)
class Known:
    """What the records say of a machine before any symptom, and in words."""

    situation: Situation
    because: tuple[str, ...]


CASE_ACTS = ("open case", "tell case", "close case")
"""Acts that change nothing of what is known beforehand."""
KEPT = 64
_kept: dict[tuple[object, ...], Known] = {}


def known_of(store: Store, network: Network, machine: Machine, material: str, now_utc: datetime) -> Known:
    """The situation of an own machine; reckoned once an hour and after each act that bears on it."""
    latest = next((act.id for act in store.acts(500) if act.kind not in CASE_ACTS), 0)
    hour = now_utc.replace(minute=0, second=0, microsecond=0)
    key = (store.folder.resolve(), latest, machine.id, material, hour, network.digest)
    if key not in _kept:
        if len(_kept) >= KEPT:
            _kept.clear()
        _kept[key] = _known_of(store, network, machine, material, now_utc)
    return _kept[key]


def _known_of(store: Store, network: Network, machine: Machine, material: str, now_utc: datetime) -> Known:
    parts = fitted_parts(store, now_utc, machines=[machine])
    spent = _spent(parts)
    events = [event for event in store.events(machine.id) if timedelta(0) <= now_utc - event.at_utc <= RECENT]
    renewed = _renewed(store.fittings(machine.id), store.removals(machine.id), now_utc)
    holds = dict.fromkeys(_by_records(network, events, renewed), True)
    if machine.enclosure_c >= 35:
        holds["enclosed"] = True
    if parts and max(part.pace.printing_h_per_day for part in parts) >= 8:
        holds["heavy_duty"] = True
    holds |= traits(network, material)
    situation = Situation(machine.drive, machine.hot_end, holds, spent, _sound(parts, now_utc))
    return Known(situation, tuple(_words(network, parts, spent, holds)))


def traits(network: Network, material: str) -> dict[str, bool]:
    """Circumstances that a material answers; none where it is not known."""
    held = load_catalogue().materials.get(material)
    if held is None:
        return {}
    has = _traits_of(held)
    return {one.id: one.material in has for one in network.circumstances.values() if one.material}


def _traits_of(material: Material) -> set[MaterialTrait]:
    found: set[MaterialTrait] = set()
    if material.abrasive_ratio.value > 1.5:
        found.add("abrasive")
    if material.polymer in WET_POLYMERS:
        found.add("thirsty")
    if material.modulus_mpa.value < 300:
        found.add("flexible")
    if material.enclosure:
        found.add("shrinking")
    if material.nozzle_c.value > 240:
        found.add("hot")
    return found


def spent_frac(outlook: Outlook) -> float:
    """Chance that a part's life is over at its exposure so far, had nobody looked.

    Life and exposure are taken as lognormal by their bands (middle 80 %): P(life < exposure).
    """
    life, gathered = outlook.life, outlook.exposure
    if gathered.mid <= 0:
        return 0.0
    spread = math.hypot(_log_sd(life), _log_sd(gathered)) or 1e-6
    return 0.5 * (1 + math.erf((math.log(gathered.mid) - math.log(life.mid)) / spread / math.sqrt(2)))


def _log_sd(band: Interval) -> float:
    low, high = max(band.low, 1e-3 * band.mid), max(band.high, 1e-3 * band.mid)
    return (math.log(high) - math.log(low)) / (2 * NINE_TENTHS)


def _spent(parts: Iterable[FittedPart]) -> dict[str, float]:
    """By part kind, the worst of its fittings."""
    spent: dict[str, float] = {}
    for part in parts:
        spent[part.kind.id] = max(spent.get(part.kind.id, 0.0), spent_frac(part.outlook))
    return spent


def _sound(parts: Iterable[FittedPart], now_utc: datetime) -> frozenset[str]:
    """Part kinds whose every fitting was found good lately."""
    found: dict[str, bool] = {}
    for part in parts:
        last = part.last_finding
        grade = part.kind.grade(last.grade) if last and now_utc - last.found_utc <= RECENT else None
        good = grade is not None and not grade.failed and grade.life_high_frac <= 0.7
        found[part.kind.id] = found.get(part.kind.id, True) and good
    return frozenset(kind for kind, good in found.items() if good)


def _renewed(fittings: list[Fitting], removals: list[Removal], now_utc: datetime) -> set[str]:
    kinds = {fitting.id: fitting.part_kind for fitting in fittings}
    return {kinds[one.fitting_id] for one in removals
            if one.fitting_id in kinds and timedelta(0) <= now_utc - one.removed_utc <= RECENT}  # fmt: skip


def _by_records(network: Network, events: list[Event], renewed: set[str]) -> list[str]:
    happened = {event.kind for event in events}
    return [one.id for one in network.circumstances.values() if one.event in happened or renewed & set(one.renewed)]


def _words(network: Network, parts: list[FittedPart], spent: dict[str, float], holds: dict[str, bool]) -> Iterable[str]:
    for part in sorted(parts, key=lambda part: -spent[part.kind.id])[:3]:
        if spent[part.kind.id] > 0.25:
            used = part.outlook.share_used.mid
            yield f"{part.title}: {used:.0%} of its expected life is used, so it is suspected sooner."
    for name, there in holds.items():
        if there:
            yield f"On record: {network.circumstances[name].title}."
