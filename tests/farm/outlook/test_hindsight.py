"""Forecasts are held against what then happened, each from what was on record by then alone."""

from datetime import timedelta

import numpy as np
import pytest

from feedwright.farm.outlook.hindsight import _held, hindsight
from feedwright.farm.outlook.learning import farm_lives
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_runs
from feedwright.records.store import Store
from feedwright.records.values import Run


def test_a_perfect_forecaster_holds_eight_in_ten() -> None:
    """Ends at their own chance, uniform from 0 to 1; then the same with half of them still going when looked at."""
    draw = np.random.default_rng(1)
    ends = draw.random(4000)
    assert _held([(float(end), True) for end in ends]) == pytest.approx(0.8, abs=0.02)
    until = draw.random(4000) * 2
    censored = [(float(min(end, stop)), bool(end <= stop)) for end, stop in zip(ends, until, strict=True)]
    assert _held(censored) == pytest.approx(0.8, abs=0.03)


def test_a_young_farm_has_no_hindsight(farm: Store) -> None:
    now = farm.machines()[0].registered_utc + timedelta(days=40)
    assert hindsight(farm_lives(farm).histories, now) is None


def test_failures_are_counted_against_their_forecasts_and_later_findings_do_not_leak_back(farm: Store) -> None:
    begun = farm.machines()[0].registered_utc
    add_runs(farm, "Alder", [Run(0, begun + timedelta(days=d), "complete", "pla", hours=13.0) for d in range(110)])
    renew(farm, "Alder", "tube_end", reason="failed", grade_found="black", renewed_utc=begun + timedelta(days=70))
    now = begun + timedelta(days=112)
    seen = hindsight(farm_lives(farm).histories, now)
    assert seen
    assert seen.months == 2
    assert seen.failures == 1
    assert sum(one.count for one in seen.bins) == seen.forecasts
    assert 0 < seen.expected_failures < seen.forecasts
    assert seen.squared_error < 0.25
    add_finding(farm, "Alder", "nozzle", grade="worn", found_utc=now)
    again = hindsight(farm_lives(farm).histories, now)
    assert again
    assert (again.failures, again.squared_error) == (seen.failures, pytest.approx(seen.squared_error))
