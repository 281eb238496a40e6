"""A visit to a machine from beginning to end: begun from what is due, entered step by step, ended in one act.

Entries may come from several devices and more than once: each counts once. Nothing touches the machine's records until
the visit ends; then renewals, findings and measurements are written together or not at all.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, get_args

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.procedures import StepRecord, load_procedures, procedure_named
from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import one_of, pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.values import RenewalReceipt
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.parts.findings import checked_grade, fitting_of
from feedwright.farm.parts.photos import keep_photo, photos_by_entry, record_photo, tie, void_photos
from feedwright.farm.parts.renewals import checked_product, refuse_length, removal_of, renew_within
from feedwright.farm.service.visit_plan import Screen, chosen, merged_for, screens
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import (
    Finding,
    Machine,
    Measurement,
    Visit,
    VisitEnding,
    VisitEntry,
    VisitEntryKind,
    VisitOutcome,
)
from feedwright.service.merging import Merged

CLOSING = ("done", "skipped")
"""Kinds of entry that end a step."""
LONGEST_KEY = 80


@dataclass(frozen=True, slots=True)
class VisitSheet:
    """One visit as it stands."""

    visit: Visit
    machine: Machine
    merged: Merged
    screens: tuple[Screen, ...]
    entries: tuple[VisitEntry, ...]
    ending: VisitEnding | None
    paused: bool

    @property
    def closed(self) -> dict[str, VisitEntry]:
        """The entry that ended each step, by step."""
        return {entry.step: entry for entry in self.entries if entry.kind in CLOSING}

    @property
    def left(self) -> tuple[Screen, ...]:
        """The steps that are neither done nor skipped, in order."""
        closed = self.closed
        return tuple(screen for screen in self.screens if screen.step.id not in closed)

    @property
    def left_minutes(self) -> float:
        """Work that is left, the machine's heating and cooling included."""
        return sum(max(screen.step.minutes, screen.wait_minutes) for screen in self.left)


@dataclass(frozen=True, slots=True)
class VisitReceipt:
    """What ending a visit wrote."""

    ending: VisitEnding
    renewed: tuple[str, ...]
    """Titles of the parts renewed."""
    found: int
    measured: int
    also: tuple[str, ...] = ()
    """What else changed: the guide tube's length, what was taken from the stores."""


def begin_visit(
    store: Store,
    machine: str,
    procedures: Sequence[str],
    *,
    material: str = "pla",
    note: str = "",
    begun_utc: datetime | None = None,
    person: str | None = None,
) -> Visit:
    """Begin a visit; refuses a second one on a machine whose visit is not ended."""
    whose = machine_named(store, machine)
    stuff = pick_entry(load_catalogue().materials, material, "material")
    with store.act("begin visit", person_id=person_id(store, person)) as act:
        held = chosen(act, whose, procedures)
        merged_for(whose, held, stuff.id)  # refuses what cannot be ordered before anything is written
        under_way = open_visit(act, whose)
        if under_way is not None:
            raise Conflict(
                "visit", place=f"visit {under_way.id} on {whose.name}", expected="it is not ended yet",
                remedy="go on with it, or give it up first",
            )  # fmt: skip
        ids = json.dumps([one.id for one in held])
        visit = Visit(whose.id, moment(begun_utc), ids, stuff.id, text("note", note))
        number = act.add(visit)
    return replace(visit, id=number, act_id=act.id)


def open_visit(records: Reads, machine: Machine) -> Visit | None:
    """The visit of a machine that is not ended, if any."""
    ended = {ending.visit_id for ending in records.visit_endings()}
    return next((visit for visit in records.visits(machine.id) if visit.id not in ended), None)


def visit_sheet(records: Reads, number: int) -> VisitSheet:
    """One visit as it stands; refuses an unknown number."""
    visit = records.one(Visit, number)
    machine = None if visit is None else records.machine(visit.machine_id)
    if visit is None or machine is None:
        raise NotFound("visit", place=f"number {number}", expected="no such visit", remedy="list them")
    merged, plan = merged_for(machine, [procedure_named(one) for one in json.loads(visit.procedures)], visit.material)
    entries = tuple(records.visit_entries(visit.id))
    ending = next((one for one in records.visit_endings() if one.visit_id == visit.id), None)
    turns = [entry.kind for entry in entries if entry.kind in ("paused", "resumed")]
    return VisitSheet(visit, machine, merged, screens(merged, plan), entries, ending, turns[-1:] == ["paused"])


def enter(
    store: Store,
    number: int,
    step: str,
    *,
    entry_key: str,
    kind: str = "done",
    value: dict[str, Any] | None = None,
    cautions_read: bool = False,
    note: str = "",
    photo: bytes | None = None,
    entered_utc: datetime | None = None,
    person: str | None = None,
) -> VisitEntry:
    """Enter that a step was done or skipped, or that the visit was paused or resumed (with an empty step).

    What was entered before under this key, or for this step by somebody else, comes back as it was; a photo that
    somebody else took of it is kept all the same. Refuses a step whose cautions nobody acknowledged, a recording that
    cannot be, a photo that is none, and a visit that is ended.
    """
    one_of("kind", kind, get_args(VisitEntryKind))
    key = text("entry key", entry_key, LONGEST_KEY, lines=False, needed=True)
    at_utc, note = moment(entered_utc), text("note", note)
    kept = keep_photo(store, photo) if photo and kind in CLOSING else None
    with store.act("visit", person_id=person_id(store, person)) as act:
        sheet = visit_sheet(act, number)
        before = _entered_before(sheet, step, kind, key)
        if before is not None:
            if kept and before.entry_key != key and sheet.ending is None:
                record_photo(act, sheet.machine.id, kept, at_utc, visit_entry_id=before.id)
            return before
        _refuse_ended(sheet)
        held = VisitEntry(number, _own_moment(sheet, at_utc), kind, key, "", "", note)  # type: ignore[arg-type]
        if kind in ("done", "skipped", "cautions"):
            screen = _screen(sheet, step)
            if kind == "done":
                _acknowledge(act, sheet, screen, held, cautions_read=cautions_read)
                held = replace(held, value=_checked(screen.step.record, value or {}))
                _refuse_no_part(act, sheet.machine, screen.step.record, held)
            held = replace(held, step=step)
        held = replace(held, id=act.add(held), act_id=act.id)
        if kept:
            record_photo(act, sheet.machine.id, kept, held.entered_utc, visit_entry_id=held.id)
        return held


def _own_moment(sheet: VisitSheet, at_utc: datetime) -> datetime:
    """The moment, put off by a millisecond for each entry that has it already: what was entered later is later.

    Moments are whole seconds; the order of two steps entered within one must stay the order of the work.
    """
    taken = {entry.entered_utc for entry in sheet.entries}
    while at_utc in taken:
        at_utc += timedelta(milliseconds=1)
    return at_utc


def _entered_before(sheet: VisitSheet, step: str, kind: str, key: str) -> VisitEntry | None:
    """The same entry sent again, or the step closed already by somebody else."""
    same = next((entry for entry in sheet.entries if entry.entry_key == key), None)
    return same or (sheet.closed.get(step) if kind in CLOSING else None)


def _refuse_ended(sheet: VisitSheet) -> None:
    if sheet.ending is not None:
        raise Conflict(
            "visit", place=f"number {sheet.visit.id}", expected="it is ended", remedy="begin another for what is left"
        )


def _screen(sheet: VisitSheet, step: str) -> Screen:
    for screen in sheet.screens:
        if screen.step.id == step:
            return screen
    raise NotFound("step", place=f"“{step}”", expected="this visit has no such step", remedy="look at the visit again")


def _acknowledge(act: ActInHand, sheet: VisitSheet, screen: Screen, held: VisitEntry, *, cautions_read: bool) -> None:
    """Cautions are acknowledged before a step counts as done."""
    if not screen.step.cautions or any(
        entry.kind == "cautions" and entry.step == screen.step.id for entry in sheet.entries
    ):
        return
    if not cautions_read:
        raise Conflict(
            "step", place=screen.step.id, expected="its cautions are not acknowledged", remedy="read them, then say so"
        )
    act.add(replace(held, kind="cautions", entry_key=f"{held.entry_key} cautions", step=screen.step.id, note=""))


def take_back(store: Store, number: int, step: str, *, person: str | None = None) -> None:
    """Take back that a step was done or skipped, while the visit goes on: it can be entered anew."""
    with store.act("void", person_id=person_id(store, person), reason="entered wrongly at the visit") as act:
        sheet = visit_sheet(act, number)
        _refuse_ended(sheet)
        entry = sheet.closed.get(_screen(sheet, step).step.id)
        if entry is not None:
            void_photos(act, sheet.machine.id, [entry.id])
            act.void(entry)


FIELDS = {
    "finding": ("grade", "position"),
    "renewal": ("product", "reason", "trimmed_mm", "length_mm", "position"),
    "proof": ("value",),
}


def _checked(record: StepRecord | None, value: dict[str, Any]) -> str:
    """What a step records, as JSON; refused before it is kept where it cannot be."""
    if record is None:
        return ""
    for name in value:
        if name not in FIELDS[record.kind]:
            raise BadInput(name, expected=f"expected {', '.join(FIELDS[record.kind])}", remedy="leave it out")
    held = {name: given for name, given in value.items() if given not in ("", None)}
    for name in ("trimmed_mm", "length_mm", "value", "position"):
        if name in held and (isinstance(held[name], bool) or not isinstance(held[name], (int, float))):
            raise BadInput(name, place=f"“{held[name]}”", expected="expected a number", remedy="such as 12.5")
    {"finding": _check_finding, "renewal": _check_renewal, "proof": _check_proof}[record.kind](record, held)
    return json.dumps(held, sort_keys=True)


def _refuse_no_part(act: ActInHand, machine: Machine, record: StepRecord | None, held: VisitEntry) -> None:
    """A part that is not there is refused when it is entered, not when the visit ends."""
    if record and record.part:
        position = int(json.loads(held.value).get("position", 1))
        fitting_of(act, machine, record.part, position, held.entered_utc)


def _check_finding(record: StepRecord, held: dict[str, Any]) -> None:
    if "grade" not in held:
        raise BadInput("grade", expected="say what you saw", remedy="choose a grade, or skip the step with a note")
    held["grade"] = checked_grade(record.part, str(held["grade"]))


def _check_renewal(record: StepRecord, held: dict[str, Any]) -> None:
    kind = load_catalogue().parts[record.part]
    checked_product(kind, str(held.get("product", "")))
    removal_of(
        kind, moment(None), reason=held.get("reason", "worn"), trimmed_mm=held.get("trimmed_mm"), minutes=None, note=""
    )
    if "length_mm" in held:
        refuse_length(kind, held["length_mm"])


def _check_proof(record: StepRecord, held: dict[str, Any]) -> None:
    proof = load_procedures().proofs[record.proof]
    if "value" not in held:
        raise BadInput(proof.id, expected="expected a reading", remedy=f"enter it in {proof.unit}: {proof.what}")
    within(proof.what, held["value"], proof.least, proof.most, proof.unit)


def end_visit(
    store: Store,
    number: int,
    *,
    outcome: VisitOutcome = "done",
    note: str = "",
    ended_utc: datetime | None = None,
    person: str | None = None,
) -> VisitReceipt:
    """End a visit: renewals, findings and measurements are written in one act, or nothing is.

    ``given_up`` ends one of which steps are left; what was done counts all the same. Ending twice changes nothing.
    """
    one_of("outcome", outcome, get_args(VisitOutcome))
    at_utc, note = moment(ended_utc), text("note", note)
    with store.act("end visit", person_id=person_id(store, person)) as act:
        sheet = visit_sheet(act, number)
        if sheet.ending is not None:
            return VisitReceipt(sheet.ending, (), 0, 0)
        if outcome == "done" and sheet.left:
            raise Conflict(
                "visit", place=f"number {number}", expected=f"{len(sheet.left)} steps are left: "
                f"{', '.join(screen.step.id for screen in sheet.left[:3])}",
                remedy="do them, skip them with a reason, or give the visit up",
            )  # fmt: skip
        written = _write(act, sheet)
        ending = VisitEnding(number, at_utc, outcome, note)
        ending = replace(ending, id=act.add(ending), act_id=act.id)
    return VisitReceipt(ending, *written)


def _write(act: ActInHand, sheet: VisitSheet) -> tuple[tuple[str, ...], int, int, tuple[str, ...]]:
    """Every recording in the order it was made; returns parts renewed, findings, measurements, what else changed."""
    renewed, also, found, measured = list[str](), list[str](), 0, 0
    records = {screen.step.id: screen.step.record for screen in sheet.screens}
    photos = photos_by_entry(act, sheet.machine.id)
    for entry in sorted(sheet.entries, key=lambda entry: (entry.entered_utc, entry.id)):
        record = records.get(entry.step)
        if entry.kind != "done" or record is None:
            continue
        value = json.loads(entry.value)
        position = int(value.get("position", 1))
        if record.kind == "finding":
            fitting = fitting_of(act, sheet.machine, record.part, position, entry.entered_utc)
            finding = act.add(Finding(fitting.id, entry.entered_utc, value["grade"], note=entry.note))
            tie(act, photos.get(entry.id, ()), fitting.id, finding)
            found += 1
        elif record.kind == "renewal":
            receipt = _renew(act, sheet.machine, record.part, entry, value, position)
            tie(act, photos.get(entry.id, ()), receipt.removed.id)
            renewed.append(load_catalogue().parts[record.part].title)
            also += receipt.also
        else:
            unit = load_procedures().proofs[record.proof].unit
            act.add(
                Measurement(
                    sheet.machine.id,
                    entry.entered_utc,
                    record.proof,
                    value["value"],
                    unit,
                    entry.value,
                    sheet.visit.id,
                    entry.note,
                )
            )
            measured += 1
    return tuple(renewed), found, measured, tuple(dict.fromkeys(also))


def _renew(
    act: ActInHand, machine: Machine, part: str, entry: VisitEntry, value: dict[str, Any], position: int
) -> RenewalReceipt:
    kind = load_catalogue().parts[part]
    removal = removal_of(
        kind, entry.entered_utc, reason=value.get("reason", "worn"), trimmed_mm=value.get("trimmed_mm"), minutes=None,
        note=entry.note,
    )  # fmt: skip
    product = checked_product(kind, value.get("product", ""))
    return renew_within(
        act, machine, kind, removal, position=position, product=product, length_mm=value.get("length_mm")
    )
