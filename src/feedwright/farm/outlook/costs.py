"""What renewing and failing cost on one machine, from the farm's figures and the machine's own prints."""

from dataclasses import replace

from feedwright.catalogue.entry import Catalogue, Figures, PartKind
from feedwright.catalogue.network import Network, Step
from feedwright.farm.outlook.use import Use
from feedwright.planning.values import RenewalCosts
from feedwright.records.values import Machine
from feedwright.wear.exposure import filament_kg
from feedwright.wear.values import Surroundings

LOOKED_AT_HOT = ("hot end",)
"""Places whose parts are seen only with the nozzle hot and the feed path open."""


def in_money_of_farm(network: Network, numbers: Figures) -> Network:
    """The network of causes with the parts of its steps priced in the farm's currency."""
    ratio = numbers.numbers["price_ratio"].value
    if ratio == 1:
        return network
    return replace(network, checks=_priced(network.checks, ratio), repairs=_priced(network.repairs, ratio))


def _priced(steps: dict[str, Step], ratio: float) -> dict[str, Step]:
    return {
        key: step if step.parts_cost is None else replace(step, parts_cost=step.parts_cost.times(ratio))
        for key, step in steps.items()
    }


class CostOfMachine:
    """Costs on one machine."""

    def __init__(self, numbers: Figures, catalogue: Catalogue, machine: Machine, use: Use) -> None:
        self._figure = {name: sourced.value for name, sourced in numbers.numbers.items()}
        self._currency = numbers.currency
        self.minute_cost = (self._figure["labour_per_h"] + self._figure["machine_per_h"]) / 60
        self.unplanned_minutes = self._figure["unplanned_minutes"]
        around = Surroundings("", machine.enclosure_c, machine.motion.filament_diameter_mm)
        printed = use.by_material()
        seconds = sum(stretch.duration_s for stretch in printed.values())
        kg = sum(filament_kg(stretch, around, catalogue.materials[m]) for m, stretch in printed.items())
        self.run_h = seconds / 3600 / use.runs if use.runs else self._figure["usual_run_h"]
        self._run_kg = kg / use.runs if use.runs else self.run_h * 0.015

    def of(self, kind: PartKind) -> RenewalCosts:
        """Planned: part, minutes, machine standing. Failure: the same, clearing up, and half a print spoiled.

        The minutes of a renewal hold its heating up; tramming the bed afterwards comes on top. Both are shared where
        another job of the same visit needs them too.
        """
        fig, minute = self._figure, self.minute_cost
        heat, tram = self.heat_minutes(kind) * minute, self.tram_minutes(kind) * minute
        planned = self.parts_cost(kind) + kind.renewal.minutes.value * minute + tram
        spoiled = 0.5 * (self.run_h * fig["machine_per_h"] + self._run_kg * fig["filament_per_kg"])
        failure = planned + self.unplanned_minutes * minute + kind.spoils_frac.value * spoiled
        look = self.look_minutes(kind) * minute
        return RenewalCosts(planned, failure, look, self._currency, shared=heat + tram)

    def parts_cost(self, kind: PartKind) -> float:
        """Parts for one renewal, in the farm's currency."""
        return kind.renewal.parts_cost.value * self._figure["price_ratio"]

    def shared(self, kind: PartKind, other: PartKind) -> float:
        """What one job saves where another is done in the same visit."""
        heat = min(self.heat_minutes(kind), self.heat_minutes(other))
        return (heat + min(self.tram_minutes(kind), self.tram_minutes(other))) * self.minute_cost

    def heat_minutes(self, kind: PartKind) -> float:
        """Heating up, within the minutes of a renewal; 0 where it is done cold."""
        return self._figure["heat_up_minutes"] if kind.renewal.heats else 0.0

    def tram_minutes(self, kind: PartKind) -> float:
        """Tramming the bed, on top of the minutes of a renewal; 0 where it is not needed."""
        return self._figure["tram_minutes"] if kind.renewal.needs_tram else 0.0

    def look_minutes(self, kind: PartKind) -> float:
        """One look; parts of the hot end are seen only hot."""
        return self._figure["look_minutes"] + (self.heat_minutes(kind) if kind.place in LOOKED_AT_HOT else 0.0)
