"""The bench list, the sheets and the series follow what is recorded."""

import json
import math
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.desk.sheets import machine_lines, machine_sheet
from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.plain import plain
from feedwright.farm.ground.settings import set_figure
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.machines.charging import NANO
from feedwright.farm.machines.history import exposure_over_time
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.outlook.bench import bench
from feedwright.farm.outlook.forecasts import exposure_interval, fitted_parts
from feedwright.farm.outlook.use import recent_use
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run, add_runs
from feedwright.farm.toolpaths.toolpaths import keep_toolpath
from feedwright.records.store import Store
from feedwright.records.values import Run

SAMPLES = Path(__file__).parents[2] / "data" / "toolpaths"
BEGUN = datetime.fromisoformat("2026-03-02T08:00Z")
NOW = BEGUN + timedelta(days=120)


@pytest.fixture
def used(farm: Store) -> Store:
    """A season of printing: Alder every day with abrasive filament, Beech at times, Hazel never."""
    daily = [Run(0, BEGUN + timedelta(days=day), "complete", "pla_carbon", hours=14.0) for day in range(120)]
    add_runs(farm, "Alder", daily)
    add_runs(
        farm, "Beech", [Run(0, BEGUN + timedelta(days=day), "complete", "pla", hours=5.0) for day in range(0, 120, 9)]
    )
    return farm


def part_of(parts: tuple[FittedPart, ...] | list[FittedPart], kind: str, position: int = 1) -> FittedPart:
    return next(part for part in parts if (part.kind.id, part.fitting.position) == (kind, position))


def test_from_nothing_to_an_outlook_that_a_run_makes_worse(tmp_path: Path) -> None:
    """The main job once through: a machine, a file, a run, and what it did to the forecast."""
    with open_farm(tmp_path / "farm", create=True) as store:
        add_machine(store, "Alder", "moving_bed_remote", history="new", at_utc=BEGUN)
        keep_toolpath(store, SAMPLES / "d09.gcode.gz")
        fresh = part_of(machine_sheet(store, "Alder", BEGUN + timedelta(days=8)).parts, "nozzle")
        assert fresh.outlook.exposure.mid == 0
        for day in range(7):
            receipt = add_run(
                store, "Alder", toolpath="d09.gcode.gz", material="pla_carbon", copies=40,
                started_utc=BEGUN + timedelta(days=day),
            )  # fmt: skip
        worn = part_of(machine_sheet(store, "Alder", BEGUN + timedelta(days=8)).parts, "nozzle")
        assert worn.outlook.exposure.mid == pytest.approx(
            next(change.exposure_after for change in receipt.changes if change.part == "Nozzle")
        )
        assert worn.outlook.failure_frac_month > fresh.outlook.failure_frac_month
        assert worn.outlook.remaining.low < fresh.outlook.remaining.low
        # what was printed in eight days, by the file's own filament and the stuff's density and abrasion
        stuff = load_catalogue().materials["pla_carbon"]
        kg = receipt.charge.filament_net_mm * math.pi / 4 * 1.75**2 * stuff.density_g_cm3.value * 1e-6 * 7
        assert worn.outlook.exposure.mid == pytest.approx(kg * stuff.abrasive_ratio.value)
        assert machine_sheet(store, "Alder", BEGUN).filament_kg == pytest.approx(kg)


def test_the_dearest_wait_stands_first_and_every_fitted_part_stands_once(used: Store) -> None:
    shown = bench(used, NOW)
    costs = [part.advice.waiting_cost_week.amount for part in shown.now]
    assert costs == sorted(costs, reverse=True)
    assert costs
    for listed in (shown.soon, shown.later):
        days = [part.advice.best_in_days for part in listed]
        assert days == sorted(days)
    assert all(math.isfinite(part.advice.best_in_days) for part in shown.later)
    everything = [part.fitting.id for part in (*shown.now, *shown.soon, *shown.later, *shown.watch)]
    assert sorted(everything) == [held.id for held in used.fittings(open_only=True)]
    assert (shown.machines, shown.runs) == (3, 134)
    assert {part.machine.name for part in bench(used, NOW, machine="beech").watch} == {"Beech"}
    assert bench(used, NOW, machine="Hazel").now == ()


def test_a_dearer_failure_raises_what_waiting_costs(used: Store) -> None:
    before = {part.fitting.id: part.advice.waiting_cost_week.amount for part in bench(used, NOW).now}
    set_figure(used, "unplanned_minutes", 60)
    after = {part.fitting.id: part.advice.waiting_cost_week.amount for part in bench(used, NOW).now}
    assert all(after[number] >= cost for number, cost in before.items())
    assert sum(after.values()) > sum(before.values())


def test_renewing_the_first_of_the_list_takes_it_off(used: Store) -> None:
    first = bench(used, NOW).now[0]
    renew(used, first.machine.name, first.kind.id, position=first.fitting.position, renewed_utc=NOW)
    again = bench(used, NOW)
    assert first.fitting.id not in {part.fitting.id for part in again.now}
    new = next(
        part for part in fitted_parts(used, NOW)
        if (part.machine, part.kind.id, part.fitting.position) == (first.machine, first.kind.id, first.fitting.position)
    )  # fmt: skip
    assert new.outlook.exposure.mid == 0
    assert new.advice.status == "in order"


def test_one_machines_sheet_says_what_the_whole_farms_list_says(used: Store) -> None:
    finding = add_finding(used, "Alder", "nozzle", grade="trace", found_utc=NOW)
    sheet = machine_sheet(used, "Alder", NOW, runs_shown=5)
    whole = {part.fitting.id: part for part in fitted_parts(used, NOW)}
    for part in sheet.parts:
        listed = whole[part.fitting.id]
        assert listed.advice.because == part.advice.because
        assert listed.outlook.because == part.outlook.because
        assert listed.outlook.failure_frac_month == pytest.approx(part.outlook.failure_frac_month)
    assert part_of(sheet.parts, "nozzle").last_finding == finding
    assert (len(sheet.runs), sheet.runs_count) == (5, 120)
    assert sheet.runs[0].run.started_utc == BEGUN + timedelta(days=119), "latest first"
    assert sheet.printing_h == 120 * 14
    assert machine_sheet(used, "Alder", NOW, runs_shown=0).runs == ()
    line, _, idle = machine_lines(used, NOW)
    assert line.worst is not None
    assert line.worst.fitting == sheet.parts[0].fitting
    assert line.last_run_utc == BEGUN + timedelta(days=119)
    assert line.printing_h_per_day == pytest.approx(14, rel=0.1)
    assert (idle.last_run_utc, idle.printing_h_per_day) == (None, 0.0)


def test_a_run_that_is_yet_to_come_is_no_part_of_the_pace(used: Store) -> None:
    before = {part.fitting.id: part.pace for part in fitted_parts(used, NOW)}
    add_run(used, "Alder", material="pla", hours=50, started_utc=NOW + timedelta(days=3))
    assert {part.fitting.id: part.pace for part in fitted_parts(used, NOW)} == before


def test_an_unknown_past_is_a_band_and_a_known_one_is_none(farm: Store) -> None:
    from dataclasses import replace

    fitting = farm.fittings()[0]
    exact = exposure_interval(replace(fitting, exposure_before=3.0), 2.0, 100.0)
    assert exact.low == exact.mid == exact.high == 5.0
    used = exposure_interval(replace(fitting, history="used", exposure_before=8.0), 2.0, 100.0)
    assert used.low < used.mid == 10.0 < used.high
    unknown = exposure_interval(replace(fitting, history="unknown"), 2.0, 100.0)
    assert unknown.low == 2.0 < unknown.mid < unknown.high < 102.0


def test_the_series_of_a_place_ends_at_the_total_of_each_part_that_sat_there(used: Store) -> None:
    renew(used, "Alder", "tube_end", renewed_utc=BEGUN + timedelta(days=50, hours=6))
    add_event(used, "Alder", "hot_stop", at_utc=BEGUN + timedelta(days=60, hours=1), nozzle_c=250, minutes=40)
    first, second = exposure_over_time(used, "Alder", "tube end")
    ends = [held for held in used.fittings(1) if held.part_kind == "tube_end"]
    for series, fitting, charges in zip((first, second), ends, (51, 70), strict=True):
        assert (series[0].at_utc, series[0].exposure) == (fitting.fitted_utc, 0.0)
        assert len(series) == charges + 1
        assert series[-1].exposure == used.exposures()[fitting.id].exposure_nano / NANO
        assert all(a.at_utc <= b.at_utc and a.exposure <= b.exposure for a, b in pairwise(series))


def test_everything_a_page_is_handed_is_plain_data(used: Store) -> None:
    for value in (bench(used, NOW), machine_sheet(used, "Alder", NOW), machine_lines(used, NOW)):
        text = json.dumps(plain(value), allow_nan=False)
        assert "NaN" not in text


def test_what_is_recorded_while_the_list_is_made_comes_with_the_next_one(
    farm: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All of a list is as of one moment: a renewal in between neither breaks it nor shows by half."""
    now = BEGUN + timedelta(days=20)
    add_runs(farm, "Alder", [Run(0, BEGUN + timedelta(days=d), "complete", "pla", hours=10.0) for d in range(15)])
    before = {part.fitting.id for part in fitted_parts(farm, now)}
    renewed: list[int] = []

    def meanwhile(*given: Any) -> Any:
        if not renewed:
            with open_farm(farm.folder) as other:
                renewed.append(renew(other, "Alder", "nozzle", renewed_utc=BEGUN + timedelta(days=16)).fitted.id)
        return recent_use(*given)

    monkeypatch.setattr("feedwright.farm.outlook.forecasts.recent_use", meanwhile)
    add_finding(farm, "Alder", "idler", grade="firm", found_utc=BEGUN + timedelta(days=17))
    assert {part.fitting.id for part in fitted_parts(farm, now)} == before
    assert renewed
    after = {part.fitting.id for part in fitted_parts(farm, now)}
    assert renewed[0] in after
    assert len(after) == len(before)
