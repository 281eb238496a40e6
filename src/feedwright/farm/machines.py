"""Describing machines and the parts fitted to them."""

from dataclasses import fields, replace
from datetime import datetime, timedelta
from typing import Any, get_args, get_type_hints

from feedwright.catalogue.entry import Build, Catalogue
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict
from feedwright.farm.house import moment
from feedwright.farm.naming import nearest, pick, pick_entry
from feedwright.farm.people import person_id
from feedwright.farm.settings import figures
from feedwright.records.store import Store
from feedwright.records.values import Fitting, History, Machine
from feedwright.toolpath.values import MotionLimits
from feedwright.wear.exposure import exposure_of
from feedwright.wear.typical import typical_stretch
from feedwright.wear.values import Surroundings


def machines(store: Store) -> list[Machine]:
    """Every machine, by name."""
    return sorted(store.machines(), key=lambda machine: machine.name.casefold())


def machine_named(store: Store, name: str) -> Machine:
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
    _refuse_name(store, name)
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
        machine_id = act.add(machine)
        for fitting in fitted:
            act.add(replace(fitting, machine_id=machine_id))
    return machine_named(store, name.strip())


def _refuse_name(store: Store, name: str) -> None:
    if not name.strip() or len(name) > 60:
        raise BadInput(
            "machine name", place=f"“{name}”", expected="expected 1 to 60 letters", remedy="name the machine"
        )
    if any(machine.name.casefold() == name.strip().casefold() for machine in store.machines()):
        raise Conflict(
            "machine name",
            place=f"“{name}”",
            expected="a machine of that name is known",
            remedy="choose another",
        )


def _box(box_mm: tuple[float, float, float]) -> tuple[float, float, float]:
    for axis, length in zip("XYZ", box_mm, strict=True):
        if not 20 <= length <= 3000:
            raise BadInput(
                f"box {axis}",
                place=f"{length:g} mm",
                expected="expected 20 to 3000 mm",
                remedy="give the printable length of the axis",
            )
    return box_mm


def motion_with(motion: MotionLimits, changes: dict[str, Any]) -> MotionLimits:
    """The limits with some of them changed; refuses an unknown name or a value of the wrong kind."""
    known = get_type_hints(MotionLimits)
    for name, value in changes.items():
        if name not in known:
            raise BadInput("motion limit", place=f"“{name}”", expected="no such limit", remedy=nearest(name, known))
        _refuse_kind(name, value, known[name])
    listed: dict[str, Any] = {k: tuple(value) if isinstance(value, list) else value for k, value in changes.items()}
    return replace(motion, **listed)


def _refuse_kind(name: str, value: Any, kind: Any) -> None:
    if isinstance(value, (list, tuple)):
        right = len(value) == 4 and all(isinstance(part, (int, float)) and part > 0 for part in value)
        expected = "expected four numbers above 0: X, Y, Z, filament"
    elif kind in (int, float):
        right = isinstance(value, (int, float)) and value >= 0
        expected = "expected a number, 0 or more"
    else:
        right = value in get_args(kind)
        expected = "expected one of " + ", ".join(map(str, get_args(kind)))
    if not right:
        raise BadInput(name, place=f"{value!r}", expected=expected, remedy="change the value")


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
    for part_kind in product_changes:
        pick_entry({kind: kind for kind in fitted_kinds}, part_kind, "part of this build")
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
            product=_product(catalogue, part_kind, product_changes.get(part_kind, product)),
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
    stretch = typical_stretch(hours, material.nozzle_c.value, material, None, numbers)
    around = Surroundings(material.id, machine.enclosure_c, machine.motion.filament_diameter_mm)
    return exposure_of(catalogue.parts[part_kind], stretch, around, material)


CHANGEABLE = ("note", "box_mm", "tube_needed_mm", "enclosure_c", "motion")


def change_machine(
    store: Store, name: str, changes: dict[str, Any], *, reason: str, person: str | None = None
) -> Machine:
    """Describe a machine anew from now on; ``changes`` maps field names, or motion limits, to new values."""
    machine = machine_named(store, name)
    limits = {field.name for field in fields(MotionLimits)}
    own = {key: value for key, value in changes.items() if key not in limits}
    for key in own:
        if key not in CHANGEABLE:
            raise BadInput("field", place=f"“{key}”", expected="cannot be changed", remedy=nearest(key, CHANGEABLE))
    motion = motion_with(machine.motion, {key: value for key, value in changes.items() if key in limits})
    if "box_mm" in own:
        own["box_mm"] = _box(tuple(own["box_mm"]))
    changed = replace(machine, **{**own, "motion": motion})
    with store.act("change machine", person_id=person_id(store, person), reason=reason) as act:
        act.add_state(changed, moment(None))
    return machine_named(store, name)
