"""What heat did is charged to the parts concerned, and taken back where it was entered wrongly."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from feedwright.errors import BadInput, OutOfRange
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine, machine_named
from feedwright.farm.machines.totals import exposures
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.heat import fan_of, orifice_of, push_of, soak_of
from feedwright.farm.prints.voids import void
from feedwright.records.store import Store

NOW = datetime.now(UTC).replace(microsecond=0)


@pytest.fixture
def yard(tmp_path: Path):
    with open_farm(tmp_path / "farm", create=True) as store:
        for name, build in (("Larch", "moving_bed_remote"), ("Yew", "moving_bed_all_metal")):
            add_machine(store, name, build, history="new", at_utc=NOW - timedelta(days=9))
        yield store


def exposure(store: Store, machine: str, part: str) -> float:
    whose = machine_named(store, machine)
    fitting = next(held for held in store.fittings(whose.id, open_only=True) if held.part_kind == part)
    return exposures(store, [whose]).get(fitting.id, 0.0)


def test_a_stalled_fan_ages_the_tube_end_about_as_long_as_it_stood_hot(yard: Store) -> None:
    event = add_event(yard, "Larch", "fan_stall", nozzle_c=240, minutes=60, material="petg")
    assert event.stretch is not None
    added = exposure(yard, "Larch", "tube_end")
    assert 1.0 < added < 1.2, "an hour at 240 °C, and what it gathers while it cools"
    assert yard.events()[0].stretch == event.stretch


def test_a_power_cut_ages_it_hardly_and_a_hotter_stop_more(yard: Store) -> None:
    add_event(yard, "Larch", "power_cut", nozzle_c=240)
    cut = exposure(yard, "Larch", "tube_end")
    assert 0 < cut < 0.1
    add_event(yard, "Larch", "hot_stop", nozzle_c=250, minutes=60)
    assert exposure(yard, "Larch", "tube_end") - cut > 1.2


def test_voiding_the_event_takes_its_heat_back_to_the_last_digit(yard: Store) -> None:
    before = exposure(yard, "Larch", "tube_end")
    event = add_event(yard, "Larch", "hot_stop", nozzle_c=230, minutes=33)
    void(yard, "event", event.id, "it was Yew")
    assert exposure(yard, "Larch", "tube_end") == before


def test_heat_that_is_not_known_is_not_made_up(yard: Store) -> None:
    assert add_event(yard, "Larch", "fan_stall", nozzle_c=240).stretch is None
    assert add_event(yard, "Larch", "hot_stop", minutes=20).stretch is None
    assert add_event(yard, "Larch", "jam", nozzle_c=240, minutes=20).stretch is None
    assert exposure(yard, "Larch", "tube_end") == 0


def test_a_stall_is_worse_where_a_liner_reaches_the_nozzle_and_says_what_to_check(yard: Store) -> None:
    lined = soak_of(yard, "Larch", "fan_stall", nozzle_c=240, minutes=30, material="pla")
    assert lined.sink_peak_c > 80
    assert lined.sink_softens_after_s is not None
    assert any("fan" in check for check in lined.checks)
    event = add_event(yard, "Yew", "fan_stall", nozzle_c=240, minutes=30)
    assert event.stretch is not None
    assert event.stretch.nozzle_s == ((240, 1800),), "no liner there: the block's own time counts"


def test_a_fan_is_judged_by_thermometer_or_finger(yard: Store) -> None:
    assert fan_of(yard, "Larch", nozzle_c=210, sink_c=36).word == "healthy"
    assert fan_of(yard, "Larch", nozzle_c=210, sink_c=95).word == "failed"
    by_finger = fan_of(yard, "Larch", nozzle_c=210, finger_s=1.5, let_go=True)
    assert by_finger.cautions
    assert by_finger.sink_top_c.high - by_finger.sink_top_c.low > 5


def test_a_worn_gear_and_a_hot_enclosure_leave_less_push(yard: Store) -> None:
    sharp = push_of(yard, "Larch", material="pla", flow_mm3_s=6)
    add_finding(yard, "Larch", "drive_gear", grade="worn")
    worn = push_of(yard, "Larch", material="pla", flow_mm3_s=6)
    assert worn.balance.available_n < sharp.balance.available_n
    assert worn.balance.needed_n == sharp.balance.needed_n
    assert push_of(yard, "Yew", material="pla", flow_mm3_s=6).slack.lost_mm < sharp.slack.lost_mm


def test_a_wider_orifice_shows_in_the_flow_test(yard: Store) -> None:
    assert orifice_of(yard, "Larch", material="pla", flow_new_mm3_s=5, flow_now_mm3_s=9).word == "worn"
    assert orifice_of(yard, "Larch", material="pla", flow_new_mm3_s=5, flow_now_mm3_s=2).word == "narrowed"


def test_what_cannot_be_is_refused_with_field_range_and_remedy(yard: Store) -> None:
    with pytest.raises(OutOfRange, match="40 to 450"):
        soak_of(yard, "Larch", "hot_stop", nozzle_c=2000, minutes=1)
    with pytest.raises(BadInput, match="give the minutes"):
        soak_of(yard, "Larch", "hot_stop", nozzle_c=200)
    with pytest.raises(BadInput, match="minutes"):
        soak_of(yard, "Larch", "hot_stop", nozzle_c=200, minutes=-5)
    with pytest.raises(BadInput, match="did you mean pla"):
        soak_of(yard, "Larch", "hot_stop", nozzle_c=200, minutes=5, material="plaa")
    with pytest.raises(OutOfRange, match="sink_top_c"):
        fan_of(yard, "Larch", nozzle_c=210, sink_c=3)
    with pytest.raises(BadInput, match="measure"):
        fan_of(yard, "Larch", nozzle_c=210)
    with pytest.raises(OutOfRange, match="flow_mm3_s"):
        push_of(yard, "Larch", material="pla", flow_mm3_s=-1)
