"""What machines report of their prints, recorded as if somebody had tapped it; each report counts once."""

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta

from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.exchange.messages import RunEnded, RunStarted
from feedwright.farm.ground.forms import SentBefore, act_of_key, claim
from feedwright.farm.prints.prints import OUTCOMES, Tap, TapKind, record
from feedwright.farm.prints.runs import ready_runs, write_runs
from feedwright.farm.stores.spools import hanging, in_order
from feedwright.farm.toolpaths.toolpaths import toolpath_named
from feedwright.records.prints_values import Print
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.stores_values import Spool, SpoolEntry
from feedwright.records.values import Machine, Run, Toolpath

SAME_PRINT = timedelta(minutes=15)
"""A tap and a report that far apart are of one print (assumed)."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of a report."""

    words: str
    again: bool = False
    """True where it had been taken before."""


def take_started(store: Store, machine: Machine, said: RunStarted, came_utc: datetime) -> Taken:
    """A machine began to print: a print is under way, unless somebody tapped so already.

    Raises Conflict where an earlier print of it has no ending yet.
    """
    key, at_utc = _key(machine, said.key), said.at_utc or came_utc
    if act_of_key(store, key) is not None:
        return Taken("it was taken before", again=True)
    begun = next(iter(store.open_prints(machine.id)), None)
    if begun is not None:
        if abs(begun.started_utc - at_utc) > SAME_PRINT:
            expected = f"it prints since {begun.started_utc:%Y-%m-%d %H:%M} UTC by the records"
            raise Conflict(machine.name, expected=expected, remedy="say how that print ended")
        _claim_alone(store, key)
        return Taken(f"print {begun.id} was under way already")
    known = _known(store, said.toolpath)
    tap = Tap(
        machine.name, "start", known.sha256 if known else None, said.material or _hanging_material(store, machine),
        hours=None if known else said.hours, copies=said.copies, nozzle_c=said.nozzle_c, at_utc=at_utc,
        note=_note(said.note, "" if known else said.toolpath),
    )  # fmt: skip
    receipt = record(store, [tap], entry_key=key)[0]
    return Taken(f"print {receipt.held.id} is under way")


def take_ended(store: Store, machine: Machine, said: RunEnded, came_utc: datetime) -> Taken:
    """A machine ended its print: it becomes a run; without a beginning on record, by what the report itself says."""
    key, at_utc = _key(machine, said.key), said.at_utc or came_utc
    if act_of_key(store, key) is not None:
        return Taken("it was taken before", again=True)
    begun = next(iter(store.open_prints(machine.id)), None)
    if begun is None:
        return _whole_run(store, machine, said, key, at_utc)
    _refuse_other(machine, begun, said)
    kind: TapKind = next(kind for kind, outcome in OUTCOMES.items() if outcome == said.outcome)
    fraction = None if said.outcome == "complete" else said.fraction
    tap = Tap(machine.name, kind, fraction=fraction, at_utc=at_utc, note=said.note)
    run = record(store, [tap], entry_key=key)[0].run
    return Taken(f"run {run.id if run else 0} is on record")


def _refuse_other(machine: Machine, begun: Print, said: RunEnded) -> None:
    if said.started_utc is not None and abs(said.started_utc - begun.started_utc) > SAME_PRINT:
        expected = f"the print under way began {begun.started_utc:%Y-%m-%d %H:%M} UTC, not when the report says"
        raise Conflict(machine.name, expected=expected, remedy="say how that print ended, then log this one")


def _whole_run(store: Store, machine: Machine, said: RunEnded, key: str, at_utc: datetime) -> Taken:
    """A run from its end alone: by its file, else by its hours, else by when it began."""
    known, hours = _known(store, said.toolpath), said.hours
    if known is None and hours is None:
        if said.started_utc is None:
            expected = "no beginning is on record: expected a known file, hours, or when it started"
            raise BadInput("started", expected=expected, remedy="send run/started too, or put it in this message")
        hours = max((at_utc - said.started_utc).total_seconds() / 3600, 0.0)
    lasted = timedelta(hours=hours or 0.0)
    run = Run(
        machine.id, said.started_utc or at_utc - lasted, said.outcome,
        said.material or _hanging_material(store, machine), known.id if known else None,
        fraction=1.0 if said.outcome == "complete" or known is None else said.fraction or 0.0,
        hours=None if known else hours, filament_g=None if known else said.filament_g,
        note=_note(said.note, "" if known else said.toolpath),
    )  # fmt: skip
    ready = ready_runs(store, machine, [run], [machine.name])
    try:
        with store.act("run") as act:
            claim(act, "run", key)
            number = write_runs(act, machine, ready)[0]
    except SentBefore:
        return Taken("it was taken before", again=True)
    return Taken(f"run {number} is on record")


def _key(machine: Machine, key: str) -> str:
    """The report's key among all forms, of bounded length."""
    return "report " + hashlib.sha256(f"{machine.id}:{key}".encode()).hexdigest()[:40]


def _claim_alone(store: Store, key: str) -> None:
    try:
        with store.act("report") as act:
            claim(act, "report", key)
    except SentBefore:
        return


def _known(store: Store, toolpath: str) -> Toolpath | None:
    """The file that a report names, where the farm has read it."""
    if not toolpath:
        return None
    try:
        return toolpath_named(store, toolpath)
    except NotFound:
        return None


def _note(note: str, unknown: str) -> str:
    return "; ".join(part for part in (note, f"its file was {unknown}, not known here" if unknown else "") if part)


def _hanging_material(records: Reads, machine: Machine) -> str:
    """The material of the spool on the machine, where the report names none."""
    hung = hanging(in_order(records.every(SpoolEntry)))
    spool = records.one(Spool, hung.get(machine.id, 0))
    if spool is None:
        expected = "the report names no material, and no spool hangs on the machine"
        raise BadInput("material", expected=expected, remedy="send it, or hang a spool on the machine")
    return spool.material
