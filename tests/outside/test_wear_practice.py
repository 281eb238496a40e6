"""The rule of thumb alone must reproduce what the trade already does.

Taken as common practice (of the trade, not of a publication):

1. A machine whose tube ends at the nozzle, printing nearly every day (here 12 to 14 h a day at 215 to 220 °C, a plain
   tube), has its tube end trimmed about monthly (here: three to six weeks).
2. In average use (here 5 h a day at 210 to 215 °C) every two to three months (here: 60 to 92 days).
3. A higher-temperature tube is trimmed far less often (here: at least three times less).
4. A hotter nozzle, or an abrasive filament, shortens what it wears.

Costs are those of the catalogue's own figures, reckoned as the farm reckons them; prints of 3 to 10 h.
"""

import math
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.prints.runs import add_runs
from feedwright.planning.look import NO_LOOKS
from feedwright.planning.prospect import age_policy, prospect, weighed
from feedwright.planning.renew import advise
from feedwright.planning.values import Advice, RenewalCosts
from feedwright.records.values import Run
from feedwright.wear.exposure import exposure_of
from feedwright.wear.life import curve, life_table, prior
from feedwright.wear.outlook import outlook
from feedwright.wear.pace import UNKNOWN_RELATIVE_SD
from feedwright.wear.standing import Standing
from feedwright.wear.typical import typical_stretch
from feedwright.wear.values import Interval, PaceOfUse, Surroundings

KNOWN = load_catalogue()
FIGURES = {name: number.value for name, number in KNOWN.figures.numbers.items()}
NEW = Interval(0.0, 0.0, 0.0)


def costs(part: str, run_h: float) -> RenewalCosts:
    """Planned: part, minutes, machine standing. Failure: the same, clearing up, half a print where it spoils one."""
    kind, hour = KNOWN.parts[part], FIGURES["labour_per_h"] + FIGURES["machine_per_h"]
    planned = kind.renewal.parts_cost.value + kind.renewal.minutes.value / 60 * hour
    print_cost = run_h * (FIGURES["machine_per_h"] + 0.015 * FIGURES["filament_per_kg"])
    failure = planned + FIGURES["unplanned_minutes"] / 60 * hour + kind.spoils_frac.value * 0.5 * print_cost
    return RenewalCosts(planned, failure, FIGURES["look_minutes"] / 60 * hour, KNOWN.figures.currency)


def advice(
    part: str, product: str, hours_a_day: float, nozzle_c: float, material: str = "pla", run_h: float = 5.0
) -> Advice:
    """What is advised for a new part on a machine that prints so each day."""
    kind, printed = KNOWN.parts[part], KNOWN.materials[material]
    day = typical_stretch(hours_a_day, nozzle_c, printed, None, KNOWN.figures)
    per_day = exposure_of(kind, day, Surroundings(material), printed)
    pace = PaceOfUse(per_day, UNKNOWN_RELATIVE_SD, hours_a_day)
    known = kind.product(product)
    assert known
    belief, price = prior(kind.life, known.life_ratio.value), costs(part, run_h)
    table = life_table(belief.distribution, belief.log_median, belief.log_shape, belief.weight)
    weight = table.of(belief.weight)[None]
    held = table.curves(weight, "the rule of thumb")[0]
    policy = age_policy(table, held.rates, price)
    surviving, earning = weighed(table, weight, [policy])
    coming = prospect(table.exposure, surviving[:, 0], earning[:, 0], price, Standing.of(NEW))
    return advise(outlook(kind, held, NEW, pace, ()), pace, policy.optimum, coming, NO_LOOKS, price)


@pytest.mark.parametrize("run_h", [3.0, 5.0, 10.0])
@pytest.mark.parametrize(("hours", "nozzle_c"), [(12.0, 215.0), (13.0, 215.0), (14.0, 215.0), (12.0, 220.0)])
def test_a_lined_machine_printing_nearly_every_day_is_trimmed_about_monthly(
    hours: float, nozzle_c: float, run_h: float
) -> None:
    told = advice("tube_end", "plain", hours, nozzle_c, run_h=run_h)
    assert told.act == "renew"
    assert 21 <= told.best_in_days <= 42


@pytest.mark.parametrize("nozzle_c", [210.0, 215.0])
def test_in_average_use_it_is_trimmed_every_two_to_three_months(nozzle_c: float) -> None:
    told = advice("tube_end", "plain", FIGURES["usual_hours_per_day_h"], nozzle_c)
    assert 60 <= told.best_in_days <= 92


def test_a_higher_temperature_tube_is_trimmed_far_less_often() -> None:
    plain, better = (advice("tube_end", product, 13.0, 215.0) for product in ("plain", "higher_temperature"))
    assert better.best_in_days >= 3 * plain.best_in_days


def test_a_hotter_nozzle_brings_the_trim_sooner() -> None:
    days = [advice("tube_end", "plain", 13.0, nozzle_c).best_in_days for nozzle_c in (205.0, 215.0, 230.0, 245.0)]
    assert days == sorted(days, reverse=True)
    assert days[0] > 4 * days[-1]


def test_an_abrasive_filament_wears_a_nozzle_out_sooner_by_its_weight() -> None:
    """Half a kilogram of carbon-filled filament wears brass as 25 kg of plain do: from memory, unverified."""
    assert KNOWN.parts["nozzle"].life.median.value == 25
    assert KNOWN.parts["nozzle"].life.median.value / KNOWN.materials["pla_carbon"].abrasive_ratio.value == 0.5
    plain, filled = (
        exposure_of(
            KNOWN.parts["nozzle"],
            typical_stretch(5.0, 215.0, KNOWN.materials[name], 75.0, KNOWN.figures),
            Surroundings(name),
            KNOWN.materials[name],
        )
        for name in ("pla", "pla_carbon")
    )
    assert filled == pytest.approx(50 * plain)


def test_advice_comes_at_60_to_75_percent_of_the_median_life() -> None:
    told = advice("tube_end", "plain", 13.0, 215.0)
    life = curve(prior(KNOWN.parts["tube_end"].life)).life
    assert 0.60 <= told.optimum_exposure / life.mid <= 0.75
    assert math.isfinite(told.best_in_days)


def test_the_farm_itself_says_so_before_it_has_found_anything(tmp_path: Path) -> None:
    """The same through records, pooled belief and the machine's own prints: days from a new part to its renewal."""
    begun = datetime.fromisoformat("2026-03-02T08:00Z")
    machines = {  # prints a day, hours each, nozzle, material, tube
        "busy": (2, 6.5, 215.0, "pla", "plain"),
        "average": (1, 5.0, 212.0, "pla", "plain"),
        "better tube": (2, 6.5, 215.0, "pla", "higher_temperature"),
        "hotter": (2, 6.5, 235.0, "petg", "plain"),
    }
    with open_farm(tmp_path / "farm", create=True) as store:
        for name, (prints, hours, nozzle_c, material, product) in machines.items():
            changes = {"tube_end": product}
            add_machine(store, name, "moving_bed_remote", history="new", at_utc=begun, product_changes=changes)
            day = Run(0, begun, "complete", material, hours=hours, nozzle_c=nozzle_c)
            add_runs(
                store,
                name,
                [replace(day, started_utc=begun + timedelta(days=d)) for d in range(4) for _ in range(prints)],
            )
        now = begun + timedelta(days=4)
        days = {
            part.machine.name: part.advice.best_in_days + 4
            for part in fitted_parts(store, now)
            if part.kind.id == "tube_end"
        }
    assert 21 <= days["busy"] <= 42
    assert 60 <= days["average"] <= 92
    assert days["better tube"] >= 3 * days["busy"]
    assert days["hotter"] < 0.6 * days["busy"]
