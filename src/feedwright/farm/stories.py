"""What the records tell of every part's life: gathered exposure at each look, and how it ended."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Collection, Iterable, Sequence
from copy import copy
from datetime import UTC, datetime

import numpy as np

from feedwright.catalogue.entry import Catalogue, PartKind
from feedwright.farm.charging import charge_of_event, material_of, surroundings_at
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


class Histories:
    """All that is on record of the fitted parts; their stories can be told as they stood at any moment."""

    def __init__(self, records: Reads, catalogue: Catalogue, machines: Iterable[Machine]) -> None:
        self.fittings: list[Fitting] = []
        self.removals: dict[int, Removal] = {}
        self._lines: dict[int, Timeline] = {}
        self._seen: dict[int, list[Finding]] = {}
        self._catalogue = catalogue
        self._gathered: dict[tuple[int, str], Gathered] = {}
        for machine in machines:
            self._read(records, machine)

    def _read(self, records: Reads, machine: Machine) -> None:
        """Take in all that is on record of one machine."""
        self._lines[machine.id] = Timeline(records, machine)
        fittings = records.fittings(machine.id)
        self.fittings += fittings
        self.removals.update((removal.fitting_id, removal) for removal in records.removals(machine.id))
        found = records.findings([fitting.id for fitting in fittings])
        for finding in sorted(found, key=lambda finding: (finding.found_utc, finding.id)):
            self._seen.setdefault(finding.fitting_id, []).append(finding)

    def gathered(self, fitting: Fitting) -> "Gathered":
        """What parts of a fitting's kind gathered on its machine."""
        key = fitting.machine_id, fitting.part_kind
        if key not in self._gathered:
            self._gathered[key] = self._lines[fitting.machine_id].gathered(
                self._catalogue.parts[fitting.part_kind], self._catalogue
            )
        return self._gathered[key]

    def seen(self, fitting: Fitting) -> Sequence[Finding]:
        """What was found of a fitting, oldest first."""
        return self._seen.get(fitting.id, ())

    def with_news(self, records: Reads, machine_ids: Collection[int]) -> "Histories":
        """The same, with all that is on record of these machines read anew."""
        other = copy(self)
        other.fittings = [fitting for fitting in self.fittings if fitting.machine_id not in machine_ids]
        gone = {fitting.id for fitting in self.fittings if fitting.machine_id in machine_ids}
        other.removals = {number: one for number, one in self.removals.items() if number not in gone}
        other._seen = {number: found for number, found in self._seen.items() if number not in gone}
        other._lines = {number: line for number, line in self._lines.items() if number not in machine_ids}
        other._gathered = {key: held for key, held in self._gathered.items() if key[0] not in machine_ids}
        for machine_id in sorted(machine_ids):
            if (machine := records.machine(machine_id)) is not None:
                other._read(records, machine)
        return other

    def under(self, catalogue: Catalogue) -> "Histories":
        """The same records, reckoned by another catalogue's laws."""
        other = copy(self)
        other._catalogue, other._gathered = catalogue, {}
        return other

    def materials(self) -> set[str]:
        """Every material that was printed."""
        return {material for line in self._lines.values() for material in line.materials}

    def stories(
        self, until: datetime | None = None, *, only: str | None = None, machines: Collection[int] | None = None
    ) -> dict[int, Story]:
        """The story of every fitting by then, or of those of one part kind or some machines, by fitting."""
        told = {}
        for fitting in self.fittings:
            if (until is not None and fitting.fitted_utc >= until) or only not in (None, fitting.part_kind):
                continue
            if machines is not None and fitting.machine_id not in machines:
                continue
            removal = self.removals.get(fitting.id)
            if until is not None and removal is not None and removal.removed_utc >= until:
                removal = None
            findings = [one for one in self._seen.get(fitting.id, ()) if until is None or one.found_utc < until]
            told[fitting.id] = _story(
                self._catalogue.parts[fitting.part_kind], fitting, removal, findings, self.gathered(fitting),
                self._lines[fitting.machine_id], until or LAST,
            )  # fmt: skip
        return told


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
