"""Measurements are kept with all they say, set working values with their reason, and warn where parts changed."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from feedwright.errors import BadInput
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.parts.renewals import renew
from feedwright.farm.service.settings_ledger import ledger, set_value, value_now
from feedwright.farm.service.truing import (
    check_feed,
    check_flow,
    feed_health_of,
    screw_drift,
    screws_of,
    set_screws,
    tram_machine,
    tune_heater,
)
from feedwright.records.store import Store
from feedwright.service.values import BedReading, BedScrews, HeatingLog, Screw

AT = datetime(2026, 4, 1, 9, tzinfo=UTC)


def readings(*heights: float) -> list[BedReading]:
    places = ((30, 30), (200, 30), (200, 200), (30, 200))
    return [BedReading(x, y, height) for (x, y), height in zip(places, heights, strict=True)]


def log(gain: float = 3.0, dead_s: float = 8.0) -> HeatingLog:
    time_s = np.arange(0.0, 600.0)
    at_c = 22 + 100 * gain * -np.expm1(-np.maximum(time_s - dead_s, 0) / 120)
    return HeatingLog(tuple(time_s), tuple(float(value) for value in at_c))


def test_screws_are_written_down_once_and_hold_until_changed(farm: Store) -> None:
    alder = machine_named(farm, "Alder")
    assert next(screw.name for screw in screws_of(farm, alder).screws) == "front left"
    three = BedScrews((Screw("a", 20, 20), Screw("b", 210, 20), Screw("c", 115, 210)), 0.5, clockwise_lowers=False)
    set_screws(farm, "Alder", three)
    assert screws_of(farm, alder) == three
    with pytest.raises(BadInput, match="one place"):
        set_screws(farm, "Alder", BedScrews((Screw("a", 20, 20), Screw("b", 20, 20), Screw("c", 9, 99)), 0.5))
    assert screws_of(farm, alder) == three


def test_trammings_are_kept_and_show_which_corner_wanders(farm: Store) -> None:
    for day, heights in enumerate(((0, 0.3, 0, 0), (0, 0.1, 0, -0.1), (0, 0.12, 0, -0.12))):
        sheet = tram_machine(farm, "Alder", readings(*heights), measured_utc=AT + timedelta(days=day))
    assert sheet.worst_before_mm == pytest.approx(0.12)
    kept = [one for one in farm.measurements() if one.kind == "tram"]
    assert [one.value for one in kept] == pytest.approx([0.15, 0.1, 0.12])
    assert screw_drift(farm, "Alder")[0].screw in ("front right", "back left")


def test_a_feed_test_may_set_the_steps_and_says_why(farm: Store) -> None:
    with pytest.raises(BadInput, match="nothing is written down"):
        check_feed(farm, "Alder", commanded_mm=100, measured_mm=[98])
    sheet = check_feed(farm, "Alder", commanded_mm=100, measured_mm=[98.0, 98.2], steps_per_mm=93, write=True)
    alder = machine_named(farm, "Alder")
    assert value_now(farm, alder, "steps_per_mm") == pytest.approx(sheet.new_steps_per_mm.value)
    before = farm.counts()
    with pytest.raises(BadInput, match="not calibration"):
        check_feed(farm, "Alder", commanded_mm=100, measured_mm=[70], steps_per_mm=93, write=True)
    assert farm.counts() == before


def test_hot_against_free_feed_is_a_health_signal(farm: Store) -> None:
    assert feed_health_of(farm, "Alder") is None
    check_feed(farm, "Alder", commanded_mm=200, measured_mm=[200.2], steps_per_mm=93, free=True)
    check_feed(farm, "Alder", commanded_mm=200, measured_mm=[193.0], steps_per_mm=93)
    health = feed_health_of(farm, "Alder")
    assert health is not None
    assert health.word == "slips"


def test_a_heating_log_gives_settings_under_the_liners_limit_and_shows_ageing(farm: Store) -> None:
    first, aged = tune_heater(farm, "Alder", log(), target_c=220, write=True, measured_utc=AT)
    assert aged == []
    assert first.peak_c < first.limit_c
    _, aged = tune_heater(farm, "Alder", log(gain=2.0), target_c=200, measured_utc=AT + timedelta(days=1))
    assert "weak heater" in aged[0]
    names = [line.kind.name for line in ledger(farm, "Alder")]
    assert names == ["heater_gain", "heater_integral_s", "heater_derivative_s", "tube_length_mm"]
    with pytest.raises(BadInput, match="liner bears"):
        tune_heater(farm, "Alder", log(), target_c=262)


def test_the_tubes_length_stands_in_the_ledger_with_what_changed_it(farm: Store) -> None:
    renew(farm, "Alder", "tube_end", trimmed_mm=15, renewed_utc=AT)
    renew(farm, "Alder", "tube_end", trimmed_mm=90, renewed_utc=AT + timedelta(days=1))
    (line,) = (line for line in ledger(farm, "Alder") if line.kind.name == "tube_length_mm")
    assert [one.value for one in line.history] == [315.0, 405.0, 420.0]
    assert [one.why for one in line.history] == ["trimmed by 90 mm", "trimmed by 15 mm", "as fitted"]
    assert "far corners need 330 mm" in line.warnings[0]
    assert len({one.act_id for one in line.history}) == 3


def test_flow_by_wall_or_by_weight(farm: Store) -> None:
    assert check_flow(
        farm, "Alder", material="pla", asked_mm=0.48, walls_mm=[0.51, 0.52, 0.51, 0.52], write=True
    ).change
    assert value_now(farm, machine_named(farm, "Alder"), "flow_ratio", "pla") == pytest.approx(0.48 / 0.515)
    check_flow(farm, "Alder", material="pla", commanded_mm=1000, weighed_g=[2.95])
    with pytest.raises(BadInput, match="one of the two"):
        check_flow(farm, "Alder", material="pla")


def test_a_value_warns_once_the_parts_it_rests_on_were_changed(farm: Store) -> None:
    set_value(farm, "Alder", "unload_mm", 460, why="measured", set_utc=AT)
    set_value(farm, "Alder", "retract_mm", 3.0, why="retraction piece", material="pla", set_utc=AT)
    assert not next(line.warnings for line in ledger(farm, "Alder") if line.kind.name == "unload_mm")
    renew(farm, "Alder", "tube_end", trimmed_mm=20, renewed_utc=AT + timedelta(days=3))
    renew(farm, "Alder", "guide_tube", product="bore_1_9", renewed_utc=AT + timedelta(days=4))
    warned = {line.kind.name: " ".join(line.warnings) for line in ledger(farm, "Alder")}
    assert "trimmed by 20 mm" in warned["unload_mm"]
    assert "bore of 2 mm" in warned["retract_mm"]


def test_many_renewals_since_a_value_was_set_make_one_warning(farm: Store) -> None:
    set_value(farm, "Alder", "nozzle_offset_mm", -1.2, why="paper test", set_utc=AT)
    for days in (3, 9, 12):
        renew(farm, "Alder", "nozzle", renewed_utc=AT + timedelta(days=days))
    (line,) = (line for line in ledger(farm, "Alder") if line.kind.name == "nozzle_offset_mm")
    last = f"{AT + timedelta(days=12):%Y-%m-%d}"
    assert line.warnings == (f"The nozzle was renewed since, 3 times, last on {last}: check this value again.",)


def test_a_retraction_that_the_fitted_path_swallows_warns(farm: Store) -> None:
    set_value(farm, "Alder", "retract_mm", 0.3, why="a guess", material="pla", set_utc=AT)
    assert "will string" in ledger(farm, "Alder")[0].warnings[0]


@pytest.mark.parametrize(
    ("name", "value", "why", "words"),
    [
        ("hat", 1, "x", "no such working value"),
        ("steps_per_mm", 1, "x", "5 to 5000"),
        ("retract_mm", 2, " ", "letters"),
    ],
)
def test_a_value_that_cannot_be_is_refused(farm: Store, name: str, value: float, why: str, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        set_value(farm, "Alder", name, value, why=why)
