"""Describing machines and the parts fitted to them."""

import math
from collections.abc import Callable
from dataclasses import fields, replace
from datetime import datetime, timedelta
from typing import Any, get_args, get_origin, get_type_hints

from feedwright.catalogue.entry import Build, Catalogue
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict
from feedwright.farm.house import moment
from feedwright.farm.naming import nearest, one_of, pick, pick_entry, within
from feedwright.farm.people import person_id
from feedwright.farm.settings import figures
from feedwright.farm.totals import recount
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.values import Fitting, History, Machine
from feedwright.toolpath.values import MotionLimits
from feedwright.wear.exposure import exposure_of
from feedwright.wear.typical import typical_stretch
from feedwright.wear.values import Surroundings


def machines(store: Store) -> list[Machine]:
    """Every machine, by name."""
    return sorted(store.machines(), key=lambda machine: machine.name.casefold())


def machine_named(store: Reads, name: str) -> Machine:
    """The machine of that name; refuses with the nearest names."""
    return pick({machine.name: machine for machine in store.machines()}, name, "machine")


def add_machine(
    store: Store,
    name: str,
    build: str,
    *,
    product_changes: dict[str, str] | None = None,
    in_service_since: datetime | None = None,
    history: History = "unknown",
    box_mm: tuple[float, float, float] | None = None,
    motion_changes: dict[str, Any] | None = None,
    note: str = "",
    at_utc: datetime | None = None,
    person: str | None = None,
) -> Machine:
    """Describe a machine by a build of the catalogue, and fit the parts it comes with.

    ``history`` says what its parts have been through: 'new', 'used' (reckoned from ``in_service_since`` at
    the usual hours a day) or 'unknown' (a wide guess, shown as one). ``product_changes`` names other
    products by part kind.
    """
    catalogue = load_catalogue()
    plan = pick_entry(catalogue.builds, build, "build")
    registered = moment(at_utc)
    one_of("history", history, get_args(History))
    machine = Machine(
        name=name.strip(),
        build=plan.id,
        drive=plan.drive,
        hot_end=plan.hot_end,
        box_mm=_box(box_mm or plan.box_mm),
        motion=motion_with(MotionLimits(), {**plan.motion, **(motion_changes or {})}),
        registered_utc=registered,
        tube_needed_mm=plan.tube_needed_mm,
        enclosure_c=plan.enclosure_c,
        note=note,
    )
    fitted = _fittings(store, catalogue, plan, machine, product_changes or {}, in_service_since, history)
    with store.act("add machine", person_id=person_id(store, person)) as act:
        _refuse_name(act, name)
        machine_id = act.add(machine)
        for fitting in fitted:
            act.add(replace(fitting, machine_id=machine_id))
    return replace(machine, id=machine_id, act_id=act.id)


def _refuse_name(records: Reads, name: str) -> None:
    if not name.strip() or len(name) > 60:
        raise BadInput(
            "machine name", place=f"“{name}”", expected="expected 1 to 60 letters", remedy="name the machine"
        )
    if "/" in name or "\\" in name or not name.isprintable():
        raise BadInput(
            "machine name", place=f"{name!r}", expected="expected no slash and no control character",
            remedy="write a blank or a dash instead",
        )  # fmt: skip
    if any(machine.name.casefold() == name.strip().casefold() for machine in records.machines()):
        raise Conflict(
            "machine name",
            place=f"“{name}”",
            expected="a machine of that name is known",
            remedy="choose another",
        )


def _box(box_mm: Any) -> tuple[float, float, float]:
    if not isinstance(box_mm, (list, tuple)) or len(box_mm) != 3:
        raise BadInput("box", place=f"{box_mm!r}", expected="expected three lengths in mm", remedy="give X, Y and Z")
    for axis, length in zip("XYZ", box_mm, strict=True):
        if not (_is_number(length) and 20 <= length <= 3000):
            raise BadInput(
                f"box {axis}",
                place=f"{length} mm",
                expected="expected 20 to 3000 mm",
                remedy="give the printable length of the axis",
            )
    x_mm, y_mm, z_mm = box_mm
    return (float(x_mm), float(y_mm), float(z_mm))


def motion_with(motion: MotionLimits, changes: dict[str, Any]) -> MotionLimits:
    """The limits with some of them changed; refuses an unknown name or a value of the wrong kind."""
    known = get_type_hints(MotionLimits)
    for name, value in changes.items():
        if name not in known:
            raise BadInput("motion limit", place=f"“{name}”", expected="no such limit", remedy=nearest(name, known))
        _refuse_kind(name, value, known[name])
    listed: dict[str, Any] = {k: tuple(value) if isinstance(value, list) else value for k, value in changes.items()}
    return replace(motion, **listed)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _refuse_kind(name: str, value: Any, kind: Any) -> None:
    if get_origin(kind) is tuple:
        right = isinstance(value, (list, tuple)) and len(value) == 4 and all(_is_number(p) and p > 0 for p in value)
        expected = "expected four numbers above 0: X, Y, Z, filament"
    elif kind in (int, float):
        right = _is_number(value)
        expected = "expected a number"
    else:
        right = value in get_args(kind)
        expected = "expected one of " + ", ".join(map(str, get_args(kind)))
    if not right:
        raise BadInput(name, place=f"“{value}”", expected=expected, remedy="change the value")


def _fittings(
    store: Store,
    catalogue: Catalogue,
    plan: Build,
    machine: Machine,
    product_changes: dict[str, str],
    in_service_since: datetime | None,
    history: History,
) -> list[Fitting]:
    """The parts the build comes with, as fittings whose machine is not yet stored."""
    fitted_kinds = {part_kind for part_kind, _, _ in plan.parts}
    known = {kind: kind for kind in fitted_kinds}
    products = {pick_entry(known, kind, "part of this build"): product for kind, product in product_changes.items()}
    since = moment(in_service_since) if in_service_since else machine.registered_utc
    if since > machine.registered_utc:
        raise BadInput(
            "in service since",
            place=f"{since:%Y-%m-%d}",
            expected="expected a past date",
            remedy="correct the date",
        )
    return [
        Fitting(
            machine_id=0,
            part_kind=part_kind,
            position=position,
            product=_product(catalogue, part_kind, products.get(part_kind, product)),
            fitted_utc=machine.registered_utc,
            history=history,
            exposure_before=_before(store, catalogue, machine, part_kind, since) if history == "used" else 0.0,
            length_mm=plan.tube_length_mm if part_kind == "guide_tube" else None,
        )
        for part_kind, product, count in plan.parts
        for position in range(1, count + 1)
    ]


def _product(catalogue: Catalogue, part_kind: str, product: str) -> str:
    products = {known.id: known.id for known in catalogue.parts[part_kind].products}
    return pick_entry(products, product, f"product of {catalogue.parts[part_kind].title.lower()}")


def _before(store: Store, catalogue: Catalogue, machine: Machine, part_kind: str, since: datetime) -> float:
    """What a part has been through since a date at the usual hours a day."""
    numbers = figures(store)
    days = (machine.registered_utc - since) / timedelta(days=1)
    hours = days * numbers.numbers["usual_hours_per_day_h"].value
    material = next(iter(catalogue.materials.values()))
    around = Surroundings(material.id, machine.enclosure_c, machine.motion.filament_diameter_mm)
    stretch = typical_stretch(
        hours, material.nozzle_c.value, material, None, numbers, filament_diameter_mm=around.filament_diameter_mm
    )
    return exposure_of(catalogue.parts[part_kind], stretch, around, material)


def _enclosure(value: Any) -> float:
    return within("enclosure_c", _number("enclosure_c", value), -20, 150, "°C")


def _tube(value: Any) -> float:
    return within("tube_needed_mm", _number("tube_needed_mm", value), 0, 10_000, "mm")


def _number(name: str, value: Any) -> float:
    if not _is_number(value):
        raise BadInput(name, place=f"{value!r}", expected="expected a number", remedy="change the value")
    return float(value)


CHANGEABLE: dict[str, Callable[[Any], Any]] = {
    "note": str,
    "box_mm": _box,
    "tube_needed_mm": _tube,
    "enclosure_c": _enclosure,
}
"""What of a machine may be described anew, besides its motion limits, and what checks the new value."""


def change_machine(
    store: Store, name: str, changes: dict[str, Any], *, reason: str, person: str | None = None
) -> Machine:
    """Describe a machine anew from now on; ``changes`` maps field names, or motion limits, to new values.

    What was charged before keeps the surroundings it was printed in.
    """
    limits = {field.name for field in fields(MotionLimits)}
    for key in changes:
        if key not in CHANGEABLE and key not in limits:
            remedy = nearest(key, [*CHANGEABLE, *limits])
            raise BadInput("field", place=f"“{key}”", expected="cannot be changed", remedy=remedy)
    own = {key: CHANGEABLE[key](value) for key, value in changes.items() if key in CHANGEABLE}
    with store.act("change machine", person_id=person_id(store, person), reason=reason) as act:
        machine = machine_named(act, name)
        motion = motion_with(machine.motion, {key: value for key, value in changes.items() if key in limits})
        changed = replace(machine, **{**own, "motion": motion})
        latest, _ = act.states(machine.id)[-1]
        act.add_state(changed, max(moment(None), latest))
        recount(act, load_catalogue(), machine.id)  # for runs dated after this moment
    return changed
