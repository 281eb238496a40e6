"""Describing machines and the parts fitted to them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, get_args

from feedwright.catalogue.entry import Build, Catalogue
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import NAME, one_of, pick, pick_entry, text
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.settings import figures
from feedwright.farm.machines.describing import box, described, motion_with
from feedwright.farm.machines.totals import recount
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Fitting, History, Machine
from feedwright.toolpath.values import MotionLimits
from feedwright.wear.exposure import exposure_of
from feedwright.wear.typical import typical_stretch
from feedwright.wear.values import Surroundings


def machines(store: Store) -> list[Machine]:
    """Every machine, by name."""
    return sorted(store.machines(), key=lambda machine: machine.name.casefold())


@dataclass(frozen=True, slots=True)
class MachineInUse:
    """One machine and how much it has printed."""

    machine: Machine
    runs: int
    last_run_utc: datetime | None


def machines_in_use(store: Store) -> list[MachineInUse]:
    """Every machine, by name, with its runs and when the latest began."""
    last, counts = store.last_runs(), store.runs_by_machine()
    return [MachineInUse(machine, counts.get(machine.id, 0), last.get(machine.id)) for machine in machines(store)]


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
    made, fitted = machine_of(
        store,
        name,
        build,
        product_changes=product_changes,
        in_service_since=in_service_since,
        history=history,
        box_mm=box_mm,
        motion_changes=motion_changes,
        note=note,
        at_utc=at_utc,
    )
    with store.act("add machine", person_id=person_id(store, person)) as act:
        return add_within(act, made, fitted)


def machine_of(
    store: Reads,
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
) -> tuple[Machine, list[Fitting]]:
    """The machine and its fittings as they will be written, checked; see :func:`add_machine`."""
    catalogue = load_catalogue()
    plan = pick_entry(catalogue.builds, build, "build")
    registered = moment(at_utc)
    one_of("history", history, get_args(History))
    machine = Machine(
        name=_name(name),
        build=plan.id,
        drive=plan.drive,
        hot_end=plan.hot_end,
        box_mm=box(box_mm or plan.box_mm),
        motion=motion_with(MotionLimits(), {**plan.motion, **(motion_changes or {})}),
        registered_utc=registered,
        tube_needed_mm=plan.tube_needed_mm,
        enclosure_c=plan.enclosure_c,
        note=text("note", note),
    )
    return machine, _fittings(store, catalogue, plan, machine, product_changes or {}, in_service_since, history)


def add_within(act: ActInHand, machine: Machine, fitted: Sequence[Fitting]) -> Machine:
    """Write a machine with its fittings, within an act that may write more; refuses a name that is known."""
    _refuse_known(act, machine.name)
    machine_id = act.add(machine)
    for fitting in fitted:
        act.add(replace(fitting, machine_id=machine_id))
    return replace(machine, id=machine_id, act_id=act.id)


HIDE_A_PAGE = ("new", ".", "..")
"""Names whose page would have the address of another."""


def _name(given: str) -> str:
    """The name as it is kept; refuses one that no page or command could find again."""
    name = text("machine name", given, NAME, lines=False, needed=True)
    if "/" in name or "\\" in name or name.casefold() in HIDE_A_PAGE:
        raise BadInput(
            "machine name", place=f"“{name}”", expected="expected a name without a slash, and not “new” or dots alone",
            remedy="choose another, or write a blank or a dash instead of the slash",
        )  # fmt: skip
    return name


def _refuse_known(records: Reads, name: str) -> None:
    if any(machine.name.casefold() == name.casefold() for machine in records.machines()):
        raise Conflict(
            "machine name",
            place=f"“{name}”",
            expected="a machine of that name is known",
            remedy="choose another",
        )


def _fittings(
    store: Reads,
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
    since = _in_service(machine, in_service_since, history)
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


def _in_service(machine: Machine, since_utc: datetime | None, history: History) -> datetime:
    """Since when its parts have been in use; used parts must say so, for else they would count as new."""
    since = machine.registered_utc if since_utc is None else moment(since_utc)
    if history == "used" and since == machine.registered_utc:
        raise BadInput(
            "in service since",
            expected="used parts need the date since which they have been in service",
            remedy="give it, even roughly; or say that their history is unknown",
        )
    if since > machine.registered_utc:
        raise BadInput(
            "in service since",
            place=f"{since:%Y-%m-%d}",
            expected="expected a past date",
            remedy="correct the date",
        )
    return since


def _product(catalogue: Catalogue, part_kind: str, product: str) -> str:
    products = {known.id: known.id for known in catalogue.parts[part_kind].products}
    return pick_entry(products, product, f"product of {catalogue.parts[part_kind].title.lower()}")


def _before(store: Reads, catalogue: Catalogue, machine: Machine, part_kind: str, since: datetime) -> float:
    """What a part has been through since a date, by one print of the usual hours each day."""
    numbers = figures(store)
    days = (machine.registered_utc - since) / timedelta(days=1)
    hours = numbers.numbers["usual_hours_per_day_h"].value
    material = next(iter(catalogue.materials.values()))
    around = Surroundings(material.id, machine.enclosure_c, machine.motion.filament_diameter_mm)
    stretch = typical_stretch(
        hours, material.nozzle_c.value, material, None, numbers, filament_diameter_mm=around.filament_diameter_mm
    )
    return exposure_of(catalogue.parts[part_kind], stretch.times(days), around, material)


def change_machine(
    store: Store, name: str, changes: dict[str, Any], *, reason: str, person: str | None = None
) -> Machine:
    """Describe a machine anew from now on; ``changes`` maps field names, or motion limits, to new values.

    What was charged before keeps the surroundings it was printed in.
    """
    reason = text("reason", reason)
    with store.act("change machine", person_id=person_id(store, person), reason=reason) as act:
        machine = machine_named(act, name)
        changed = described(machine, changes)
        latest, _ = act.states(machine.id)[-1]
        act.add_state(changed, max(moment(None), latest))
        recount(act, load_catalogue(), machine.id)  # for runs dated after this moment
    return changed
