"""A quantity's name ends with its unit, in every value that passes between rooms."""

import dataclasses
import importlib
import pkgutil
import re
from collections.abc import Iterator
from typing import Any, get_type_hints

import feedwright
from feedwright.units import BY_SUFFIX, DIMENSIONLESS

NUMBERS = (float, float | None)
QUALIFIERS = ("max", "min", "mean", "day", "week", "month")
"""May follow the unit: ``nozzle_c_max``, ``printing_h_per_day``."""
OWN_UNIT = {
    "value", "low", "mid", "high", "least", "most", "reading", "factor", "offset",  # their unit stands beside them
    "exposure", "exposure_before", "exposure_after", "exposure_per_day", "best_in_exposure", "optimum_exposure",
    "life", "lived", "gathered", "sound_until", "every", "cost_rate",  # in the part kind's own unit
    "planned", "failure", "look", "shared",  # money in the farm's currency
    "reversals", "nozzle_heat_ups", "bed_heat_ups", "prints_a_day",  # counts, which copies and shares make broken
    "present", "absent", "nobody",  # chances
    "squared_error", "squared_error_rule_of_thumb", "squared_error_constant",  # of chances
    "expected_failures", "years", "every_weeks",  # the unit is in the name
    "piece_cost", "order_cost", "delivery_cost",  # money in the farm's currency
    "short_cost", "idle_cost", "cost_day",  # the same, a day
    "expected_cost", "hour", "parts_cost", "time_cost",  # money in the farm's currency, and per hour
    "spoiled_cost", "cost",  # the same
    "filament_cost", "clear_up_cost", "change_cost", "spoil_cost", "late_cost", "wait_cost", "extra_cost",  # the same
    "bound",  # a cost that no plan undercuts
    "later_cost", "minute_cost", "waiting_cost", "timing", "bench", "later", "changes",  # the same
    "pace_per_day", "age", "look_every", "along_from",  # in the part kind's own unit of exposure
    "x", "y", "radius", "width", "height",  # of a drawing, in its own units
    "fraction", "relative_sd", "log_evidence", "hours",  # shares of 1 and of the mean; a logarithm; all unit
}  # fmt: skip


def dataclasses_of_the_program() -> Iterator[type[Any]]:
    """Every public dataclass."""
    for found in pkgutil.walk_packages(feedwright.__path__, "feedwright."):
        if "migrations" in found.name or found.name.endswith("__main__"):
            continue
        module = importlib.import_module(found.name)
        for name, held in vars(module).items():
            public = isinstance(held, type) and held.__module__ == found.name and not name.startswith("_")
            if public and dataclasses.is_dataclass(held):
                yield held


def says_its_unit(name: str) -> bool:
    """True where a unit's suffix, or a dimensionless one, ends the name or stands before a qualifier."""
    bare = re.sub(rf"_(?:per_)?(?:{'|'.join(QUALIFIERS)})$", "", name)
    words = bare.split("_")
    endings = {"_".join(words[-count:]) for count in (1, 2, 3) if len(words) >= count}
    return bool(endings & (BY_SUFFIX.keys() | set(DIMENSIONLESS)))


def test_every_number_that_passes_between_rooms_says_its_unit() -> None:
    silent = [
        f"{held.__module__}.{held.__name__}.{field.name}"
        for held in dataclasses_of_the_program()
        for field in dataclasses.fields(held)
        if get_type_hints(held)[field.name] in NUMBERS and field.name not in OWN_UNIT and not says_its_unit(field.name)
    ]
    assert silent == []
