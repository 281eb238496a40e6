"""From the records: everything in a period that took parts, bench time or a print, and what it cost.

What happened to one machine between the begin of one run and the next counts as one incident: a failed part, the
print it spoiled, the jam that showed it. Work that was planned counts together by machine and day.
"""

import json
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from feedwright.catalogue.entry import Catalogue, Figures
from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import load_network
from feedwright.farm.ground.periods import Period
from feedwright.farm.ground.settings import figures, zone
from feedwright.farm.parts.renewals import TUBE_END
from feedwright.farm.stores.item_terms import SAID, all_terms
from feedwright.planning.keeping import NO_CAUSE, Printed, Work
from feedwright.records.reads import Reads
from feedwright.records.stores_values import Movement
from feedwright.records.values import Finding, Fitting, Machine, Removal, Run, VisitEnding
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import filament_kg
from feedwright.wear.values import Surroundings

STOPS = ("jam", "slip")
"""Events that end a machine's ability to feed."""


def printed_by_machine(records: Reads, period: Period) -> dict[int, Printed]:
    """What each machine printed in a period, by machine."""
    catalogue, machines = load_catalogue(), {machine.id: machine for machine in records.machines()}
    total: dict[int, Printed] = defaultdict(Printed)
    for machine_id, material, outcome, stretch, many in records.printed(period.since_utc, period.until_utc):
        if machine_id in machines:
            kg = _kg(catalogue, machines[machine_id], material, stretch)
            total[machine_id] += Printed(
                stretch.duration_s / 3600 * many, kg * many, many, many if outcome == "spoiled" else 0
            )
    return total


def work_of(records: Reads, period: Period) -> list[Work]:
    """All work of a period, oldest first."""
    done = _WorkDone(records, period)
    work = [*done.renewals(), *done.spoiled_prints(), *done.stops(), *done.visits(), *done.looks(), *done.cases()]
    return sorted(_unplanned_once(_with_causes(work), done), key=lambda one: (one.at_utc, one.machine, one.record))


class _WorkDone:
    """The records of one period, and what is needed to price them."""

    def __init__(self, records: Reads, period: Period) -> None:
        self.records, self.period, self.zone = records, period, zone(records)
        self.catalogue, numbers = load_catalogue(), figures(records)
        self.figure = {name: sourced.value for name, sourced in numbers.numbers.items()}
        self.minute_cost = _minute_cost(numbers)
        self.machines: dict[int, Machine] = {machine.id: machine for machine in records.machines()}
        self.fittings: dict[int, Fitting] = {fitting.id: fitting for fitting in records.fittings()}
        self.starts = records.run_starts(period.since_utc, period.until_utc)
        self.removals: list[Removal] = [one for one in records.removals() if period.holds(one.removed_utc)]
        self.findings: list[Finding] = [one for one in records.findings() if period.holds(one.found_utc)]
        self.endings: dict[int, VisitEnding] = {
            one.act_id: one for one in records.visit_endings() if period.holds(one.ended_utc)
        }
        self.at_visits = self._minutes_at_visits()
        self.from_stores = _paid_from_stores(records, numbers)

    def renewals(self) -> Iterator[Work]:
        """Every part that was renewed; what went along with another, such as the end of a tube, costs nothing."""
        for removal in self.removals:
            fitting = self.fittings.get(removal.fitting_id)
            if fitting is None or fitting.machine_id not in self.machines:
                continue
            kind, failed = self.catalogue.parts[fitting.part_kind], removal.reason == "failed"
            along = removal.replaced_by is None or (removal.reason == "retired" and kind.id == TUBE_END)
            minutes, reckoned = (0.0, "") if along else self._minutes(removal, kind.renewal.minutes.value)
            price, priced = (0.0, "") if along else self._price(removal, kind.renewal.parts_cost.value)
            yield self._work(
                removal.removed_utc, f"{kind.title} renewed: {removal.reason}", fitting.machine_id, kind.title,
                f"renewal {removal.id}", removal.act_id, failure=failed, minutes=minutes, parts_cost=price,
                cause=f"{kind.title} failed" if failed else "",
                reckoned="; ".join(one for one in (reckoned, priced) if one),
            )  # fmt: skip

    def spoiled_prints(self) -> Iterator[Work]:
        """The copy that was spoiled: its hours on the machine and its filament; copies before it came out well."""
        for run, stretch in self.records.charged_runs(since_utc=self.period.since_utc, outcome="spoiled"):
            machine = self.machines.get(run.machine_id)
            if machine is None or not self.period.holds(run.started_utc):
                continue
            lost = _lost_frac(run)
            hours, kg = stretch.duration_s / 3600, _kg(self.catalogue, machine, run.material, stretch)
            cost = lost * (hours * self.figure["machine_per_h"] + kg * self.figure["filament_per_kg"])
            words = f"print spoiled at {run.fraction:.0%}" if run.toolpath_id else "print spoiled"
            yield self._work(
                run.started_utc, words, run.machine_id, "", f"run {run.id}", run.act_id, spoiled=True,
                spoiled_cost=cost, reckoned="price of hours and filament by the figures",
            )  # fmt: skip

    def stops(self) -> Iterator[Work]:
        """Jams and slips."""
        for event in self.records.events():
            if event.kind in STOPS and self.period.holds(event.at_utc) and event.machine_id in self.machines:
                words = f"{event.kind} on record"
                yield self._work(
                    event.at_utc, words, event.machine_id, "", f"event {event.id}", event.act_id, failure=True
                )

    def looks(self) -> Iterator[Work]:
        """Looks at a part by themselves: those at a visit or a renewal are part of it."""
        with_work = {removal.act_id for removal in self.removals} | self.endings.keys()
        for finding in self.findings:
            fitting = self.fittings.get(finding.fitting_id)
            if fitting is None or finding.act_id in with_work or fitting.machine_id not in self.machines:
                continue
            kind = self.catalogue.parts[fitting.part_kind]
            yield self._work(
                finding.found_utc, f"look at the {kind.title.lower()}", fitting.machine_id, kind.title,
                f"finding {finding.id}", finding.act_id, minutes=self.figure["look_minutes"],
                reckoned="minutes of a look by the figures",
            )  # fmt: skip

    def visits(self) -> Iterator[Work]:
        """Visits at which nothing was renewed; of the others the time is shared by what was."""
        renewed = {removal.act_id for removal in self.removals}
        visits = {visit.id: visit for visit in self.records.visits()}
        for act_id, ending in self.endings.items():
            visit = visits.get(ending.visit_id)
            if act_id in renewed or visit is None or visit.machine_id not in self.machines:
                continue
            yield self._work(
                ending.ended_utc, "visit: looked and measured", visit.machine_id, "", f"visit {visit.id}", act_id,
                minutes=self.at_visits.get(act_id, 0.0),
            )  # fmt: skip

    def cases(self) -> Iterator[Work]:
        """Closed cases on own machines: their cause goes to what they looked into."""
        endings = {ending.case_id: ending for ending in self.records.case_endings()}
        causes = load_network().causes
        for case in self.records.cases():
            ending = endings.get(case.id)
            if ending is None or case.machine_id not in self.machines or not self.period.holds(case.opened_utc):
                continue
            cause = causes[ending.cause].title if ending.cause in causes else ""
            part = self.catalogue.parts.get(causes[ending.cause].part) if cause else None
            yield self._work(
                case.opened_utc, "case closed", case.machine_id, part.title if part else "", f"case {case.id}",
                case.act_id, cause=cause,
            )  # fmt: skip

    def _work(
        self, at_utc: datetime, what: str, machine_id: int, part: str, record: str, act_id: int, *,
        cause: str = "", failure: bool = False, spoiled: bool = False, minutes: float = 0.0, parts_cost: float = 0.0,
        spoiled_cost: float = 0.0, reckoned: str = "",
    ) -> Work:  # fmt: skip
        name = self.machines[machine_id].name
        trouble = failure or spoiled or record.startswith("case")
        run = bisect_right(self.starts.get(machine_id, []), at_utc)
        day = at_utc.astimezone(self.zone).date()
        incident = f"{name}, trouble at its run {run}" if trouble else f"{name}, work of {day}"
        return Work(
            at_utc, what, name, part, cause, incident, failure, spoiled, minutes, parts_cost,
            minutes * self.minute_cost, spoiled_cost, reckoned, record, act_id,
        )  # fmt: skip

    def _price(self, removal: Removal, usual: float) -> tuple[float, str]:
        if removal.id in self.from_stores:
            return self.from_stores[removal.id], ""
        return usual * self.figure["price_ratio"], "price by the catalogue" if usual else ""

    def _minutes(self, removal: Removal, usual: float) -> tuple[float, str]:
        if removal.minutes is not None:
            return removal.minutes, ""
        if removal.act_id in self.at_visits:
            return self.at_visits[removal.act_id] * usual / self._usual_of_act(removal.act_id), ""
        return usual, "minutes by the catalogue"

    def _usual_of_act(self, act_id: int) -> float:
        """Minutes that the catalogue gives to all that one act renewed."""
        together = [self.fittings[one.fitting_id] for one in self.removals if one.act_id == act_id]
        return sum(self.catalogue.parts[fitting.part_kind].renewal.minutes.value for fitting in together) or 1.0

    def _minutes_at_visits(self) -> dict[int, float]:
        """Time at the bench of each visit without its pauses, by the act that ended it."""
        begun = {visit.id: visit.begun_utc for visit in self.records.visits()}
        return {
            act_id: (ending.ended_utc - begun[ending.visit_id] - self._paused(ending)) / timedelta(minutes=1)
            for act_id, ending in self.endings.items()
            if ending.visit_id in begun
        }

    def _paused(self, ending: VisitEnding) -> timedelta:
        """Each pause lasts until the next entry of another kind, or the end."""
        total, since = timedelta(), None
        for entry in self.records.visit_entries(ending.visit_id):
            if entry.kind == "paused":
                since = since or entry.entered_utc
            elif since is not None:
                total, since = total + (entry.entered_utc - since), None
        return total if since is None else total + (ending.ended_utc - since)


def _with_causes(work: Iterable[Work]) -> list[Work]:
    """One cause for each incident: that of a closed case, else the part that failed; a spoiled print takes its part."""
    held = list(work)
    causes: dict[str, str] = {}
    parts: dict[str, str] = {}
    for one in sorted(held, key=lambda one: not one.record.startswith("case")):
        if one.cause:
            causes.setdefault(one.incident, one.cause)
        if one.part and (one.failure or one.record.startswith("case")):
            parts.setdefault(one.incident, one.part)
    troubled = {one.incident for one in held if one.failure or one.spoiled or one.record.startswith("case")}
    return [
        replace(one, cause=causes.get(one.incident, NO_CAUSE), part=one.part or parts.get(one.incident, ""))
        if one.incident in troubled
        else one
        for one in held
    ]


def _unplanned_once(work: list[Work], done: _WorkDone) -> list[Work]:
    """Clearing up and finding the cause, once for each incident that was a failure."""
    seen: set[str] = set()
    told = []
    for one in work:
        if one.failure and one.incident not in seen:
            seen.add(one.incident)
            minutes = one.minutes + done.figure["unplanned_minutes"]
            words = "; ".join(held for held in (one.reckoned, "clearing up by the figures") if held)
            told.append(replace(one, minutes=minutes, time_cost=minutes * done.minute_cost, reckoned=words))
        else:
            told.append(one)
    return told


def held_hours(records: Reads, period: Period) -> dict[int, float]:
    """Hours of a period in which each machine was held for service: from a visit's begin to its release.

    A visit that calls for no proof holds its machine until it ends.
    """
    from feedwright.catalogue.procedures import procedure_named

    released = {release.visit_id: release.released_utc for release in records.releases()}
    ended = {ending.visit_id: ending.ended_utc for ending in records.visit_endings()}
    total: dict[int, float] = defaultdict(float)
    for visit in records.visits():
        procedures = [procedure_named(one) for one in json.loads(visit.procedures)]
        proved = any(one.proofs or one.proves for one in procedures)
        until = released.get(visit.id, period.until_utc if proved else ended.get(visit.id, period.until_utc))
        begin, end = max(visit.begun_utc, period.since_utc), min(until, period.until_utc)
        total[visit.machine_id] += max(0.0, (end - begin) / timedelta(hours=1))
    return total


def _paid_from_stores(records: Reads, numbers: Figures) -> dict[int, float]:
    """What the pieces cost that each renewal took from the stores, where their price was said; by renewal."""
    terms = {item: one for item, one in all_terms(records, numbers).items() if one.pack_price_source == SAID}
    paid: dict[int, float] = defaultdict(float)
    for movement in records.every(Movement, kind="used") if terms else ():
        if movement.removal_id is not None and movement.item_id in terms:
            held = terms[movement.item_id]
            paid[movement.removal_id] += float(held.pack_price.amount) / held.pack_count * movement.count
    return paid


def _lost_frac(run: Run) -> float:
    """Share of a spoiled run that was lost: its last copy, of a file to its fraction, else as long as the others."""
    last = run.fraction if run.toolpath_id else 1.0
    return last / (run.copies - 1 + last) if last else 0.0


def _minute_cost(numbers: Figures) -> float:
    return (numbers.numbers["labour_per_h"].value + numbers.numbers["machine_per_h"].value) / 60


def _kg(catalogue: Catalogue, machine: Machine, material: str, stretch: Stretch) -> float:
    around = Surroundings(material, machine.enclosure_c, machine.motion.filament_diameter_mm)
    return filament_kg(stretch, around, catalogue.materials[material])
