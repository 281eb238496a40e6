"""The working values of each machine with their history, and which no longer suit the parts that are fitted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.parts.feed_paths import BORES_MM, feed_path_of
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Fitting, Machine, MachineSetting, Removal


@dataclass(frozen=True, slots=True)
class WorkingValue:
    """One kind of working value: its unit, what it can be, and the parts whose renewal makes it doubtful."""

    name: str
    title: str
    unit: str
    least: float
    most: float
    rests_on: tuple[str, ...]


WORKING_VALUES = {
    value.name: value
    for value in (
        WorkingValue("steps_per_mm", "steps per mm of filament", "per_mm", 5, 5000, ("drive_gear", "idler")),
        WorkingValue("heater_gain", "heater: gain, % per K", "ratio", 0, 1000, ("heater", "temperature_sensor")),
        WorkingValue("heater_integral_s", "heater: integral time", "s", 0, 10_000, ("heater", "temperature_sensor")),
        WorkingValue("heater_derivative_s", "heater: derivative time", "s", 0, 1000, ("heater", "temperature_sensor")),
        WorkingValue("nozzle_offset_mm", "nozzle offset over the bed", "mm", -10, 10, ("nozzle", "bed_surface")),
        WorkingValue("retract_mm", "retraction", "mm", 0, 15, ("guide_tube", "tube_coupler", "heat_break")),
        WorkingValue("flow_ratio", "flow ratio", "ratio", 0.5, 1.5, ("nozzle", "drive_gear")),
        WorkingValue("unload_mm", "length to unload", "mm", 10, 5000, ("guide_tube", "tube_end")),
        WorkingValue("nozzle_c", "nozzle temperature", "c", 100, 500, ("temperature_sensor", "nozzle")),
        WorkingValue("greatest_flow_mm3_s", "greatest flow", "mm3_s", 0.1, 200, ("nozzle", "drive_gear", "guide_tube")),
    )
}
TUBE_LENGTH = WorkingValue("tube_length_mm", "length of the guide tube", "mm", 0, 100_000, ())
"""Not written down here: it follows from the tube as fitted and its trims."""
USUAL_PUSH_N = 20.0
"""Push at which the spring in the filament is reckoned for a warning (assumed)."""


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """One working value as it stands, its history, and what speaks against it now."""

    kind: WorkingValue
    now: MachineSetting
    history: tuple[MachineSetting, ...]
    """Latest first, the present one included."""
    warnings: tuple[str, ...]


def set_value(
    store: Store,
    machine: str,
    name: str,
    value: float,
    *,
    why: str,
    material: str = "",
    set_utc: datetime | None = None,
    person: str | None = None,
) -> MachineSetting:
    """Write down a working value of a machine, and why it was set."""
    whose = machine_named(store, machine)
    why = text("reason", why, needed=True)
    with store.act("set value", person_id=person_id(store, person), reason=why) as act:
        return set_within(act, whose, name, value, why=why, material=material, set_utc=moment(set_utc))


def set_within(
    act: ActInHand,
    machine: Machine,
    name: str,
    value: float,
    *,
    why: str,
    set_utc: datetime,
    material: str = "",
    measurement_id: int | None = None,
) -> MachineSetting:
    """The same within an act that writes more."""
    kind = pick_entry(WORKING_VALUES, name, "working value")
    within(kind.title, value, kind.least, kind.most, kind.unit)
    material = pick_entry(load_catalogue().materials, material, "material").id if material else ""
    made = MachineSetting(machine.id, set_utc, kind.name, value, kind.unit, why, material, measurement_id)
    return replace(made, id=act.add(made), act_id=act.id)


def ledger(store: Store, machine: str) -> list[LedgerLine]:
    """Every working value of a machine with its history; in the order of :data:`WORKING_VALUES`."""
    whose = machine_named(store, machine)
    held: dict[tuple[str, str], list[MachineSetting]] = {}
    for setting in sorted(store.machine_settings(whose.id), key=lambda one: (one.set_utc, one.id)):
        held.setdefault((setting.name, setting.material), []).append(setting)
    lines = []
    for kind in WORKING_VALUES.values():
        for (name, _), history in held.items():
            if name == kind.name:
                now = history[-1]
                lines.append(LedgerLine(kind, now, tuple(reversed(history)), tuple(_warnings(store, whose, kind, now))))
    return lines + _tube_length(store, whose)


def _tube_length(records: Reads, machine: Machine) -> list[LedgerLine]:
    """The guide tube's length as fitted and after each trim; nothing where it is not on record."""
    tube = next((one for one in records.fittings(machine.id, open_only=True) if one.part_kind == "guide_tube"), None)
    if tube is None or tube.length_mm is None:
        return []
    left, history = tube.length_mm, []
    history.append(_as_fitted(tube, left, tube.fitted_utc, "as fitted", tube.act_id))
    trims = [one for one in records.removals(machine.id) if one.trimmed_mm and one.removed_utc > tube.fitted_utc]
    for removal in sorted(trims, key=lambda one: one.removed_utc):
        left -= removal.trimmed_mm or 0.0
        why = f"trimmed by {removal.trimmed_mm:g} mm"
        history.append(_as_fitted(tube, left, removal.removed_utc, why, removal.act_id))
    short = f"The far corners need {machine.tube_needed_mm:g} mm: fit a new tube."
    warnings = (short,) if left < machine.tube_needed_mm else ()
    return [LedgerLine(TUBE_LENGTH, history[-1], tuple(reversed(history)), warnings)]


def _as_fitted(tube: Fitting, length_mm: float, at_utc: datetime, why: str, act_id: int) -> MachineSetting:
    return MachineSetting(tube.machine_id, at_utc, TUBE_LENGTH.name, length_mm, TUBE_LENGTH.unit, why, act_id=act_id)


def _warnings(store: Store, machine: Machine, kind: WorkingValue, now: MachineSetting) -> list[str]:
    """What was renewed or trimmed since the value was set, one line a part, and where it contradicts the parts."""
    fittings = {fitting.id: fitting for fitting in store.fittings(machine.id)}
    since: dict[str, list[Removal]] = {}
    for removal in sorted(store.removals(machine.id), key=lambda one: one.removed_utc):
        old = fittings.get(removal.fitting_id)
        if removal.removed_utc > now.set_utc and old is not None and old.part_kind in kind.rests_on:
            since.setdefault(old.part_kind, []).append(removal)
    said = [_since(kind, removals, fittings) for removals in since.values()]
    if kind.name == "retract_mm":
        said += _retraction(store, machine, now)
    return said


def _since(kind: WorkingValue, removals: Sequence[Removal], fittings: Mapping[int, Fitting]) -> str:
    """What one part's renewals and trims, the first of them first, mean for a value set before them."""
    first, last = fittings[removals[0].fitting_id], removals[-1]
    day = f"{last.removed_utc:%Y-%m-%d}"
    trimmed_mm = sum(one.trimmed_mm or 0.0 for one in removals)
    if kind.name == "unload_mm" and trimmed_mm:
        return f"The tube was trimmed by {trimmed_mm:g} mm since, last on {day}: unload that much less."
    new = fittings.get(last.replaced_by or 0)
    before, after = BORES_MM.get(first.product), BORES_MM.get(new.product) if new else None
    if kind.name == "retract_mm" and before and after and before != after:
        wider = "wider" if after > before else "closer"
        return (
            f"It was tuned for a bore of {before:g} mm; since {day} a {wider} one of {after:g} mm is fitted: tune anew."
        )
    title = load_catalogue().parts[first.part_kind].title.lower()
    often = f"on {day}" if len(removals) == 1 else f"{len(removals)} times, last on {day}"
    return f"The {title} was renewed since, {often}: check this value again."


def _retraction(store: Store, machine: Machine, now: MachineSetting) -> list[str]:
    """Held against the slack of the feed path as it is fitted."""
    from feedwright.physics.slack import slack

    feed = feed_path_of(store, machine)
    stuff = load_catalogue().materials[now.material or "pla"]
    lost = slack(feed, stuff, push_n=USUAL_PUSH_N)
    if now.value < lost.retraction_mm.low:
        return [f"The slack of the fitted path takes up {lost.lost_mm:.1f} mm: {now.value:g} mm will string."]
    if now.value > lost.longest_mm:
        return [f"More than {lost.longest_mm:.1f} mm draws melt up into the cold part of this hot end."]
    return []


def value_now(records: Reads, machine: Machine, name: str, material: str = "") -> float | None:
    """The working value that holds, that of the material before one for all; None where none was written down."""
    held: Sequence[MachineSetting] = sorted(
        (one for one in records.machine_settings(machine.id) if one.name == name and one.material in ("", material)),
        key=lambda one: (one.material != "", one.set_utc, one.id),
    )
    return held[-1].value if held else None
