"""The first outlook of a machine: what fails soonest at the usual pace, and what printing one file takes of it."""

from dataclasses import dataclass
from datetime import datetime

from feedwright.catalogue.entry import Material
from feedwright.catalogue.load import load_catalogue
from feedwright.farm.dispatch.fits import FitReport, fit
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.records.store import Store
from feedwright.records.values import Machine
from feedwright.wear.exposure import exposure_of
from feedwright.wear.values import Interval, Surroundings


@dataclass(frozen=True, slots=True)
class Takes:
    """What one printing of a file takes from one part."""

    part: FittedPart
    exposure: float
    """In the part's own unit; 0 where no file was given."""
    share_frac: Interval
    """Of the life such a part is believed to have."""
    prints: Interval
    """How often the file can be printed from new until such a part fails; infinite where it takes nothing."""


@dataclass(frozen=True, slots=True)
class FirstOutlook:
    """One machine's first outlook."""

    machine: Machine
    material: Material
    report: FitReport | None
    """Whether it will print the file well; None where no file was given."""
    parts: tuple[Takes, ...]
    """What is worn soonest by the file comes first; without a file, what fails soonest."""


def first_outlook(store: Store, machine: str, toolpath: str, material: str, now_utc: datetime) -> FirstOutlook:
    """The outlook of a machine as it stands, and of printing a known file on it; ``toolpath`` may be empty."""
    whose = machine_named(store, machine)
    materials = load_catalogue().materials
    report = fit(store, whose.name, toolpath, material=material, now_utc=now_utc) if toolpath else None
    stuff = report.material if report else materials.get(material) or next(iter(materials.values()))
    parts = fitted_parts(store, now_utc, machines=[whose])
    if report is None:
        soonest = sorted(parts, key=lambda part: -part.outlook.failure_frac_month)
        nothing, never = Interval(0.0, 0.0, 0.0), Interval(float("inf"), float("inf"), float("inf"))
        return FirstOutlook(whose, stuff, None, tuple(Takes(part, 0.0, nothing, never) for part in soonest))
    around = Surroundings(stuff.id, whose.enclosure_c, whose.motion.filament_diameter_mm)
    taken = [_takes(part, exposure_of(part.kind, report.duty.whole, around, stuff)) for part in parts]
    return FirstOutlook(whose, stuff, report, tuple(sorted(taken, key=lambda one: -one.share_frac.mid)))


def _takes(part: FittedPart, exposure: float) -> Takes:
    life = part.outlook.life
    if exposure <= 0:
        never = float("inf")
        return Takes(part, 0.0, Interval(0.0, 0.0, 0.0), Interval(never, never, never))
    share = Interval(exposure / life.high, exposure / life.mid, exposure / life.low)
    return Takes(part, exposure, share, Interval(1 / share.high, 1 / share.mid, 1 / share.low))
