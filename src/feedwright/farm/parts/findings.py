"""Recording what was seen of a part."""

from dataclasses import replace
from datetime import datetime

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, NotFound
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import nearest, pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.machines.charging import fitted_at
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.parts.photos import keep_photo, record_photo
from feedwright.records.photo_values import PhotoSubject
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Finding, Fitting, Machine
from feedwright.units import BY_SUFFIX


def fitting_of(records: Reads, machine: Machine, part: str, position: int, at_utc: datetime) -> Fitting:
    """The fitting that sat at that place at that moment."""
    kind = pick_entry(load_catalogue().parts, part, "part kind")
    removals = {removal.fitting_id: removal for removal in records.removals(machine.id)}
    fittings = records.fittings(machine.id)
    for fitting in fitted_at(fittings, removals, at_utc):
        if fitting.part_kind == kind.id and fitting.position == position:
            return fitting
    fitted = {fitting.part_kind for fitting in fittings if fitting.id not in removals}
    raise NotFound(
        "part",
        place=f"{kind.title} {position} on {machine.name} at {at_utc:%Y-%m-%d %H:%M} UTC",
        expected="no such part was fitted there then",
        remedy=f"fitted now: {', '.join(sorted(fitted))}",
    )


def add_finding(
    store: Store,
    machine: str,
    part: str,
    *,
    position: int = 1,
    grade: str = "",
    reading: float | None = None,
    reading_unit: str = "",
    found_utc: datetime | None = None,
    note: str = "",
    photo: bytes | None = None,
    person: str | None = None,
) -> Finding:
    """Record a grade or a reading of one fitted part, with a photo of it where one was taken.

    Refuses a grade the part kind does not have, and a photo that is none.
    """
    whose = machine_named(store, machine)
    found = finding_of(grade, reading, reading_unit, moment(found_utc), note)
    kept = keep_photo(store, photo) if photo else None
    with store.act("finding", person_id=person_id(store, person)) as act:
        made = find_within(act, whose, part, found, position=position)
        if kept:
            taken = record_photo(act, whose.id, kept, made.found_utc)
            act.add(PhotoSubject(whose.id, taken, made.fitting_id, made.id))
        return made


def finding_of(grade: str, reading: float | None, reading_unit: str, found_utc: datetime, note: str) -> Finding:
    """The finding as it will be written, checked as far as can be without its part, which is not yet known."""
    if reading is not None:
        within("reading", reading, -1e9, 1e9)
    return Finding(0, found_utc, grade, reading, _unit(reading, reading_unit), text("note", note))


def find_within(act: ActInHand, machine: Machine, part: str, found: Finding, *, position: int = 1) -> Finding:
    """The same within an act that may write more: the fitting that was there then is found here."""
    fitting = fitting_of(act, machine, part, position, found.found_utc)
    if not found.grade and found.reading is None:
        raise BadInput("finding", expected="expected a grade or a reading", remedy=_grades(fitting.part_kind))
    finding = replace(found, fitting_id=fitting.id, grade=checked_grade(fitting.part_kind, found.grade))
    return replace(finding, id=act.add(finding), act_id=act.id)


def checked_grade(part_kind: str, grade: str) -> str:
    """The grade's id as the catalogue spells it; empty stays empty."""
    if not grade:
        return ""
    grades = {known.id: known for known in load_catalogue().parts[part_kind].grades}
    spelt = grade.strip().casefold().replace(" ", "_")
    if spelt not in grades:
        raise BadInput("grade", place=f"“{grade}”", expected=_grades(part_kind), remedy=nearest(spelt, grades))
    return spelt


def _grades(part_kind: str) -> str:
    kind = load_catalogue().parts[part_kind]
    return f"expected a grade of the {kind.title.lower()}: {', '.join(grade.id for grade in kind.grades)}"


def _unit(reading: float | None, unit: str) -> str:
    if reading is None:
        return ""
    if unit not in BY_SUFFIX:
        raise BadInput("reading_unit", place=f"“{unit}”", expected="expected a unit", remedy=nearest(unit, BY_SUFFIX))
    return unit


def finding_lines(store: Store, machine: str | None = None, limit: int = 50) -> list[tuple[Finding, Fitting, Machine]]:
    """Findings with the part and machine they belong to, latest first."""
    with store.snapshot() as reads:
        machines = {held.id: held for held in reads.machines()}
        wanted = None if machine is None else machine_named(reads, machine).id
        fittings = {fitting.id: fitting for fitting in reads.fittings(wanted)}
        found = sorted(reads.findings(list(fittings)), key=lambda finding: finding.found_utc, reverse=True)
    return [
        (finding, fittings[finding.fitting_id], machines[fittings[finding.fitting_id].machine_id])
        for finding in found[:limit]
    ]
