"""From the records to the outlook and advice of every fitted part."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache

from feedwright.catalogue.entry import Catalogue, Figures, PartKind
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.settings import figures
from feedwright.farm.totals import exposures
from feedwright.farm.values import FittedPart
from feedwright.planning.renew import advise
from feedwright.planning.values import RenewalCosts
from feedwright.records.store import Store
from feedwright.records.values import Finding, Fitting, Machine
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import drivers_of, exposure_of, filament_kg
from feedwright.wear.life import LifeCurve, curve, prior
from feedwright.wear.outlook import outlook
from feedwright.wear.pace import UNKNOWN_RELATIVE_SD, pace_of_use
from feedwright.wear.typical import typical_stretch
from feedwright.wear.values import Interval, PaceOfUse, Surroundings

WEEKS = 16
"""How far back the pace of use looks."""
UNKNOWN_SHARES = (0.0, 0.4, 0.9)
"""What a part of unknown history may have been through, in median lives: least, likely, most (assumed)."""
USED_FACTOR = 1.6
"""How far a reckoned history may be off, either way (assumed)."""


@dataclass(slots=True)
class Use:
    """What one machine printed lately: by week back from now and by material, and how many runs."""

    days: float
    weeks: list[dict[str, Stretch]] = field(default_factory=lambda: [{} for _ in range(WEEKS)])
    runs: int = 0

    def add(self, week: int, material: str, stretch: Stretch) -> None:
        """Add one run's charge to its week."""
        held = self.weeks[week].get(material)
        self.weeks[week][material] = stretch if held is None else held + stretch
        self.runs += 1

    def by_material(self) -> dict[str, Stretch]:
        """All weeks together, by material."""
        total: dict[str, Stretch] = {}
        for week in self.weeks:
            for material, stretch in week.items():
                total[material] = total[material] + stretch if material in total else stretch
        return total


def recent_use(store: Store, machines: Sequence[Machine], now_utc: datetime) -> dict[int, Use]:
    """What each machine printed in the last weeks."""
    since = now_utc - timedelta(weeks=WEEKS)
    only = machines[0].id if len(machines) == 1 else None
    use = {machine.id: Use(max(0.0, (now_utc - machine.registered_utc) / timedelta(days=1))) for machine in machines}
    for run, stretch in store.charged_runs(only, since_utc=since):
        week = (now_utc - run.started_utc) // timedelta(weeks=1)
        if run.machine_id in use and 0 <= week < WEEKS:
            use[run.machine_id].add(week, run.material, stretch)
            # a machine with runs entered from before it was registered has been on record that long
            days = (now_utc - run.started_utc) / timedelta(days=1)
            use[run.machine_id].days = max(use[run.machine_id].days, days)
    return use


@cache
def life_curve(part_kind: str, product: str) -> LifeCurve:
    """The life believed of a part kind's product: for now, what the catalogue's rule of thumb says."""
    kind = load_catalogue().parts[part_kind]
    known = kind.product(product)
    return curve(prior(kind.life, known.life_ratio.value if known else 1.0))


def fitted_parts(store: Store, now_utc: datetime, *, machines: Sequence[Machine] | None = None) -> list[FittedPart]:
    """Every open fitting of these machines, or of all, with outlook and advice."""
    looked_at = store.machines() if machines is None else list(machines)
    catalogue, numbers = load_catalogue(), figures(store)
    gathered = exposures(store, looked_at)
    use = recent_use(store, looked_at, now_utc)
    by_id = {machine.id: machine for machine in looked_at}
    only = looked_at[0].id if len(looked_at) == 1 else None
    latest = latest_findings(store.findings())
    costs = {machine.id: _CostOfMachine(numbers, catalogue, machine, use[machine.id]) for machine in looked_at}
    return [
        _fitted_part(catalogue, numbers, by_id[fitting.machine_id], fitting, gathered.get(fitting.id, 0.0),
                     use[fitting.machine_id], costs[fitting.machine_id], latest.get(fitting.id))
        for fitting in store.fittings(only, open_only=True)
        if fitting.machine_id in by_id
    ]  # fmt: skip


def latest_findings(findings: Iterable[Finding]) -> dict[int, Finding]:
    """The latest finding of each fitting."""
    latest: dict[int, Finding] = {}
    for finding in sorted(findings, key=lambda finding: (finding.found_utc, finding.id)):
        latest[finding.fitting_id] = finding
    return latest


def _fitted_part(
    catalogue: Catalogue, numbers: Figures, machine: Machine, fitting: Fitting, gathered: float, use: Use,
    costs: "_CostOfMachine", last: Finding | None,
) -> FittedPart:  # fmt: skip
    kind = catalogue.parts[fitting.part_kind]
    around = Surroundings("", machine.enclosure_c, machine.motion.filament_diameter_mm)
    lived = life_curve(fitting.part_kind, fitting.product)
    pace = _pace(catalogue, numbers, kind, machine, use, around)
    drivers = drivers_of(kind, use.by_material(), around, catalogue.materials) if use.runs else ()
    forecast = outlook(kind, lived, exposure_interval(fitting, gathered, lived.life.mid), pace, drivers)
    advice = advise(forecast, pace, lived.rates, costs.of(kind))
    return FittedPart(machine, fitting, kind, pace, forecast, advice, last)


def exposure_interval(fitting: Fitting, gathered: float, median_life: float) -> Interval:
    """Exposure so far: exact for a part fitted new, a band where its earlier history is reckoned or unknown."""
    if fitting.history == "new":
        exact = fitting.exposure_before + gathered
        return Interval(exact, exact, exact)
    if fitting.history == "used":
        before = fitting.exposure_before
        return Interval(before / USED_FACTOR + gathered, before + gathered, before * USED_FACTOR + gathered)
    low, mid, high = (share * median_life + gathered for share in UNKNOWN_SHARES)
    return Interval(low, mid, high)


def _pace(
    catalogue: Catalogue, numbers: Figures, kind: PartKind, machine: Machine, use: Use, around: Surroundings
) -> PaceOfUse:
    weekly = [
        sum(exposure_of(kind, stretch, around, catalogue.materials[material]) for material, stretch in week.items())
        for week in use.weeks
    ]
    printed = [sum(stretch.printing_s + stretch.travel_s for stretch in week.values()) / 3600 for week in use.weeks]
    return pace_of_use(weekly, printed, use.days, _usual_pace(catalogue, numbers, kind, around))


def _usual_pace(catalogue: Catalogue, numbers: Figures, kind: PartKind, around: Surroundings) -> PaceOfUse:
    """The pace of a machine that has no record yet: the figures' usual hours with the plainest material."""
    hours = numbers.numbers["usual_hours_per_day_h"].value
    material = next(iter(catalogue.materials.values()))
    stretch = typical_stretch(
        hours, material.nozzle_c.value, material, None, numbers, filament_diameter_mm=around.filament_diameter_mm
    )
    return PaceOfUse(exposure_of(kind, stretch, around, material), UNKNOWN_RELATIVE_SD, hours)


class _CostOfMachine:
    """What renewing and failing cost on one machine, from the farm's figures and the machine's own prints."""

    def __init__(self, numbers: Figures, catalogue: Catalogue, machine: Machine, use: Use) -> None:
        self._figure = {name: sourced.value for name, sourced in numbers.numbers.items()}
        self._currency = numbers.currency
        around = Surroundings("", machine.enclosure_c, machine.motion.filament_diameter_mm)
        printed = use.by_material()
        seconds = sum(stretch.duration_s for stretch in printed.values())
        kg = sum(filament_kg(stretch, around, catalogue.materials[m]) for m, stretch in printed.items())
        self._run_h = seconds / 3600 / use.runs if use.runs else self._figure["usual_run_h"]
        self._run_kg = kg / use.runs if use.runs else self._run_h * 0.015

    def of(self, kind: PartKind) -> RenewalCosts:
        """Planned: part, minutes, machine standing. Failure: the same, clearing up, and half a print spoiled."""
        fig = self._figure
        minutes = kind.renewal.minutes.value
        hour = fig["labour_per_h"] + fig["machine_per_h"]
        planned = kind.renewal.parts_cost.value + minutes / 60 * hour
        spoiled = 0.5 * (self._run_h * fig["machine_per_h"] + self._run_kg * fig["filament_per_kg"])
        failure = planned + fig["unplanned_minutes"] / 60 * hour + kind.spoils_frac.value * spoiled
        return RenewalCosts(planned, failure, fig["look_minutes"] / 60 * hour, self._currency)


def group_by_machine(parts: Iterable[FittedPart]) -> dict[int, list[FittedPart]]:
    """The fitted parts of each machine."""
    grouped: dict[int, list[FittedPart]] = defaultdict(list)
    for part in parts:
        grouped[part.machine.id].append(part)
    return grouped
