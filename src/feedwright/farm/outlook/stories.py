"""What the records tell of every part's life: gathered exposure at each look, and how it ended."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime
from functools import cached_property

import numpy as np

from feedwright.catalogue.entry import Catalogue, PartKind
from feedwright.farm.machines.charging import charge_of_event, material_of, surroundings_at
from feedwright.records.reads import Reads
from feedwright.records.values import Finding, Fitting, Machine, Removal
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import exposure_of
from feedwright.wear.findings import End, Floats, Look, Story
from feedwright.wear.values import Interval, Surroundings

UNKNOWN_SHARES = (0.0, 0.4, 0.9)
"""What a part of unknown history may have been through, in median lives: least, likely, most (assumed)."""
USED_FACTOR = 1.6
"""How far a reckoned history may be off, either way (assumed)."""
LAST = datetime.max.replace(tzinfo=UTC)
NOTICED_FRAC = 0.95
"""A failure that shows by itself is noticed before the part has gathered much more (assumed)."""


class Timeline:
    """All that wore one machine's parts, in order of time, and its runs."""

    def __init__(self, records: Reads, machine: Machine) -> None:
        states = records.states(machine.id)
        runs = records.wearing_runs(machine.id)
        self.materials = {material for _, material, _, _ in runs}
        self._runs_at = [started for started, *_ in runs]
        self._complete = [outcome == "complete" for _, _, outcome, _ in runs]
        begins = [since for since, _ in states]
        around: dict[tuple[int, str], Surroundings] = {}
        charges: list[tuple[datetime, Stretch, Surroundings]] = []
        for started, material, _, stretch in runs:
            key = bisect_right(begins, started), material
            if key not in around:
                around[key] = surroundings_at(states, started, material)
            charges.append((started, stretch, around[key]))
        charges += [
            (charge.at_utc, charge.stretch, charge.around)
            for event in records.events(machine.id)
            if (charge := charge_of_event(event, states)) is not None
        ]
        charges.sort(key=lambda charge: charge[0])
        self._at = [at for at, _, _ in charges]
        # the same toolpath is printed over and over: each different stretch is weighed once
        different: dict[tuple[int, int], int] = {}
        self._different: list[tuple[Stretch, Surroundings]] = []
        which = []
        for _, stretch, near in charges:
            same = id(stretch), id(near)  # records hand out one object for one text; another object costs but time
            if same not in different:
                different[same] = len(self._different)
                self._different.append((stretch, near))
            which.append(different[same])
        self._which = np.array(which, dtype=np.intp)

    def gathered(self, kind: PartKind, catalogue: Catalogue) -> "Gathered":
        """What a part kind has gathered by any moment, by that catalogue's laws."""
        each = [
            exposure_of(kind, stretch, around, material_of(catalogue, around.material))
            for stretch, around in self._different
        ]
        return Gathered(self._at, self._which, np.array(each, dtype=float))

    def run_before(self, moment: datetime) -> tuple[datetime, bool] | None:
        """When the last run before that moment began, and whether it went through to its end."""
        at = bisect_left(self._runs_at, moment) - 1
        return (self._runs_at[at], self._complete[at]) if at >= 0 else None


class Gathered:
    """What one part kind gathered on a machine between any two moments."""

    def __init__(self, at_utc: Sequence[datetime], which: "np.ndarray[tuple[int], np.dtype[np.intp]]", each: Floats):
        """Of n charges: their moments, and which of the different amounts ``each`` was gathered at each of them."""
        self._at = at_utc
        self._total = np.concatenate([[0.0], np.cumsum(each[which])])

    def between(self, since: datetime, until: datetime) -> float:
        """Exposure of what began from one moment on and before the other."""
        begin = bisect_left(self._at, since)
        return float(self._total[max(begin, bisect_left(self._at, until))] - self._total[begin])


def before(fitting: Fitting, median_life: float) -> Interval:
    """What a part had been through when it was fitted: exact for a new one, else a band."""
    if fitting.history == "new":
        return Interval(fitting.exposure_before, fitting.exposure_before, fitting.exposure_before)
    if fitting.history == "used":
        had = fitting.exposure_before
        return Interval(had / USED_FACTOR, had, had * USED_FACTOR)
    low, mid, high = (share * median_life for share in UNKNOWN_SHARES)
    return Interval(low, mid, high)


def median_life(kind: PartKind, product: str) -> float:
    """The rule of thumb's median life of a product."""
    known = kind.product(product)
    return kind.life.median.value * (known.life_ratio.value if known else 1.0)


class History:
    """All that is on record of one machine's fitted parts."""

    def __init__(self, records: Reads, machine: Machine) -> None:
        self.line = Timeline(records, machine)
        self.fittings = tuple(records.fittings(machine.id))
        self.removals = {removal.fitting_id: removal for removal in records.removals(machine.id)}
        self.seen: dict[int, list[Finding]] = defaultdict(list)
        found = records.findings([fitting.id for fitting in self.fittings])
        for finding in sorted(found, key=lambda finding: (finding.found_utc, finding.id)):
            self.seen[finding.fitting_id].append(finding)


class Histories:
    """All that is on record of the fitted parts; their stories can be told as they stood at any moment."""

    def __init__(self, by_machine: Mapping[int, History], catalogue: Catalogue) -> None:
        self._by_machine, self._catalogue = by_machine, catalogue
        self._gathered: dict[int, dict[str, Gathered]] = defaultdict(dict)
        """By machine and part kind."""

    @classmethod
    def read(cls, records: Reads, catalogue: Catalogue, machines: Iterable[Machine]) -> "Histories":
        """What is on record of these machines."""
        return cls({machine.id: History(records, machine) for machine in machines}, catalogue)

    @cached_property
    def fittings(self) -> tuple[Fitting, ...]:
        """Every part that was ever fitted, machine by machine."""
        return tuple(fitting for history in self._by_machine.values() for fitting in history.fittings)

    @cached_property
    def removals(self) -> Mapping[int, Removal]:
        """How parts were taken off, by fitting."""
        return {number: one for history in self._by_machine.values() for number, one in history.removals.items()}

    def of_machine(self, machine_id: int) -> Sequence[Fitting]:
        """Every part that was ever fitted to one machine."""
        history = self._by_machine.get(machine_id)
        return () if history is None else history.fittings

    def gathered(self, fitting: Fitting) -> "Gathered":
        """What parts of a fitting's kind gathered on its machine."""
        held = self._gathered[fitting.machine_id]
        if fitting.part_kind not in held:
            line = self._by_machine[fitting.machine_id].line
            held[fitting.part_kind] = line.gathered(self._catalogue.parts[fitting.part_kind], self._catalogue)
        return held[fitting.part_kind]

    def seen(self, fitting: Fitting) -> Sequence[Finding]:
        """What was found of a fitting, oldest first."""
        return self._by_machine[fitting.machine_id].seen.get(fitting.id, ())

    def with_news(self, records: Reads, machine_ids: Collection[int]) -> "Histories":
        """The same, with all that is on record of these machines read anew."""
        by_machine = {number: history for number, history in self._by_machine.items() if number not in machine_ids}
        for machine_id in sorted(machine_ids):
            if (machine := records.machine(machine_id)) is not None:
                by_machine[machine_id] = History(records, machine)
        other = Histories(by_machine, self._catalogue)
        other._gathered.update((number, held) for number, held in self._gathered.items() if number not in machine_ids)
        return other

    def under(self, catalogue: Catalogue) -> "Histories":
        """The same records, reckoned by another catalogue's laws."""
        return Histories(self._by_machine, catalogue)

    def materials(self) -> set[str]:
        """Every material that was printed."""
        return {material for history in self._by_machine.values() for material in history.line.materials}

    def stories(
        self, until: datetime | None = None, *, only: str | None = None, machines: Iterable[int] | None = None
    ) -> dict[int, Story]:
        """The story of every fitting by then, or of those of one part kind or some machines, by fitting."""
        told = {}
        for machine_id in self._by_machine if machines is None else machines:
            history = self._by_machine.get(machine_id)
            for fitting in () if history is None else history.fittings:
                if (until is None or fitting.fitted_utc < until) and only in (None, fitting.part_kind):
                    told[fitting.id] = self._story(fitting, until)
        return told

    def _story(self, fitting: Fitting, until: datetime | None) -> Story:
        history = self._by_machine[fitting.machine_id]
        removal = history.removals.get(fitting.id)
        if until is not None and removal is not None and removal.removed_utc >= until:
            removal = None
        findings = [one for one in self.seen(fitting) if until is None or one.found_utc < until]
        kind = self._catalogue.parts[fitting.part_kind]
        return _story(kind, fitting, removal, findings, self.gathered(fitting), history.line, until or LAST)


def _story(
    kind: PartKind, fitting: Fitting, removal: Removal | None, findings: Sequence[Finding], gathered: Gathered,
    line: Timeline, until: datetime,
) -> Story:  # fmt: skip
    def by(moment: datetime) -> float:
        return max(0.0, gathered.between(fitting.fitted_utc, moment))  # a mere unload counts below nought

    looks = tuple(Look(by(finding.found_utc), finding.grade) for finding in findings if finding.grade)
    total = by(until if removal is None else removal.removed_utc)
    end: End = "open" if removal is None else "failed" if removal.reason == "failed" else "renewed"
    last = kind.grade(looks[-1].grade) if looks else None
    if last is not None and last.failed and end != "failed":
        # found failed: it had failed by that look, whatever is printed with it since
        end, total = "failed", looks[-1].gathered
    if last is not None and end == "failed" and last.failed and last.life_low_frac <= 0:
        end = "renewed"  # it failed in a way that is not wear, such as a kink: its wear was still in order
    return Story(
        fitting.machine_id, fitting.product, before(fitting, median_life(kind, fitting.product)), total, end, looks,
        _sound_until(kind, looks, total, removal, by, line) if end == "failed" else 0.0,
    )  # fmt: skip


def _sound_until(
    kind: PartKind, looks: Sequence[Look], total: float, removal: Removal | None,
    gathered: Callable[[datetime], float], line: Timeline,
) -> float:  # fmt: skip
    """What a failed part had gathered when it surely still did its job.

    That is at its last sound look. A failure that shows by itself is noticed soon: then until the last run before it
    was taken off, or ``NOTICED_FRAC`` of what it gathered where that is longer ago.
    """
    sound = [look.gathered for look in looks if look.gathered < total and _is_sound(kind, look)]
    if removal is not None and removal.reason == "failed":
        last = line.run_before(removal.removed_utc)
        began = gathered(last[0]) if last else 0.0
        if last and not last[1]:
            sound.append(began)
        elif not all(failure.hidden for failure in kind.failures):
            sound.append(min(began, NOTICED_FRAC * total))
    return max(sound, default=0.0)


def _is_sound(kind: PartKind, look: Look) -> bool:
    grade = kind.grade(look.grade)
    return grade is not None and not grade.failed
