"""What each machine printed lately, and the pace at which that wears its parts."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from feedwright.catalogue.entry import Catalogue, Figures, PartKind
from feedwright.records.reads import Reads
from feedwright.records.values import Machine
from feedwright.toolpath.values import Stretch
from feedwright.wear.exposure import exposure_of
from feedwright.wear.pace import UNKNOWN_RELATIVE_SD, pace_of_use
from feedwright.wear.typical import typical_stretch
from feedwright.wear.values import PaceOfUse, Surroundings

WEEKS = 16
"""How far back the pace of use looks."""


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


def recent_use(store: Reads, machines: Sequence[Machine], now_utc: datetime) -> dict[int, Use]:
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


def pace_of(
    catalogue: Catalogue, numbers: Figures, kind: PartKind, machine: Machine, use: Use, around: Surroundings
) -> PaceOfUse:
    """How fast one machine wears a part of this kind."""
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
