"""Prints as they happen, a tap each: begun, finished, stopped or spoiled.

Any number of taps may come in one form: all of them are recorded in one act, or none is.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal, get_args

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import Observation, load_network
from feedwright.errors import BadInput, Conflict, FeedwrightError, NotFound
from feedwright.farm.ground.forms import SentBefore, act_of_key, checked_key, claim, taken_back
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import one_of, pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.machines.charging import COLDEST_C, HOTTEST_C
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.prints.print_spools import hang_chosen, spool_of
from feedwright.farm.prints.queue import queue_entry
from feedwright.farm.prints.runs import MOST_HOURS, ReadyRun, ready_runs, write_runs
from feedwright.farm.service.releases import held
from feedwright.farm.toolpaths.arrivals import spoken_for
from feedwright.farm.toolpaths.toolpaths import reading_for, record_toolpath, take_in, toolpath_named
from feedwright.records.prints_values import Print, PrintEnding, RunLook
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Machine, Run, RunOutcome, Toolpath
from feedwright.toolpath.values import Reading

TapKind = Literal["start", "finish", "stop", "spoil"]
OUTCOMES: dict[TapKind, RunOutcome] = {"finish": "complete", "stop": "stopped", "spoil": "spoiled"}
LEAST_FRAC, MOST_FRAC = 0.01, 0.99
"""Between these a print that went wrong is reckoned to have come by the clock."""


@dataclass(frozen=True, slots=True)
class Tap:
    """One thing that happened to one machine's print."""

    machine: str
    kind: TapKind
    toolpath: Path | str | None = None
    """Begun: the file, or the name or hash of a known one; none where it is not known."""
    material: str = ""
    """Begun: needed unless it comes from the queue."""
    hours: float | None = None
    """Begun without a file: how long one copy should take, where that is known."""
    copies: int = 1
    nozzle_c: float | None = None
    queue_entry: int | None = None
    """Begun: the number of the queue entry it is for."""
    spool: int | None = None
    """Begun: the spool that is hung for it; None = the one that hangs there."""
    fraction: float | None = None
    """Stopped or spoiled: the share of the whole, all copies, that was done; by the clock where it is not said."""
    looks: tuple[str, ...] = ()
    """Spoiled: observations of the catalogue."""
    at_utc: datetime | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class UnderWay:
    """One print that is under way."""

    held: Print
    machine: Machine
    toolpath: Toolpath | None
    ends_utc: datetime | None
    """When it should end; None where nobody knows."""

    def done_frac(self, now_utc: datetime) -> float | None:
        """How far it should be by the clock; None where nobody knows."""
        if self.ends_utc is None:
            return None
        whole = max((self.ends_utc - self.held.started_utc).total_seconds(), 1.0)
        return min(1.0, max(0.0, (now_utc - self.held.started_utc).total_seconds() / whole))


@dataclass(frozen=True, slots=True)
class TapReceipt:
    """What one tap recorded."""

    act_id: int
    """Names the act, to take it back by."""
    machine: Machine
    kind: TapKind
    held: Print
    run: Run | None
    """What an ended print became."""
    looks: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Start:
    machine: Machine
    held: Print
    reading: Reading | None


@dataclass(frozen=True, slots=True)
class _End:
    machine: Machine
    kind: TapKind
    held: Print
    ready: ReadyRun
    ended_utc: datetime
    looks: tuple[str, ...]


def start(
    store: Store, machine: str, *, material: str = "", toolpath: Path | str | None = None, hours: float | None = None,
    copies: int = 1, nozzle_c: float | None = None, queue_entry: int | None = None, spool: int | None = None,
    started_utc: datetime | None = None, note: str = "", entry_key: str = "", person: str | None = None,
) -> TapReceipt:  # fmt: skip
    """A print was begun; refuses a machine that prints already.

    Neither file nor hours need be known: the clock tells then how long it printed.
    """
    tap = Tap(
        machine, "start", toolpath, material, hours, copies, nozzle_c, queue_entry, spool, at_utc=started_utc, note=note
    )  # fmt: skip
    return record(store, [tap], entry_key=entry_key, person=person)[0]


def finish(
    store: Store, machine: str, *, ended_utc: datetime | None = None, note: str = "", entry_key: str = "",
    person: str | None = None,
) -> TapReceipt:  # fmt: skip
    """The machine's print is finished: it becomes a complete run in the same act."""
    return record(store, [Tap(machine, "finish", at_utc=ended_utc, note=note)], entry_key=entry_key, person=person)[0]


def stop(
    store: Store, machine: str, *, fraction: float | None = None, ended_utc: datetime | None = None, note: str = "",
    entry_key: str = "", person: str | None = None,
) -> TapReceipt:  # fmt: skip
    """Somebody stopped the machine's print: it becomes a stopped run in the same act."""
    tap = Tap(machine, "stop", fraction=fraction, at_utc=ended_utc, note=note)
    return record(store, [tap], entry_key=entry_key, person=person)[0]


def spoil(
    store: Store, machine: str, *, fraction: float | None = None, looks: Sequence[str] = (),
    ended_utc: datetime | None = None, note: str = "", entry_key: str = "", person: str | None = None,
) -> TapReceipt:  # fmt: skip
    """The machine's print went wrong: it becomes a spoiled run in the same act, with how it looked."""
    tap = Tap(machine, "spoil", fraction=fraction, looks=tuple(looks), at_utc=ended_utc, note=note)
    return record(store, [tap], entry_key=entry_key, person=person)[0]


def record(
    store: Store, taps: Sequence[Tap], *, entry_key: str = "", person: str | None = None
) -> list[TapReceipt]:  # fmt: skip
    """Record taps of any machines in one act; a refusal names the machine, and nothing is recorded then.

    A machine's print may be ended and its next begun in one go, in that order. What was sent before under this key
    comes back as it was recorded; Conflict where it was taken back.
    """
    key = checked_key(entry_key)
    before = act_of_key(store, key)
    if before is not None:
        return receipts_of(store, before)
    if not taps:
        raise BadInput("prints", expected="nothing is marked", remedy="mark at least one machine")
    several = len(taps) > 1
    who = person_id(store, person)
    ready = []
    for tap in taps:
        with _naming(tap, several):
            ready.append(_prepared(store, tap))
    kind = "prints" if several else ("start print" if taps[0].kind == "start" else "end print")
    made = []
    try:
        with store.act(kind, person_id=who) as act:
            claim(act, "print", key)
            for tap, one in zip(taps, ready, strict=True):
                with _naming(tap, several):
                    made.append(_write(act, one))
    except SentBefore as again:
        return receipts_of(store, again.act_id)
    return made


@contextmanager
def _naming(tap: Tap, several: bool) -> Iterator[None]:
    """Where several machines are marked at once, a refusal names the one it is about."""
    try:
        yield
    except FeedwrightError as error:
        if several:
            if error.subject != tap.machine:
                error.place = f"{tap.machine}: {error.place}".removesuffix(": ")
            error.args = (error.sentence,)
        raise


def _prepared(store: Store, tap: Tap) -> "_Start | _End":
    """A tap, checked and with its file read: reading must not hold up who writes."""
    one_of("print", tap.kind, get_args(TapKind))
    machine = machine_named(store, tap.machine)
    return _start(store, machine, tap) if tap.kind == "start" else _end(store, machine, tap)


def _start(store: Store, machine: Machine, tap: Tap) -> _Start:
    toolpath, material = tap.toolpath, tap.material
    if tap.queue_entry is not None:
        entry = queue_entry(store, tap.queue_entry)
        toolpath = toolpath or entry.toolpath.sha256
        material = material or entry.entry.material
    reading = known = None
    if isinstance(toolpath, Path):
        reading = take_in(store, toolpath, machine=machine)
    elif toolpath is not None:
        known = toolpath_named(store, toolpath)
        reading = reading_for(store, known, machine)
    if tap.hours is not None:
        within("hours", tap.hours, 0, 10_000, "h")
    if tap.nozzle_c is not None:
        within("nozzle temperature", tap.nozzle_c, COLDEST_C, HOTTEST_C, "°C")
    within("copies", tap.copies, 1, 10_000)
    hours = reading.duty.whole.duration_s / 3600 if reading is not None and reading.duty is not None else tap.hours
    within("hours of all copies", (hours or 0.0) * tap.copies, 0, MOST_HOURS, "h")
    held_print = Print(
        machine_id=machine.id,
        started_utc=moment(tap.at_utc),
        material=pick_entry(load_catalogue().materials, material, "material").id,
        toolpath_id=known.id if known else None,
        hours=hours,
        copies=tap.copies,
        nozzle_c=tap.nozzle_c,
        queue_entry_id=tap.queue_entry,
        spool_id=tap.spool,
        note=text("note", tap.note),
    )
    return _Start(machine, held_print, reading)


def _end(store: Store, machine: Machine, tap: Tap) -> _End:
    begun = print_on(store, machine)
    ended_utc = moment(tap.at_utc)
    if ended_utc < begun.started_utc:
        raise BadInput(
            "end", place=f"{ended_utc:%Y-%m-%d %H:%M} UTC", expected="it lies before the print began",
            remedy="correct the time, or take back the beginning",
        )  # fmt: skip
    looks = tuple(dict.fromkeys(pick_entry(load_network().observations, one, "observation").id for one in tap.looks))
    if looks and tap.kind != "spoil":
        raise BadInput("look", expected="only a spoiled print looks wrong", remedy="leave it out, or call it spoiled")
    note = "; ".join(part for part in (begun.note, tap.note) if part)
    run = replace(_run_of(begun, tap, ended_utc), note=note)
    return _End(machine, tap.kind, begun, ready_runs(store, machine, [run], [machine.name])[0], ended_utc, looks)


def _run_of(begun: Print, tap: Tap, ended_utc: datetime) -> Run:
    """What a print became; the share that was done counts over all its copies."""
    elapsed_h = (ended_utc - begun.started_utc).total_seconds() / 3600
    run = Run(
        begun.machine_id, begun.started_utc, OUTCOMES[tap.kind], begun.material, begun.toolpath_id,
        copies=begun.copies, nozzle_c=begun.nozzle_c,
    )  # fmt: skip
    planned_h = begun.hours
    if begun.toolpath_id is None and planned_h is None:  # by the clock: it printed as long as it was under way
        return replace(run, hours=elapsed_h / begun.copies, fraction=_by_clock(tap, None))
    if tap.kind == "finish":
        return replace(run, hours=None if begun.toolpath_id else planned_h)
    share = _by_clock(tap, None if not planned_h else elapsed_h / (planned_h * begun.copies))
    whole, fraction = divmod(share * begun.copies, 1.0)
    copies, fraction = (int(whole) + 1, fraction) if whole < begun.copies else (begun.copies, 1.0)
    if begun.toolpath_id:
        return replace(run, copies=copies, fraction=fraction)
    return replace(run, hours=(planned_h or 0.0) * share * begun.copies / copies, copies=copies, fraction=fraction)


def _by_clock(tap: Tap, elapsed_frac: float | None) -> float:
    """The share that was done: as told, else by the clock."""
    if tap.kind == "finish":
        return 1.0
    if tap.fraction is not None:
        return within("share done", tap.fraction, 0.0, 1.0)
    return 1.0 if elapsed_frac is None else min(MOST_FRAC, max(LEAST_FRAC, elapsed_frac))


def _write(act: ActInHand, ready: "_Start | _End") -> TapReceipt:
    machine = ready.machine
    busy = next(iter(act.open_prints(machine.id)), None)
    if isinstance(ready, _Start):
        if busy is not None:
            raise Conflict(
                machine.name, expected=f"it prints since {busy.started_utc:%Y-%m-%d %H:%M} UTC",
                remedy="say first how that ended",
            )  # fmt: skip
        begun = ready.held
        if ready.reading is not None and begun.toolpath_id is None:
            begun = replace(begun, toolpath_id=record_toolpath(act, ready.reading).id)
        hang_chosen(act, machine, begun)
        spool, said = spool_of(act, machine, begun, ready.reading.duty if ready.reading else None)
        begun = replace(begun, spool_id=spool)
        begun = replace(begun, id=act.add(begun), act_id=act.id)
        spoken_for(act, begun.toolpath_id, "under_way")
        return TapReceipt(act.id, machine, "start", begun, None, remarks=(*_remarks(act, machine), *said))
    if busy is None or busy.id != ready.held.id:
        raise Conflict(machine.name, expected="its print was ended meanwhile", remedy="look at the prints again")
    number = write_runs(act, machine, [ready.ready])[0]
    act.add(PrintEnding(ready.held.id, number, ready.ended_utc))
    for look in ready.looks:
        act.add(RunLook(number, look))
    run = replace(ready.ready.run, id=number, act_id=act.id)
    return TapReceipt(act.id, machine, ready.kind, ready.held, run, ready.looks)


def _remarks(records: Reads, machine: Machine) -> tuple[str, ...]:
    visit = held(records, machine)
    if visit is None:
        return ()
    return (f"{machine.name} is held by visit {visit.id} and not released: prove it good first.",)


def receipts_of(records: Reads, act_id: int) -> list[TapReceipt]:
    """What an act recorded of prints, told again; Conflict where it was taken back."""
    machines = {machine.id: machine for machine in records.machines()}
    runs = {run.id: run for run in records.every(Run, act_id=act_id)}
    looks = records.every(RunLook, act_id=act_id)
    told = []
    for ending in records.every(PrintEnding, act_id=act_id):
        begun, run = records.one(Print, ending.print_id), runs[ending.run_id]
        if begun is not None:
            kind = next(kind for kind, outcome in OUTCOMES.items() if outcome == run.outcome)
            seen = tuple(look.observation for look in looks if look.run_id == run.id)
            told.append(TapReceipt(act_id, machines[run.machine_id], kind, begun, run, seen))
    begun_here = records.every(Print, act_id=act_id)
    for one in begun_here:
        machine = machines[one.machine_id]
        told.append(TapReceipt(act_id, machine, "start", one, None, remarks=_remarks(records, machine)))
    if not told:
        raise taken_back("print")
    return told


def print_on(records: Reads, machine: Machine) -> Print:
    """The print that is under way on a machine; refuses where there is none."""
    found = next(iter(records.open_prints(machine.id)), None)
    if found is None:
        raise NotFound(
            "print",
            place=machine.name,
            expected="nothing is under way on it",
            remedy="begin a print first, or log a run",
        )
    return found


def under_way(store: Reads) -> list[UnderWay]:
    """Every print that is under way, the first to end first."""
    machines = {machine.id: machine for machine in store.machines()}
    toolpaths = {toolpath.id: toolpath for toolpath in store.toolpaths()}
    found = [
        UnderWay(one, machines[one.machine_id], toolpaths.get(one.toolpath_id or 0), ends_utc(one))
        for one in store.open_prints()
        if one.machine_id in machines
    ]
    return sorted(found, key=lambda one: (one.ends_utc is None, one.ends_utc or one.held.started_utc, one.machine.name))


def ends_utc(one: Print) -> datetime | None:
    """When a print should end; None where nobody knows."""
    return None if one.hours is None else one.started_utc + timedelta(hours=one.hours * one.copies)


def looks_to_choose() -> list[Observation]:
    """What a spoiled print may look like: the observations of the catalogue that the print itself shows."""
    return [seen for seen in load_network().observations.values() if seen.group == "print"]


def looks_of(records: Reads, run_id: int) -> list[Observation]:
    """How a run looked that went wrong."""
    known = load_network().observations
    return [known[look.observation] for look in records.every(RunLook, run_id=run_id) if look.observation in known]


def let_go(act: ActInHand, run_id: int, *, with_print: bool) -> None:
    """Void how a run looked and that it ended a print, before the run is voided itself.

    Without its print, that is under way again; with it, it is as if it had never been begun.
    """
    for look in act.every(RunLook, run_id=run_id):
        act.void(look)
    for ending in act.every(PrintEnding, run_id=run_id):
        act.void(ending)
        begun = act.one(Print, ending.print_id)
        if with_print and begun is not None:
            act.void(begun)
