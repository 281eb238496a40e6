"""What stands around the runs of the large farm: stores, spools, queue, prints under way, visits, cases, new files.

Written in bulk, one act a kind, after the machines have had their lives; only the rounds are planned by the program.
"""

import hashlib
import json
import random
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import load_network
from feedwright.catalogue.procedures import StepRecord, load_procedures
from feedwright.demo.spool_rack import LOTS, NET_G, TARE_G
from feedwright.demo.stores_kept import ITEMS
from feedwright.demo.week_ahead import HOURS
from feedwright.farm.rounds.bench_hours import set_hours
from feedwright.farm.service.visit_plan import merged_for, screens, suiting, with_proofs
from feedwright.farm.stores.spool_draws import used_g
from feedwright.farm.stores.stores import add_item_within, item_of, terms_of
from feedwright.records.exchange_values import Arrival, ArrivalAnswer
from feedwright.records.prints_values import Print, QueueEntry
from feedwright.records.store import ActInHand, Store
from feedwright.records.stores_values import Movement, Spool, SpoolEntry, SpoolUse
from feedwright.records.values import (
    Case,
    CaseEnding,
    CaseEntry,
    Machine,
    Measurement,
    Release,
    Run,
    Toolpath,
    Visit,
    VisitEnding,
    VisitEntry,
)
from feedwright.toolpath.values import Stretch

SPOOLS_SINCE_DAYS = 540
"""So long ago the farm began to keep account of its spools."""
QUEUED, UNDER_WAY, VISITS, OPEN_VISITS, CASES, OPEN_CASES, ARRIVED, WAITING = 60, 100, 360, 12, 400, 25, 240, 15
MEASURED_EVERY_DAYS = 180


class Rack:
    """The spools that the runs of one machine draw from, written within the act that writes the runs."""

    def __init__(self, act: ActInHand, machine: Machine, since: datetime, draw: random.Random) -> None:
        self._act, self._machine, self._since, self._draw = act, machine, since, draw
        self._left: dict[str, tuple[int, float]] = {}
        self._hangs = 0

    def printed(self, run: Run, run_id: int, stretch: Stretch) -> None:
        """Charge a run to the spool of its material: a new one is hung where too little is left."""
        grams = used_g(run, stretch, self._machine)
        if run.started_utc < self._since or not 0 < grams < NET_G:
            return
        number, left = self._left.get(run.material, (0, 0.0))
        if left < grams:
            number, left = self._hung(run, number), NET_G
        self._act.add(SpoolUse(number, run_id, run.started_utc, grams))
        self._left[run.material] = number, left - grams

    def _hung(self, run: Run, before: int) -> int:
        at = run.started_utc - timedelta(minutes=5)
        if before:
            self._act.add(SpoolEntry(before, at, "emptied"))
        if self._hangs not in (0, before):
            self._act.add(SpoolEntry(self._hangs, at, "shelved", place="under the machine"))
        lot = self._draw.choice(LOTS.get(run.material, ("X-1", "X-2")))
        number = self._act.add(Spool(run.material, at, NET_G, TARE_G, "grey", lot))
        self._act.add(SpoolEntry(number, at, "opened"))
        self._act.add(SpoolEntry(number, at, "hung", self._machine.id))
        self._hangs = number
        return number


def furnish(store: Store, toolpaths: Sequence[tuple[Toolpath, str]], begun: datetime, now: datetime, seed: int) -> None:
    """Write everything; ``toolpaths`` come with the material that each is printed in."""
    draw, machines = random.Random(f"{seed} around"), store.machines()
    for what, write in (
        ("stores", lambda act: _stores(act, store, begun, now)),
        ("queue", lambda act: _queue(act, toolpaths, now, draw)),
        ("prints under way", lambda act: _under_way(act, machines, toolpaths, now, draw)),
        ("visits", lambda act: _visits(act, machines, begun, now, draw)),
        ("measurements", lambda act: _measurements(act, machines, begun, now, draw)),
        ("cases", lambda act: _cases(act, machines, begun, now, draw)),
        ("arrivals", lambda act: _arrivals(act, toolpaths, now, draw)),
    ):
        with store.act("a farm to time") as act:
            write(act)
        print(what, flush=True)
    for day, begins, minutes in HOURS:
        set_hours(store, day, minutes, begins=begins)


def _stores(act: ActInHand, store: Store, begun: datetime, now: datetime) -> None:
    """What every renewal took, and an order as soon as less than a fortnight's use is left."""
    items = {}
    for kept in ITEMS:
        item = item_of(kept.name, kept.fits, "", begun)
        terms = terms_of(store, begun, kept.pack_count, kept.pack_price, "4.90", kept.lead_days, (), "")
        items[kept.fits[0].partition(":")[0]] = add_item_within(act, item, terms, 400), kept
    fittings = {fitting.id: fitting for fitting in act.fittings()}
    held, due = defaultdict(lambda: 400), list[tuple[datetime, int, int, int]]()
    for removal in sorted(act.removals(), key=lambda one: one.removed_utc):
        if (found := items.get(fittings[removal.fitting_id].part_kind)) is None or removal.replaced_by is None:
            continue
        number, kept = found
        for coming in [one for one in due if one[0] <= removal.removed_utc]:
            act.add(Movement(coming[1], coming[0], "arrived", coming[2], order_id=coming[3]))
            due.remove(coming)
        act.add(Movement(number, removal.removed_utc, "used", 1, removal_id=removal.id))
        held[number] -= 1
        if held[number] < 60:
            pieces = kept.pack_count * (300 // kept.pack_count)
            order = act.add(Movement(number, removal.removed_utc, "ordered", pieces))
            due.append((removal.removed_utc + timedelta(days=kept.lead_days), number, pieces, order))
            held[number] += pieces


def _queue(act: ActInHand, toolpaths: Sequence[tuple[Toolpath, str]], now: datetime, draw: random.Random) -> None:
    for number in range(QUEUED):
        toolpath, material = draw.choice(toolpaths)
        due = now + timedelta(days=draw.uniform(0.5, 9)) if number % 3 else None
        act.add(QueueEntry(toolpath.id, material, draw.choice((1, 1, 1, 2, 4)), now - timedelta(hours=number), due))


def _under_way(
    act: ActInHand, machines: Sequence[Machine], toolpaths: Sequence[tuple[Toolpath, str]], now: datetime,
    draw: random.Random,
) -> None:  # fmt: skip
    for machine in draw.sample(machines, min(UNDER_WAY, len(machines))):
        toolpath, material = draw.choice(toolpaths)
        begun, hours = now - timedelta(minutes=draw.uniform(10, 200)), round(draw.uniform(1, 14), 1)
        act.add(Print(machine.id, begun, material, toolpath.id, hours))


def _visits(
    act: ActInHand, machines: Sequence[Machine], begun: datetime, now: datetime, draw: random.Random
) -> None:  # fmt: skip
    """Ended and released visits over the years, then some that are under way."""
    begins = sorted(draw.uniform(0, (now - begun).days - 3) for _ in range(VISITS - OPEN_VISITS))
    for day in begins:
        _visit(act, draw.choice(machines), begun + timedelta(days=day), draw)
    for machine in draw.sample(machines, min(OPEN_VISITS, len(machines))):
        _visit(act, machine, now - timedelta(hours=draw.uniform(1, 20)), draw, ended=False)


def _visit(act: ActInHand, machine: Machine, at: datetime, draw: random.Random, *, ended: bool = True) -> None:
    choice = [one for one in suiting(act, machine) if not one.renews]
    held = with_proofs(draw.sample(choice, 2))
    number = act.add(Visit(machine.id, at, json.dumps([one.id for one in held]), "pla"))
    steps = [screen.step for screen in screens(*merged_for(machine, held, "pla"))]
    proofs = {}
    for step in steps if ended else steps[:3]:
        at += timedelta(minutes=step.minutes, seconds=5)
        value = _value(step.record, draw)
        key = f"{number} {step.id}"
        act.add(VisitEntry(number, at, "done", key, step.id, json.dumps(value) if value else ""))
        if step.record and step.record.kind == "proof":
            unit = load_procedures().proofs[step.record.proof].unit
            made = Measurement(machine.id, at, step.record.proof, value["value"], unit, json.dumps(value), number)
            proofs[step.record.proof] = act.add(made)
    if ended:
        act.add(VisitEnding(number, at, "done"))
        act.add(Release(machine.id, number, at + timedelta(minutes=5), json.dumps(proofs)))


def _value(record: StepRecord | None, draw: random.Random) -> dict[str, str | float]:
    if record is None:
        return {}
    if record.kind == "finding":
        return {"grade": draw.choice([grade.id for grade in load_catalogue().parts[record.part].grades])}
    if record.kind == "renewal":
        return {"reason": "worn"}
    proof = load_procedures().proofs[record.proof]
    return {"value": round(proof.low + draw.uniform(0.35, 0.65) * (proof.high - proof.low), 4)}


def _measurements(
    act: ActInHand, machines: Sequence[Machine], begun: datetime, now: datetime, draw: random.Random
) -> None:
    """Twice a year every machine's feed rate by itself."""
    proof = load_procedures().proofs["feed_rate"]
    for machine in machines:
        for day in range(MEASURED_EVERY_DAYS, (now - begun).days, MEASURED_EVERY_DAYS):
            value = round(draw.uniform(proof.low, proof.high), 4)
            act.add(Measurement(machine.id, begun + timedelta(days=day), proof.id, value, proof.unit))


def _cases(act: ActInHand, machines: Sequence[Machine], begun: datetime, now: datetime, draw: random.Random) -> None:
    """Cases with what their cause shows; the last are open."""
    causes = list(load_network().causes.values())
    for number, day in enumerate(sorted(draw.uniform(0, (now - begun).days - 1) for _ in range(CASES))):
        cause, at = draw.choice(causes), begun + timedelta(days=day)
        machine = draw.choice([one for one in machines[:60] if cause.drive in ("any", one.drive)])
        case = act.add(Case(at, machine_id=machine.id, material="pla"))
        for name in list(cause.shows)[:4]:
            seen = "yes" if draw.random() < cause.shows[name].value else "no"
            act.add(CaseEntry(case, at, "answer", name, seen))
        if number < CASES - OPEN_CASES:
            act.add(CaseEnding(case, at + timedelta(hours=1), cause.id, cause.cure))


def _arrivals(act: ActInHand, toolpaths: Sequence[tuple[Toolpath, str]], now: datetime, draw: random.Random) -> None:
    for number in range(ARRIVED):
        toolpath, _ = draw.choice(toolpaths)
        seen = now - timedelta(hours=2 * (ARRIVED - number))
        mark = hashlib.sha256(str(number).encode()).hexdigest()
        arrival = Arrival(seen, mark, f"{number} {toolpath.name}", toolpath.bytes_count, toolpath.id)
        known = replace(arrival, id=act.add(arrival))
        if number < ARRIVED - WAITING:
            act.add(ArrivalAnswer(known.id, seen + timedelta(minutes=20), "put_aside"))
