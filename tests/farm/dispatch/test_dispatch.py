"""What is proposed for a queue: from the records, with reasons, a band, and what a service would change."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from feedwright.demo.toolpath_maker import THINGS, toolpath_of
from feedwright.farm.dispatch.dispatch import Proposal, dispatch, last_proposals
from feedwright.farm.dispatch.finishing import finish_band, finishing_parts
from feedwright.farm.dispatch.prints_ahead import prints_ahead
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine, machine_named
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.prints.prints import start
from feedwright.farm.prints.queue import add_to_queue, place, take_off
from feedwright.farm.prints.runs import add_runs
from feedwright.farm.service.service_visits import begin_visit
from feedwright.farm.stores.spools import add_spool
from feedwright.farm.toolpaths.toolpaths import keep_toolpath
from feedwright.records.rounds_values import PlannedStop, RoundPlan
from feedwright.records.store import Store
from feedwright.records.values import Run

NOW = datetime.now(UTC).replace(microsecond=0)
FILE = "clips.gcode"


@pytest.fixture(scope="module")
def made_once(ground: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Alder has printed hot for long, Birch and Beech are as good as new; one small file is known."""
    folder = tmp_path_factory.mktemp("yard") / "farm"
    shutil.copytree(ground, folder)
    clips = folder.parent / FILE
    clips.write_text(toolpath_of(replace(THINGS[2], islands=4, height_mm=6)))
    with open_farm(folder) as store:
        add_machine(store, "Birch", "moving_bed_remote", history="new", at_utc=NOW - timedelta(days=200))
        long_ago = [NOW - timedelta(days=day) for day in range(120, 0, -1)]
        add_runs(store, "Alder", [Run(0, at, "complete", "pla", hours=16.0, nozzle_c=250.0) for at in long_ago])
        keep_toolpath(store, clips)
    return folder


@pytest.fixture
def yard(made_once: Path, tmp_path: Path) -> Iterator[Store]:
    shutil.copytree(made_once, tmp_path / "yard")
    with open_farm(tmp_path / "yard") as store:
        yield store


def test_a_worn_machine_is_passed_over_and_the_reasons_say_so(yard: Store) -> None:
    add_to_queue(yard, FILE, material="pla")
    made = dispatch(yard, NOW)
    one = made.proposals[0]
    assert one.machine.name != "Alder"
    assert one.now
    assert one.finish.low <= one.finish.mid <= one.finish.high
    assert any("likelier to finish it" in words for words in one.why)
    assert "It is free now." in one.why
    assert one.other is not None
    assert one.other.machine != one.machine.name
    assert made.cost.amount > 0
    assert "not known" in one.spool.words


def test_a_persons_word_goes_before_and_a_service_is_reckoned(yard: Store) -> None:
    line = add_to_queue(yard, FILE, material="pla", copies=50)
    place(yard, line.entry.id, "Alder", note="the customer stands there")
    made = dispatch(yard, NOW)
    assert [(one.machine.name, one.copies) for one in made.proposals] == [("Alder", 50)]
    one = made.proposals[0]
    assert one.why[0] == "You put it on Alder: the customer stands there."
    gain = one.serviced[0]
    assert gain.machine == "Alder"
    assert gain.serviced_frac > gain.finish_frac + 0.02
    assert f"instead of {gain.finish_frac:.0%}" in gain.words
    assert gain.renewal in gain.words
    place(yard, line.entry.id, None)
    assert {one.machine.name for one in dispatch(yard, NOW).proposals} != {"Alder"}


def test_the_chance_is_that_of_the_prints_ahead_and_the_band_holds_its_mean(yard: Store) -> None:
    for name in ("Alder", "Birch"):
        ahead = prints_ahead(yard, name, [FILE], NOW, material="pla", copies=2)
        machine = machine_named(yard, name)
        parts = finishing_parts(yard, [machine])[machine.id]
        asked = {one.part.fitting.id: one.exposure for one in ahead.parts}
        chance = 1.0
        for part in parts:
            chance *= part.lasts(0.0, asked[part.fitting.id])
        assert chance == pytest.approx(1.0 - ahead.spoiled_frac, abs=1e-9)
        band = finish_band(parts, dict.fromkeys(asked, 0.0), asked, chance)
        assert band.low < chance < band.high or band.high - band.low < 1e-6


def test_what_was_seen_of_a_part_narrows_or_moves_its_chance(yard: Store) -> None:
    before = prints_ahead(yard, "Alder", [FILE], NOW, material="pla").spoiled_frac
    add_finding(yard, "Alder", "tube_end", grade="clean", found_utc=NOW)
    machine = machine_named(yard, "Alder")
    parts = finishing_parts(yard, [machine])[machine.id]
    ahead = prints_ahead(yard, "Alder", [FILE], NOW, material="pla")
    chance = 1.0
    for part in parts:
        chance *= part.lasts(0.0, next(one.exposure for one in ahead.parts if one.part.fitting.id == part.fitting.id))
    assert 1.0 - chance < before


def test_a_machine_that_prints_or_is_to_be_served_takes_it_later(yard: Store) -> None:
    line = add_to_queue(yard, FILE, material="pla", due_utc=NOW + timedelta(hours=1))
    place(yard, line.entry.id, "Birch")
    start(yard, "Birch", material="pla", hours=4.0, started_utc=NOW - timedelta(hours=1))
    one = dispatch(yard, NOW).proposals[0]
    assert not one.now
    assert one.begins_utc == NOW + timedelta(hours=3)
    assert one.late_h > 2
    assert any("after it is due" in words for words in one.why)
    with yard.act("plan rounds") as act:
        number = act.add(RoundPlan(NOW, f"{NOW:%Y-%m-%d}", 7, "{}"))
        birch = machine_named(yard, "Birch").id
        act.add(PlannedStop(number, birch, f"{NOW:%Y-%m-%d}", NOW + timedelta(hours=3), 90.0, "[]"))
    one = dispatch(yard, NOW).proposals[0]
    assert one.begins_utc == NOW + timedelta(hours=4.5)
    assert any("after the visit that is planned" in words for words in one.why)


def test_what_no_machine_can_take_is_said_machine_by_machine(yard: Store) -> None:
    line = add_to_queue(yard, "d20.gcode", material="pla")
    made = dispatch(yard, NOW)
    if made.left_over:
        assert any("reaches" in words for words in made.left_over[0].why)
    begin_visit(yard, "Birch", ["trim_tube"])
    place(yard, line.entry.id, "Birch")
    made = dispatch(yard, NOW)
    assert made.left_over[0].why == ("You put it on Birch: in service, visit 1.",)
    assert [machine.name for machine, _ in made.away] == ["Birch"]


def test_a_spool_that_cannot_finish_it_is_said_and_one_of_another_material_does_not_count(yard: Store) -> None:
    line = add_to_queue(yard, FILE, material="pla", copies=2)
    place(yard, line.entry.id, "Birch")
    add_spool(yard, "pla", net_g=1.0, machine="Birch")
    one = dispatch(yard, NOW).proposals[0]
    assert one.spool.verdict == "short"
    assert "cannot finish it" in one.spool.words
    assert not one.change
    add_spool(yard, "petg", net_g=1000.0, machine="Birch")
    one = dispatch(yard, NOW).proposals[0]
    assert one.spool.verdict is None
    assert one.change


def test_prints_in_a_row_draw_from_one_spool_what_is_under_way_first(yard: Store) -> None:
    asked_g = dispatch_on_birch(yard).spool.needed_g
    add_spool(yard, "pla", net_g=3.5 * asked_g, machine="Birch")
    alone = dispatch_on_birch(yard).spool
    assert alone.before_g == 0
    assert alone.verdict == "enough"
    start(yard, "Birch", material="pla", toolpath=FILE, copies=2, started_utc=datetime.now(UTC))
    after = dispatch_on_birch(yard).spool
    assert after.before_g == pytest.approx(2 * asked_g)
    assert after.enough_frac is not None
    assert alone.enough_frac is not None
    for _ in range(2):
        line = add_to_queue(yard, FILE, material="pla")
        place(yard, line.entry.id, "Birch")
    in_a_row = [one.spool for one in dispatch(yard, NOW).proposals]
    assert [one.before_g for one in in_a_row] == pytest.approx([2 * asked_g, 3 * asked_g, 4 * asked_g])
    assert [one.verdict for one in in_a_row] == ["enough", "short", "short"]
    assert f"after {2 * asked_g:.0f} g for what is printed before it" in in_a_row[0].words


def test_a_print_under_way_draws_from_the_spool_that_hung_as_it_began(yard: Store) -> None:
    add_spool(yard, "pla", machine="Birch")
    start(yard, "Birch", material="pla", toolpath=FILE, copies=2, started_utc=datetime.now(UTC))
    add_spool(yard, "pla", net_g=500.0, machine="Birch")
    assert dispatch_on_birch(yard).spool.before_g == 0
    add_spool(yard, "petg", machine="Birch")
    assert dispatch_on_birch(yard).spool.words.startswith("Spool 3, PETG hangs on Birch")


def dispatch_on_birch(yard: Store) -> Proposal:
    """What is proposed for one copy that waits for Birch alone."""
    if not dispatch(yard, NOW).proposals:
        place(yard, add_to_queue(yard, FILE, material="pla").entry.id, "Birch")
    return dispatch(yard, NOW).proposals[0]


def test_the_chance_to_finish_counts_the_spool_beside_the_parts(yard: Store) -> None:
    one = dispatch_on_birch(yard)
    assert one.on_spool_frac is None
    add_spool(yard, "pla", net_g=one.spool.needed_g, machine="Birch")
    one = dispatch_on_birch(yard)
    assert one.spool.verdict == "doubtful"
    assert one.spool.enough_frac == pytest.approx(0.5)
    assert one.on_spool_frac == pytest.approx(0.5 * one.finish.mid)


def test_proposals_are_kept_until_something_is_recorded(yard: Store) -> None:
    line = add_to_queue(yard, FILE, material="pla")
    made = dispatch(yard, NOW)
    assert dispatch(yard, NOW) is made
    assert last_proposals(yard) == made.proposals
    take_off(yard, line.entry.id)
    assert last_proposals(yard) == ()
    assert dispatch(yard, NOW).proposals == ()
