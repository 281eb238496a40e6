"""Recording that a part was renewed: the old fitting ends, a new one begins."""

import math
from dataclasses import replace
from datetime import datetime

from feedwright.catalogue.entry import PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import Conflict
from feedwright.farm.findings import checked_grade, fitting_of
from feedwright.farm.house import moment
from feedwright.farm.machines import machine_named
from feedwright.farm.naming import pick_entry, within
from feedwright.farm.people import person_id
from feedwright.farm.totals import recount
from feedwright.farm.values import RenewalReceipt
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Finding, Fitting, Machine, Removal, RemovalReason

TUBE, TUBE_END = "guide_tube", "tube_end"


def renew(
    store: Store,
    machine: str,
    part: str,
    *,
    position: int = 1,
    product: str | None = None,
    reason: RemovalReason = "worn",
    grade_found: str = "",
    renewed_utc: datetime | None = None,
    trimmed_mm: float | None = None,
    length_mm: float | None = None,
    minutes: float | None = None,
    label: str = "",
    note: str = "",
    person: str | None = None,
) -> RenewalReceipt:
    """Record that a fitted part was renewed, in what state it came off, and what took its place.

    Renewing the tube end trims the guide tube by ``trimmed_mm`` (the catalogue's usual trim where left
    out); renewing the guide tube renews its end with it.
    """
    at_utc = moment(renewed_utc)
    whose = machine_named(store, machine)
    old = fitting_of(store, whose, part, position, at_utc)
    kind = load_catalogue().parts[old.part_kind]
    if old.fitted_utc == at_utc:
        raise Conflict(
            kind.title,
            place=f"{at_utc:%Y-%m-%d %H:%M} UTC",
            expected="it was fitted at this very moment",
            remedy="give the time it was renewed",
        )
    new = Fitting(
        machine_id=whose.id,
        part_kind=old.part_kind,
        position=position,
        product=_product(kind, product or old.product),
        fitted_utc=at_utc,
        length_mm=length_mm if length_mm is not None else old.length_mm,
        label=label,
    )
    removal = Removal(old.id, at_utc, reason, trimmed_mm=_trim(kind, trimmed_mm), minutes=minutes, note=note)
    grade = checked_grade(old.part_kind, grade_found)
    with store.act("renew", person_id=person_id(store, person)) as act:
        if grade:
            act.add(Finding(old.id, at_utc, grade))
        new_id = act.add(new)
        removal_id = act.add(replace(removal, replaced_by=new_id))
        touched = [old.id, new_id]
        if old.part_kind == TUBE:
            touched += _renew_end(store, act, whose, at_utc)
        recount(act, load_catalogue(), whose, touched)
    return RenewalReceipt(
        removal=replace(removal, id=removal_id, replaced_by=new_id),
        removed=old,
        fitted=replace(new, id=new_id),
        also=_also(store, whose, old.part_kind),
    )


def _product(kind: PartKind, product: str) -> str:
    products = {known.id: known.id for known in kind.products}
    return pick_entry(products, product, f"product of {kind.title.lower()}")


def _trim(kind: PartKind, trimmed_mm: float | None) -> float | None:
    if kind.renewal.trims_mm is None:
        return None
    usual = kind.renewal.trims_mm.value
    return within("trim", usual if trimmed_mm is None else trimmed_mm, 0.5, 500.0, "mm")


def _renew_end(store: Store, act: ActInHand, machine: Machine, at_utc: datetime) -> list[int]:
    """A new tube brings a new end: the old one goes with it, in whatever state it was."""
    ends = [held for held in store.fittings(machine.id, open_only=True) if held.part_kind == TUBE_END]
    touched = []
    for end in ends:
        new_id = act.add(replace(end, id=0, act_id=0, fitted_utc=at_utc, history="new", exposure_before=0.0))
        act.add(Removal(end.id, at_utc, "retired", replaced_by=new_id, note="went with the guide tube"))
        touched += [end.id, new_id]
    return touched


def tube_left_mm(store: Store, machine: Machine) -> float | None:
    """Present length of the guide tube: as fitted, less all that was trimmed since; None where unknown."""
    tubes = [held for held in store.fittings(machine.id, open_only=True) if held.part_kind == TUBE]
    if not tubes or tubes[0].length_mm is None:
        return None
    trimmed = sum(
        removal.trimmed_mm or 0.0 for removal in store.removals(machine.id) if removal.removed_utc > tubes[0].fitted_utc
    )
    return tubes[0].length_mm - trimmed


def trims_left(store: Store, machine: Machine) -> int | None:
    """How often the tube end can still be trimmed before the tube no longer reaches the far corners."""
    left_mm = tube_left_mm(store, machine)
    trim = load_catalogue().parts[TUBE_END].renewal.trims_mm
    if left_mm is None or trim is None:
        return None
    return max(0, math.floor((left_mm - machine.tube_needed_mm) / trim.value))


def _also(store: Store, machine: Machine, part_kind: str) -> tuple[str, ...]:
    if part_kind not in (TUBE, TUBE_END):
        return ()
    left_mm, count = tube_left_mm(store, machine), trims_left(store, machine)
    if left_mm is None or count is None:
        return ()
    said = f"The guide tube is now {left_mm:.0f} mm long; it can be trimmed {count} more times."
    if left_mm < machine.tube_needed_mm:
        said += f" That is less than the {machine.tube_needed_mm:.0f} mm that reach the far corners: fit a new tube."
    return (said,)
