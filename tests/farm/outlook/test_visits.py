"""Jobs of one machine share a heat-up: a part not yet due is called soon where that saves money."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.outlook.costs import CostOfMachine
from feedwright.farm.outlook.forecasts import costs_of_machines, fitted_parts
from feedwright.farm.outlook.visits import together
from feedwright.farm.prints.runs import add_runs
from feedwright.planning.prospect import Prospect
from feedwright.records.store import Store
from feedwright.records.values import Run

BEGUN = datetime.fromisoformat("2026-03-02T08:00Z")
NOW = BEGUN + timedelta(days=50)
KINDS = load_catalogue().parts


def parts_of(store: Store) -> tuple[FittedPart, FittedPart, dict[int, CostOfMachine]]:
    """Alder's tube end, due now, and its coupler, taken as renewed by age in twenty days."""
    runs = [Run(0, BEGUN + timedelta(days=day), "complete", "pla", hours=13.0) for day in range(50)]
    add_runs(store, "Alder", runs)
    alder = {(p.kind.id, p.fitting.position): p for p in fitted_parts(store, NOW) if p.machine.name == "Alder"}
    due, other = alder["tube_end", 1], alder["tube_coupler", 1]
    assert due.advice.status == "service now"
    later = replace(other.advice, act="renew", status="in order", best_in_days=20.0)
    return due, replace(other, advice=later), costs_of_machines(store, NOW)


def ahead(early: float) -> Prospect:
    """Renewing now costs so much more than in twenty days."""
    return Prospect(np.array([0.0, 100.0, 200.0]), np.array([early, 0.0, 1.0]))


def test_a_part_is_done_along_where_the_shared_heat_up_saves_more_than_doing_it_early_costs(farm: Store) -> None:
    due, other, costs = parts_of(farm)
    saved = costs[due.machine.id].shared(due.kind, other.kind)
    assert saved > 0
    first, joined = together([due, other], [ahead(0.0), ahead(0.5 * saved)], costs)
    assert first == due
    assert joined.advice.status == "service soon"
    assert "along with the tube end" in joined.advice.because[-1]
    assert joined.advice.reason == "cheapest along with the tube end, due now"
    _, left = together([due, other], [ahead(0.0), ahead(2 * saved)], costs)
    assert left == other


def test_only_what_both_jobs_need_is_shared(farm: Store) -> None:
    cost = parts_of(farm)[2][farm.machines()[0].id]
    nozzle, belt, fan = KINDS["nozzle"], KINDS["belt"], KINDS["sink_fan"]
    assert cost.shared(nozzle, belt) == cost.tram_minutes(belt) * cost.minute_cost > 0
    assert cost.shared(nozzle, fan) == 0
    assert cost.of(nozzle).shared == cost.shared(nozzle, nozzle)
