"""What the records tell of every part's life: gathered exposure at each look, and how it ended."""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import accumulate

from feedwright.catalogue.entry import Catalogue, PartKind
from feedwright.farm.charging import charge_of_event, charge_of_run, material_of
from feedwright.records.reads import Reads
from feedwright.records.values import Finding, Fitting, Machine, Removal, Run
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import exposure_of
from feedwright.wear.findings import End, Look, Story
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
        charged = records.charged_runs(machine.id)
        charges = [charge_of_run(run, stretch, states) for run, stretch in charged]
        charges += [charge for event in records.events(machine.id) if (charge := charge_of_event(event, states))]
        charges.sort(key=lambda charge: charge.at_utc)
        self.runs: Sequence[Run] = sorted((run for run, _ in charged), key=lambda run: run.started_utc)
        self._at = [charge.at_utc for charge in charges]
        # the same toolpath is printed over and over: each different stretch is weighed once
        self._different: dict[tuple[Stretch, Surroundings], int] = {}
        self._which = [
            self._different.setdefault((charge.stretch, charge.around), len(self._different)) for charge in charges
        ]

    def gathered(self, kind: PartKind, catalogue: Catalogue) -> "Gathered":
        """What a part kind has gathered by any moment, by that catalogue's laws."""
        each = [
            exposure_of(kind, stretch, around, material_of(catalogue, around.material))
            for stretch, around in self._different
        ]
        return Gathered(self._at, [0.0, *accumulate(each[which] for which in self._which)])


@dataclass(frozen=True, slots=True)
class Gathered:
    """Totals of exposure (n + 1,) before and after each of n moments."""

    at_utc: Sequence[datetime]
    total: Sequence[float]

    def between(self, since: datetime, until: datetime) -> float:
        """Exposure of what began from one moment on and before the other."""
        begin = bisect_left(self.at_utc, since)
        return self.total[max(begin, bisect_left(self.at_utc, until))] - self.total[begin]


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
        self._lines: dict[int, Timeline] = {}
        for machine in machines:
            self._lines[machine.id] = Timeline(records, machine)
            self.fittings += records.fittings(machine.id)
        self.removals = {removal.fitting_id: removal for removal in records.removals()}
        self._catalogue = catalogue
        self._seen: dict[int, list[Finding]] = defaultdict(list)
        self._gathered: dict[tuple[int, str], Gathered] = {}
        for finding in sorted(records.findings(), key=lambda finding: (finding.found_utc, finding.id)):
            self._seen[finding.fitting_id].append(finding)

    def gathered(self, fitting: Fitting) -> "Gathered":
        """What parts of a fitting's kind gathered on its machine."""
        key = fitting.machine_id, fitting.part_kind
        if key not in self._gathered:
            self._gathered[key] = self._lines[fitting.machine_id].gathered(
                self._catalogue.parts[fitting.part_kind], self._catalogue
            )
        return self._gathered[key]

    def under(self, catalogue: Catalogue) -> "Histories":
        """The same records, reckoned by another catalogue's laws."""
        other = copy(self)
        other._catalogue, other._gathered = catalogue, {}
        return other

    def materials(self) -> set[str]:
        """Every material that was printed."""
        return {run.material for line in self._lines.values() for run in line.runs}

    def stories(self, until: datetime | None = None, *, only: str | None = None) -> dict[int, Story]:
        """The story of every fitting by then, or of those of one part kind, by fitting."""
        told = {}
        for fitting in self.fittings:
            if (until is not None and fitting.fitted_utc >= until) or only not in (None, fitting.part_kind):
                continue
            removal = self.removals.get(fitting.id)
            if until is not None and removal is not None and removal.removed_utc >= until:
                removal = None
            findings = [one for one in self._seen[fitting.id] if until is None or one.found_utc < until]
            told[fitting.id] = _story(
                self._catalogue.parts[fitting.part_kind], fitting, removal, findings, self.gathered(fitting),
                self._lines[fitting.machine_id].runs, until or LAST,
            )  # fmt: skip
        return told


def _story(
    kind: PartKind, fitting: Fitting, removal: Removal | None, findings: Sequence[Finding], gathered: Gathered,
    runs: Sequence[Run], until: datetime,
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
        _sound_until(kind, looks, total, removal, by, runs) if end == "failed" else 0.0,
    )  # fmt: skip


def _sound_until(
    kind: PartKind, looks: Sequence[Look], total: float, removal: Removal | None,
    gathered: Callable[[datetime], float], runs: Sequence[Run],
) -> float:  # fmt: skip
    """What a failed part had gathered when it surely still did its job.

    That is at its last sound look. A failure that shows by itself is noticed soon: then until the last run before it
    was taken off, or ``NOTICED_FRAC`` of what it gathered where that is longer ago.
    """
    sound = [look.gathered for look in looks if look.gathered < total and _is_sound(kind, look)]
    if removal is not None and removal.reason == "failed":
        at = bisect_left(runs, removal.removed_utc, key=lambda run: run.started_utc) - 1
        began = gathered(runs[at].started_utc) if at >= 0 else 0.0
        if at >= 0 and runs[at].outcome != "complete":
            sound.append(began)
        elif not all(failure.hidden for failure in kind.failures):
            sound.append(min(began, NOTICED_FRAC * total))
    return max(sound, default=0.0)


def _is_sound(kind: PartKind, look: Look) -> bool:
    grade = kind.grade(look.grade)
    return grade is not None and not grade.failed
