"""What renewing and failing cost on one machine, from the farm's figures and the machine's own prints."""

from feedwright.catalogue.entry import Catalogue, Figures, PartKind
from feedwright.farm.use import Use
from feedwright.planning.values import RenewalCosts
from feedwright.records.values import Machine
from feedwright.wear.exposure import filament_kg
from feedwright.wear.values import Surroundings

LOOKED_AT_HOT = ("hot end",)
"""Places whose parts are seen only with the nozzle hot and the feed path open."""


class CostOfMachine:
    """Costs on one machine."""

    def __init__(self, numbers: Figures, catalogue: Catalogue, machine: Machine, use: Use) -> None:
        self._figure = {name: sourced.value for name, sourced in numbers.numbers.items()}
        self._currency = numbers.currency
        self._minute = (self._figure["labour_per_h"] + self._figure["machine_per_h"]) / 60
        around = Surroundings("", machine.enclosure_c, machine.motion.filament_diameter_mm)
        printed = use.by_material()
        seconds = sum(stretch.duration_s for stretch in printed.values())
        kg = sum(filament_kg(stretch, around, catalogue.materials[m]) for m, stretch in printed.items())
        self._run_h = seconds / 3600 / use.runs if use.runs else self._figure["usual_run_h"]
        self._run_kg = kg / use.runs if use.runs else self._run_h * 0.015

    def of(self, kind: PartKind) -> RenewalCosts:
        """Planned: part, minutes, machine standing. Failure: the same, clearing up, and half a print spoiled.

        The minutes of a renewal hold its heating up; tramming the bed afterwards comes on top. Both are shared where
        another job of the same visit needs them too.
        """
        fig, minute = self._figure, self._minute
        heat, tram = self._heat(kind), self._tram(kind)
        planned = kind.renewal.parts_cost.value + kind.renewal.minutes.value * minute + tram
        spoiled = 0.5 * (self._run_h * fig["machine_per_h"] + self._run_kg * fig["filament_per_kg"])
        failure = planned + fig["unplanned_minutes"] * minute + kind.spoils_frac.value * spoiled
        look = fig["look_minutes"] * minute + (heat if kind.place in LOOKED_AT_HOT else 0.0)
        return RenewalCosts(planned, failure, look, self._currency, shared=heat + tram)

    def shared(self, kind: PartKind, other: PartKind) -> float:
        """What one job saves where another is done in the same visit."""
        return min(self._heat(kind), self._heat(other)) + min(self._tram(kind), self._tram(other))

    def _heat(self, kind: PartKind) -> float:
        return self._figure["heat_up_minutes"] * self._minute if kind.renewal.heats else 0.0

    def _tram(self, kind: PartKind) -> float:
        return self._figure["tram_minutes"] * self._minute if kind.renewal.needs_tram else 0.0
