"""Recording that a part was renewed: the old fitting ends, a new one begins."""

import math
from dataclasses import replace
from datetime import datetime, timedelta
from typing import get_args

from feedwright.catalogue.entry import PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import one_of, pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.values import RenewalReceipt
from feedwright.farm.machines.charging import fitted_at, states_of
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.machines.totals import recount
from feedwright.farm.parts.findings import checked_grade, fitting_of
from feedwright.farm.stores.stores import consume_for
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Finding, Fitting, Machine, Removal, RemovalReason

TUBE, TUBE_END = "guide_tube", "tube_end"
SENT_TWICE_WITHIN = timedelta(minutes=1)
"""No part is renewed twice in so short a time (assumed)."""


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
    note: str = "",
    from_stores: bool = True,
    person: str | None = None,
) -> RenewalReceipt:
    """Record that a fitted part was renewed, in what state it came off, and what took its place.

    Renewing the tube end trims the guide tube by ``trimmed_mm`` (the catalogue's usual trim where left
    out); renewing the guide tube renews its end with it. What it took is taken from the stores where an item kept
    there fits, unless ``from_stores`` says otherwise. Raises Conflict where the records already know of
    something that happened to the part after that moment.
    """
    whose = machine_named(store, machine)
    kind = pick_entry(load_catalogue().parts, part, "part kind")
    grade = checked_grade(kind.id, grade_found)
    removal = removal_of(kind, moment(renewed_utc), reason=reason, trimmed_mm=trimmed_mm, minutes=minutes, note=note)
    checked = checked_product(kind, product or "")
    if length_mm is not None:
        refuse_length(kind, length_mm)
    with store.act("renew", person_id=person_id(store, person)) as act:
        return renew_within(
            act, whose, kind, removal, position=position, product=checked, grade=grade, length_mm=length_mm,
            from_stores=from_stores,
        )  # fmt: skip


def removal_of(
    kind: PartKind, at_utc: datetime, *, reason: str, trimmed_mm: float | None, minutes: float | None, note: str
) -> Removal:
    """The removal as it will be written, checked; its fitting is not yet known."""
    return Removal(
        fitting_id=0,
        removed_utc=at_utc,
        reason=one_of("reason", reason, get_args(RemovalReason)),  # type: ignore[arg-type]
        trimmed_mm=_trim(kind, trimmed_mm),
        minutes=None if minutes is None else within("minutes", minutes, 0, 100_000, "min"),
        note=text("note", note),
    )


def renew_within(
    act: ActInHand,
    machine: Machine,
    kind: PartKind,
    removal: Removal,
    *,
    position: int = 1,
    product: str = "",
    grade: str = "",
    length_mm: float | None = None,
    from_stores: bool = True,
) -> RenewalReceipt:
    """The same within an act that writes more: ``removal`` says when and why, its fitting is found here."""
    at_utc = removal.removed_utc
    states_of(act, machine)
    old = fitting_of(act, machine, kind.id, position, at_utc)
    _refuse_twice(act, old, at_utc)
    if removal.trimmed_mm is not None:
        _refuse_more_than_the_tube(act, machine, removal.trimmed_mm)
    new = replace(_successor(old, at_utc), product=product or old.product)
    if length_mm is not None:
        new = replace(new, length_mm=length_mm)
    removal, new = _replace(act, old, removal, new)
    if grade:
        act.add(Finding(old.id, at_utc, grade))
    touched = [old.id, new.id]
    if kind.id == TUBE:
        touched += _renew_ends(act, machine, at_utc)
    recount(act, load_catalogue(), machine.id, touched)
    taken = consume_for(act, removal, kind.id, new.product) if from_stores else ()
    return RenewalReceipt(removal, old, new, (*_also(act, machine, kind.id), *taken))


def _successor(old: Fitting, at_utc: datetime) -> Fitting:
    """A new part like the old one in its place."""
    return Fitting(old.machine_id, old.part_kind, old.position, old.product, at_utc, length_mm=old.length_mm)


def _replace(act: ActInHand, old: Fitting, removal: Removal, new: Fitting) -> tuple[Removal, Fitting]:
    """Write the end of one fitting and the beginning of another; both come back as they were written."""
    _refuse_if_known_later(act, old, removal.removed_utc)
    new = replace(new, id=act.add(new), act_id=act.id)
    removal = replace(removal, fitting_id=old.id, replaced_by=new.id)
    return replace(removal, id=act.add(removal), act_id=act.id), new


def _refuse_if_known_later(act: ActInHand, old: Fitting, at_utc: datetime) -> None:
    """The part cannot have come off at that moment where the records saw it afterwards."""
    title = load_catalogue().parts[old.part_kind].title
    place = f"{at_utc:%Y-%m-%d %H:%M} UTC"
    if old.fitted_utc == at_utc:
        expected, remedy = "it was fitted at this very moment", "give the time it was renewed"
        raise Conflict(title, place=place, expected=expected, remedy=remedy)
    for removal in act.removals(old.machine_id):
        if removal.fitting_id == old.id:
            raise Conflict(
                title,
                place=place,
                expected=f"this part is on record as taken off later, on {removal.removed_utc:%Y-%m-%d %H:%M} UTC",
                remedy=f"void renewal {removal.id} first, or correct the time",
            )
    for finding in act.findings([old.id]):
        if finding.found_utc > at_utc:
            raise Conflict(
                title,
                place=place,
                expected=f"this part is on record as seen later, on {finding.found_utc:%Y-%m-%d %H:%M} UTC",
                remedy=f"void finding {finding.id} first, or correct the time",
            )


def _refuse_twice(act: ActInHand, old: Fitting, at_utc: datetime) -> None:
    """A part fitted by a renewal a moment ago is not renewed again: most likely the form was sent twice."""
    fitted_by = next((removal for removal in act.removals(old.machine_id) if removal.replaced_by == old.id), None)
    if fitted_by is not None and timedelta() < at_utc - old.fitted_utc < SENT_TWICE_WITHIN:
        raise Conflict(
            load_catalogue().parts[old.part_kind].title,
            place=f"{at_utc:%Y-%m-%d %H:%M:%S} UTC",
            expected=f"it was renewed less than a minute before, by renewal {fitted_by.id}",
            remedy=f"void renewal {fitted_by.id} where that was wrong, or give the time of this one",
        )


def refuse_length(kind: PartKind, length_mm: float) -> None:
    """Only a guide tube has a length."""
    if kind.id != TUBE:
        raise BadInput(
            "length",
            place=f"{length_mm:g} mm",
            expected=f"a {kind.title.lower()} has no length on record, only a guide tube has",
            remedy="leave the length out",
        )
    within("length", length_mm, 1, 100_000, "mm")


def _refuse_more_than_the_tube(act: ActInHand, machine: Machine, trimmed_mm: float) -> None:
    left_mm = tube_left_mm(act, machine)
    if left_mm is not None and trimmed_mm >= left_mm:
        raise BadInput(
            "trim",
            place=f"{trimmed_mm:g} mm",
            expected=f"the guide tube is {left_mm:g} mm long by the records: expected less than that to be cut off",
            remedy="correct the trim; or record the renewal of the guide tube first",
        )


def checked_product(kind: PartKind, product: str) -> str:
    """The product's id as the catalogue spells it; empty stays empty: the same as before."""
    if not product:
        return ""
    products = {known.id: known.id for known in kind.products}
    return pick_entry(products, product, f"product of {kind.title.lower()}")


def _trim(kind: PartKind, trimmed_mm: float | None) -> float | None:
    if kind.renewal.trims_mm is None:
        if trimmed_mm is not None:
            raise BadInput(
                "trim",
                place=f"{trimmed_mm:g} mm",
                expected=f"renewing the {kind.title.lower()} trims nothing",
                remedy="leave the trim out",
            )
        return None
    usual = kind.renewal.trims_mm.value
    return within("trim", usual if trimmed_mm is None else trimmed_mm, 0.5, 500.0, "mm")


def _renew_ends(act: ActInHand, machine: Machine, at_utc: datetime) -> list[int]:
    """A new tube brings a new end: the old one goes with it, in whatever state it was."""
    removals = {removal.fitting_id: removal for removal in act.removals(machine.id)}
    touched = []
    for end in fitted_at(act.fittings(machine.id), removals, at_utc):
        if end.part_kind == TUBE_END and end.fitted_utc != at_utc:
            gone = Removal(end.id, at_utc, "retired", note="went with the guide tube")
            _, new = _replace(act, end, gone, _successor(end, at_utc))
            touched += [end.id, new.id]
    return touched


def tube_left_mm(store: Reads, machine: Machine) -> float | None:
    """Present length of the guide tube: as fitted, less all that was trimmed since; None where unknown."""
    tubes = [held for held in store.fittings(machine.id, open_only=True) if held.part_kind == TUBE]
    if not tubes or tubes[0].length_mm is None:
        return None
    trimmed = sum(
        removal.trimmed_mm or 0.0 for removal in store.removals(machine.id) if removal.removed_utc > tubes[0].fitted_utc
    )
    return tubes[0].length_mm - trimmed


def trims_left(store: Reads, machine: Machine) -> int | None:
    """How often the tube end can still be trimmed before the tube no longer reaches the far corners."""
    left_mm = tube_left_mm(store, machine)
    trim = load_catalogue().parts[TUBE_END].renewal.trims_mm
    if left_mm is None or trim is None:
        return None
    return max(0, math.floor((left_mm - machine.tube_needed_mm) / trim.value))


def _also(store: Reads, machine: Machine, part_kind: str) -> tuple[str, ...]:
    if part_kind not in (TUBE, TUBE_END):
        return ()
    left_mm, count = tube_left_mm(store, machine), trims_left(store, machine)
    if left_mm is None or count is None:
        return ()
    said = f"The guide tube is now {left_mm:.0f} mm long; it can be trimmed {count} more times."
    if left_mm < machine.tube_needed_mm:
        said += f" That is less than the {machine.tube_needed_mm:.0f} mm that reach the far corners: fit a new tube."
    return (said,)
