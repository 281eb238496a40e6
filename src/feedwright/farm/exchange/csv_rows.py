"""What each row of a CSV file becomes in the records, by kind of file, within one act."""

import json
from collections import defaultdict
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import pick_entry, within
from feedwright.farm.machines.charging import fitted_at
from feedwright.farm.machines.describing import described
from feedwright.farm.machines.machines import add_within, machine_named, machine_of
from feedwright.farm.parts.events import add_within as add_event_within
from feedwright.farm.parts.events import event_of
from feedwright.farm.parts.findings import checked_grade, find_within, finding_of
from feedwright.farm.parts.part_words import parse_parts
from feedwright.farm.parts.renewals import checked_product, refuse_length, removal_of, renew_within
from feedwright.farm.prints.runs import ready_runs, write_runs
from feedwright.farm.stores.stores import add_item_within, item_of, terms_of
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.stores_values import Item
from feedwright.records.values import Fitting, Machine, Removal, Run, Toolpath


@dataclass(frozen=True, slots=True)
class Row:
    """One row as values by column: text, numbers in their own unit, aware times; None or "" where it is empty."""

    line: int
    values: dict[str, Any]

    def __getitem__(self, column: str) -> Any:
        """What the row holds in a column."""
        return self.values[column]


Naming = Callable[[Row], AbstractContextManager[None]]
"""Says within its block which row a refusal is about."""
Write = Callable[[ActInHand], int]
"""Writes the rows within an act; returns how many were on record before."""
Prepare = Callable[[Store, Sequence[Row], Naming], Write]


def write_machines(act: ActInHand, rows: Sequence[Row], naming: Naming) -> int:
    """Machines with their parts; one whose name is known is left out."""
    before = {machine.name.casefold() for machine in act.machines()}
    for row in rows:
        if str(row["name"]).casefold() not in before:
            with naming(row):
                machine, fitted = machine_of(
                    act, row["name"], row["build"], in_service_since=row["in_service_since"],
                    history=row["history"].lower() or ("used" if row["in_service_since"] else "unknown"),
                    motion_changes=_motion(row["motion"]), note=row["note"], at_utc=row["registered"],
                )  # fmt: skip
                add_within(act, _as_described(machine, row), parse_parts(row["parts"], fitted))
    return sum(str(row["name"]).casefold() in before for row in rows)


def _as_described(machine: Machine, row: Row) -> Machine:
    said = {name: row[name] for name in ("tube_needed_mm", "enclosure_c") if row[name] is not None}
    sides = [row[f"box_{axis}_mm"] for axis in "xyz"]
    if any(side is not None for side in sides):
        said["box_mm"] = [own if side is None else side for side, own in zip(sides, machine.box_mm, strict=True)]
    return described(machine, said)


def _motion(text: str) -> dict[str, Any]:
    if not text:
        return {}
    try:
        changes = json.loads(text)
    except ValueError:
        changes = None
    if not isinstance(changes, dict):
        raise BadInput("motion", place=f"“{text:.40}”", expected="expected limits as JSON", remedy="or leave it empty")
    return changes


def prepare_runs(store: Store, rows: Sequence[Row], naming: Naming) -> Write:
    """Runs, charged a machine at a time; one of the same machine and moment is on record already.

    Their files are read before the act begins: that may itself write what was read.
    """
    toolpaths = _by_name(store.toolpaths())
    left: dict[int, list[tuple[Row, Run]]] = defaultdict(list)
    machines: dict[int, Machine] = {}
    before: dict[int, set[datetime]] = {}
    for row in rows:
        with naming(row):
            machine = machine_named(store, row["machine"])
            machines[machine.id] = machine
            if machine.id not in before:
                before[machine.id] = {run.started_utc for run in store.runs(machine.id)}
            run = _run(row, machine, toolpaths)
            if run.started_utc not in before[machine.id]:
                left[machine.id].append((row, run))
    ready = {
        machine_id: ready_runs(
            store, machines[machine_id], [run for _, run in held], [f"row {row.line}" for row, _ in held]
        )
        for machine_id, held in left.items()
    }

    def write(act: ActInHand) -> int:
        for machine_id, runs in ready.items():
            since = {run.started_utc for run in act.runs(machine_id)} - before[machine_id]
            if since & {one.run.started_utc for one in runs}:
                expected = "some of its runs were recorded meanwhile"
                raise Conflict(machines[machine_id].name, expected=expected, remedy="look at the file again")
            write_runs(act, machines[machine_id], runs)
        return len(rows) - sum(len(runs) for runs in ready.values())

    return write


def _by_name(toolpaths: Sequence[Toolpath]) -> dict[str, Toolpath]:
    """Toolpaths by name and by content hash; the latest where a name was used twice."""
    in_order = sorted(toolpaths, key=lambda one: one.read_utc)
    return {one.name: one for one in in_order} | {one.sha256: one for one in in_order}


def _run(row: Row, machine: Machine, toolpaths: dict[str, Toolpath]) -> Run:
    known = toolpaths.get(row["toolpath"])
    if known is None and row["hours"] is None:
        if row["toolpath"]:
            remedy = "add the file first, or give the hours"
            raise NotFound("toolpath", place=f"“{row['toolpath']:.60}”", expected="it is not known", remedy=remedy)
        raise BadInput("run", expected="expected a known toolpath, or hours", remedy="fill in one of them")
    outcome: Any = row["outcome"].lower() or "complete"
    fraction = row["fraction"]
    if fraction is None and outcome != "complete" and known is not None:
        expected, remedy = f"a {outcome} run needs the share that was done", "a number from 0 to 1, such as 0.37"
        raise BadInput("fraction", expected=expected, remedy=remedy)
    return Run(
        machine.id, moment(row["started"], "started"), outcome, row["material"], known.id if known else None,
        1.0 if fraction is None else fraction, _whole(row, "copies", 1), None if known else row["hours"],
        row["nozzle_c"], None if known else row["filament_g"], row["note"],
    )  # fmt: skip


def write_renewals(act: ActInHand, rows: Sequence[Row], naming: Naming) -> int:
    """Renewals in the order they happened; one of the same part and moment is on record already."""
    known = 0
    for row in sorted(rows, key=lambda row: row["renewed"]):
        with naming(row):
            machine = machine_named(act, row["machine"])
            kind = pick_entry(load_catalogue().parts, row["part"], "part kind")
            at_utc, position = moment(row["renewed"], "renewed"), _whole(row, "position", 1)
            if _renewed_at(act, machine, kind.id, position, at_utc):
                known += 1
                continue
            if row["length_mm"] is not None:
                refuse_length(kind, row["length_mm"])
            removal = removal_of(
                kind, at_utc, reason=row["reason"].lower() or "worn", trimmed_mm=row["trimmed_mm"],
                minutes=row["minutes"], note=row["note"],
            )  # fmt: skip
            renew_within(
                act, machine, kind, removal, position=position, product=checked_product(kind, row["product"]),
                grade=checked_grade(kind.id, row["grade_found"]), length_mm=row["length_mm"],
            )  # fmt: skip
    return known


def _renewed_at(records: Reads, machine: Machine, kind: str, position: int, at_utc: datetime) -> bool:
    ended = {one.fitting_id: one for one in records.removals(machine.id) if one.removed_utc == at_utc}
    fittings = records.fittings(machine.id)
    return any(one.id in ended and (one.part_kind, one.position) == (kind, position) for one in fittings)


def write_findings(act: ActInHand, rows: Sequence[Row], naming: Naming) -> int:
    """Findings; the same one of the same part and moment is on record already."""
    known = 0
    for row in rows:
        with naming(row):
            machine = machine_named(act, row["machine"])
            found = finding_of(
                row["grade"], row["reading"], row["reading_unit"], moment(row["found"], "found"), row["note"]
            )
            fitting = _fitting_then(act, machine, row, found.found_utc)
            grade = "" if fitting is None else checked_grade(fitting.part_kind, found.grade)
            held = [] if fitting is None else act.findings([fitting.id])
            if any((one.found_utc, one.grade, one.reading) == (found.found_utc, grade, found.reading) for one in held):
                known += 1
            else:
                find_within(act, machine, row["part"], found, position=_whole(row, "position", 1))
    return known


def _fitting_then(records: Reads, machine: Machine, row: Row, at_utc: datetime) -> Fitting | None:
    kind = pick_entry(load_catalogue().parts, row["part"], "part kind").id
    removals: dict[int, Removal] = {one.fitting_id: one for one in records.removals(machine.id)}
    place = (kind, _whole(row, "position", 1))
    there = fitted_at(records.fittings(machine.id), removals, at_utc)
    return next((one for one in there if (one.part_kind, one.position) == place), None)


def write_items(act: ActInHand, rows: Sequence[Row], naming: Naming) -> int:
    """Items of the stores with a first count; one whose name is known is left out."""
    before = {item.name.casefold() for item in act.every(Item)}
    for row in rows:
        if str(row["name"]).casefold() not in before:
            with naming(row):
                fits = [word.strip() for word in row["fits"].split(";") if word.strip()]
                item = item_of(row["name"], fits, row["note"], moment(None))
                prices = [None if row[name] is None else str(row[name]) for name in ("pack_price", "delivery_price")]
                terms = terms_of(
                    act, item.added_utc, _whole(row, "pack_count", 1), prices[0], prices[1], row["lead_days"], (),
                    row["supplier"],
                )  # fmt: skip
                on_hand = None if row["on_hand"] is None else _whole(row, "on_hand", 0)
                add_item_within(act, item, replace(terms, item_id=0), on_hand)
    return sum(str(row["name"]).casefold() in before for row in rows)


def write_events(act: ActInHand, rows: Sequence[Row], naming: Naming) -> int:
    """Events with the heat they let creep up; the same kind at the same moment on a machine is on record already."""
    known = 0
    for row in rows:
        with naming(row):
            machine = machine_named(act, row["machine"])
            kind: Any = row["kind"].strip().lower().replace(" ", "_")
            event = event_of(
                machine, kind, moment(row["happened"], "happened"), nozzle_c=row["nozzle_c"], minutes=row["minutes"],
                material=row["material"], note=row["note"],
            )  # fmt: skip
            if any((one.kind, one.at_utc) == (event.kind, event.at_utc) for one in act.events(machine.id)):
                known += 1
            else:
                add_event_within(act, machine, event)
    return known


def _whole(row: Row, column: str, otherwise: int) -> int:
    value = row[column]
    if value is None:
        return otherwise
    within(column, value, 0, 1e9)
    if value != int(value):
        raise BadInput(column, place=f"{value:g}", expected="expected a whole number", remedy="correct it")
    return int(value)


def _in_act(write: Callable[[ActInHand, Sequence[Row], Naming], int]) -> Prepare:
    """Rows that need nothing before their act begins."""
    return lambda _store, rows, naming: lambda act: write(act, rows, naming)


PREPARE: dict[str, Prepare] = {
    "machines": _in_act(write_machines),
    "runs": prepare_runs,
    "renewals": _in_act(write_renewals),
    "findings": _in_act(write_findings),
    "events": _in_act(write_events),
    "stores": _in_act(write_items),
}
"""Makes ready the rows of a kind."""
