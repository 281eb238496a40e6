"""Hot spells of machines: kept from their temperature messages, and what they say of heaters and fans."""

import json
from collections import defaultdict
from dataclasses import dataclass
from statistics import median

from feedwright.farm.ground.house import moment
from feedwright.farm.parts.events import HOTTEST_C, add_event
from feedwright.records.exchange_values import HotSpell
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import EventKind, Machine
from feedwright.service.hot_spells import COMPARED, WEAK_RATIO, Sign, Spell, rate_c_s


@dataclass(frozen=True, slots=True)
class HeatUps:
    """How fast a machine's heater heats, over all heat-ups since it was fitted."""

    machine: str
    spells: int
    rises: int
    """Heat-ups that went through 60 to 150 °C."""
    first_c_s: float | None
    """Median rate of the first few; None where there are too few."""
    latest_c_s: float | None
    highest_c: float
    said: str


def keep_spell(store: Store, machine: Machine, spell: Spell) -> HotSpell:
    """Record a spell that is over; one recorded already, as after a restart, is not written twice."""
    for held in store.every(HotSpell, machine_id=machine.id):
        if held.begun_utc == spell.begun_utc:
            return held
    kept = HotSpell(
        machine.id,
        spell.begun_utc,
        spell.last_utc,
        spell.from_c,
        spell.most_target_c,
        spell.highest_c,
        spell.rise_s,
        spell.dip_dk,
        spell.samples,
        json.dumps(spell.rise, separators=(",", ":")),
    )
    with store.act("hot spell") as act:
        act.add(kept)
    return kept


def keep_sign(store: Store, machine: Machine, sign: Sign) -> None:
    """Record what is over and left its mark: a stalled sink fan with its heat, a nozzle that had fallen away.

    One recorded already, as where its message came again after a restart, is not written twice.
    """
    if sign.kind == "fan_stall":
        note = f"The sink fan stood while the hot end was hot, up to {sign.nozzle_c:.0f} °C, by its own messages."
        _once(store, machine, "fan_stall", sign, note, minutes=sign.minutes)
    elif sign.kind == "fell_away":
        note = f"The nozzle fell well below its target of {sign.nozzle_c:.0f} °C, by its own messages."
        _once(store, machine, "note", sign, note)


def _once(store: Store, machine: Machine, kind: EventKind, sign: Sign, note: str, minutes: float | None = None) -> None:
    if any((one.kind, one.at_utc) == (kind, moment(sign.at_utc)) for one in store.events(machine.id)):
        return
    nozzle_c = min(sign.nozzle_c, HOTTEST_C)
    add_event(store, machine.name, kind, at_utc=sign.at_utc, nozzle_c=nozzle_c, minutes=minutes, note=note)


def heat_ups(records: Reads) -> list[HeatUps]:
    """What the spells of each machine say of the heater that it has now; machines without any are left out."""
    spells: dict[int, list[HotSpell]] = defaultdict(list)
    for one in records.every(HotSpell):
        spells[one.machine_id].append(one)
    machines = sorted(records.machines(), key=lambda one: one.name.casefold())
    return [_heat_ups(records, machine, spells[machine.id]) for machine in machines if machine.id in spells]


def _heat_ups(records: Reads, machine: Machine, spells: list[HotSpell]) -> HeatUps:
    heaters = [one for one in records.fittings(machine.id, open_only=True) if one.part_kind == "heater"]
    since = max((one.fitted_utc for one in heaters), default=machine.registered_utc)
    rises = [tuple((s, c) for s, c in json.loads(one.rise)) for one in spells if one.begun_utc >= since]
    rates = [rate for rise in rises if (rate := rate_c_s(rise)) is not None]
    first = median(rates[:COMPARED]) if len(rates) >= 2 * COMPARED else None
    latest = median(rates[-COMPARED:]) if len(rates) >= COMPARED else None
    return HeatUps(
        machine.name, len(spells), len(rates), first, latest, max(one.highest_c for one in spells), _said(first, latest)
    )


def _said(first_c_s: float | None, latest_c_s: float | None) -> str:
    if first_c_s is None or latest_c_s is None:
        return f"It takes {2 * COMPARED} heat-ups from below 60 °C to tell."
    share = latest_c_s / first_c_s
    if share < WEAK_RATIO:
        return f"It rises at {share:.0%} of its first rate: a weak heater, a loose one, or low supply voltage."
    return f"It rises at {share:.0%} of its first rate."
