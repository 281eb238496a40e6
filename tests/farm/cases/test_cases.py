"""Cases from the first symptom to the cause, on own and foreign machines."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from feedwright.catalogue.network import load_network
from feedwright.errors import BadInput, Conflict, NotFound, OutOfRange
from feedwright.farm.cases.case_lists import case_lines
from feedwright.farm.cases.cases import case_sheet, close_case, open_case, tell, written_answer
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.parts.events import add_event
from feedwright.farm.prints.runs import add_run
from feedwright.farm.prints.voids import void
from feedwright.records.store import Store

NOW = datetime.now(UTC).replace(microsecond=0)


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[Store]:
    """Alder has printed hot for 60 days since it was new; Beech has stood since yesterday."""
    with open_farm(tmp_path / "farm", create=True) as store:
        add_machine(store, "Alder", "moving_bed_remote", history="new", at_utc=NOW - timedelta(days=61))
        add_machine(store, "Beech", "moving_bed_remote", history="new", at_utc=NOW - timedelta(days=1))
        for day in range(60, 0, -4):
            add_run(store, "Alder", material="pla", hours=40.0, nozzle_c=240.0, started_utc=NOW - timedelta(days=day))
        yield store


def first(store: Store, number: int) -> str:
    return case_sheet(store, number, NOW).suspects[0].cause


def test_a_liner_past_its_life_is_suspected_first_and_a_fresh_one_is_not(farm: Store) -> None:
    seen = {"strings": "yes", "thin_lines": "yes"}
    old, new = (open_case(farm, machine=name, answers=seen).id for name in ("Alder", "Beech"))
    assert first(farm, old) == "liner_aged"
    prior = {
        number: {one.cause: one.prior_frac for one in case_sheet(farm, number, NOW).suspects} for number in (old, new)
    }
    assert prior[old]["liner_aged"] > 4 * prior[new].get("liner_aged", 0.0)
    assert any("Tube end" in said for said in case_sheet(farm, old, NOW).known)


def test_what_the_records_know_shifts_what_is_likely(farm: Store) -> None:
    add_event(farm, "Beech", "power_cut", nozzle_c=210.0, minutes=5, at_utc=NOW - timedelta(hours=3))
    number = open_case(
        farm, machine="Beech", answers={"clicks": "yes", "thin_lines": "yes", "began_suddenly": "yes"}
    ).id
    assert first(farm, number) == "soak_plug"
    assert any("power cut" in said for said in case_sheet(farm, number, NOW).known)


def test_a_foreign_machine_needs_nothing_but_a_symptom(farm: Store) -> None:
    number = open_case(farm, answers={"layer_shift": "yes"}).id
    sheet = case_sheet(farm, number, NOW)
    assert sheet.file.machine is None
    assert sheet.advice.best is not None
    assert sheet.advice.best.because


def test_a_material_answers_what_it_can_and_the_person_s_word_counts_more(farm: Store) -> None:
    number = open_case(farm, material="pa6", answers={"strings": "yes"}).id
    assert case_sheet(farm, number, NOW).holds["thirsty"]
    tell(farm, number, facts={"thirsty": "no", "after_power_cut": "unsure"})
    assert case_sheet(farm, number, NOW).holds["thirsty"] is False
    assert "after_power_cut" not in case_sheet(farm, number, NOW).holds


def test_every_answer_updates_the_ranking_and_the_latest_counts(farm: Store) -> None:
    number = open_case(farm, drive="remote", hot_end="lined", answers={"strings": "yes"}).id
    tell(farm, number, answers={"bubbles": "yes"})
    assert first(farm, number) == "filament_moist"
    tell(farm, number, answers={"bubbles": "no", "end_ring": "yes"}, state="hot")
    sheet = case_sheet(farm, number, NOW)
    assert sheet.suspects[0].cause == "liner_gap"
    assert sheet.file.answers == {"strings": "yes", "bubbles": "no", "end_ring": "yes"}
    assert sheet.file.state == "hot"
    tell(farm, number, answers={"end_ring": "unsure"})
    assert first(farm, number) != "liner_gap" or case_sheet(farm, number, NOW).suspects[0].at_work_frac < 0.5


def test_a_reading_counts_and_one_that_cannot_be_is_refused(farm: Store) -> None:
    number = open_case(farm, hot_end="lined", answers={"stops_midway": "yes"}).id
    tell(farm, number, readings={"sink_top": 75.0})
    assert first(farm, number) in ("fan_weak", "fan_stalled", "sink_air_hot")
    with pytest.raises(OutOfRange):
        tell(farm, number, readings={"sink_top": 900.0})
    assert case_sheet(farm, number, NOW).file.readings == {"sink_top": 75.0}


def test_a_repair_that_did_not_cure_is_not_advised_again(farm: Store) -> None:
    number = open_case(farm, hot_end="lined", answers={"end_black": "yes"}).id
    tell(farm, number, tried="trim_tube_end")
    sheet = case_sheet(farm, number, NOW)
    assert sheet.file.tried == ("trim_tube_end",)
    steps = [sheet.advice.best, *sheet.advice.others]
    assert all(step is None or step.step != "trim_tube_end" for step in steps)
    assert sheet.suspects[0].cause != "liner_burnt"


def test_a_case_is_left_and_taken_up_again(farm: Store, tmp_path: Path) -> None:
    number = open_case(farm, machine="Alder", label="the vase", answers={"strings": "yes"}).id
    before = case_sheet(farm, number, NOW)
    farm.close()
    with open_farm(tmp_path / "farm") as again:
        assert case_sheet(again, number, NOW) == before
        assert [(line.case.label, line.machine, line.seen) for line in case_lines(again)] == [
            ("the vase", "Alder", ("strings",))
        ]


def test_a_closed_case_teaches_and_stays_closed(farm: Store) -> None:
    before = case_sheet(farm, open_case(farm, answers={"strings": "yes"}).id, NOW)
    for _ in range(6):
        number = open_case(farm, answers={"strings": "yes", "bubbles": "no"}).id
        close_case(farm, number, cause="reversal_short", cure="set_reversal")
    after = case_sheet(farm, 1, NOW)
    chance = [{one.cause: one.at_work_frac for one in sheet.suspects} for sheet in (before, after)]
    assert chance[1]["reversal_short"] > 1.5 * chance[0]["reversal_short"]
    with pytest.raises(Conflict):
        tell(farm, number, answers={"strings": "no"})
    with pytest.raises(Conflict):
        close_case(farm, number)
    assert case_sheet(farm, number, NOW).advice.best is None
    void(farm, "case", number, "entered twice")
    with pytest.raises(NotFound):
        case_sheet(farm, number, NOW)


def test_the_written_answer_holds_nothing_personal(farm: Store) -> None:
    number = open_case(farm, label="Zacharias of Nowhere", answers={"strings": "yes", "gaps_after_travel": "yes"}).id
    answer = written_answer(farm, number, NOW)
    assert "Zacharias" not in repr(answer)
    titles = [section.title for section in answer.sections]
    assert titles[:2] == ["What you described", "What is likely, and why"]
    assert "What not to bother with for now" in titles
    assert "Take care" in titles


@pytest.mark.parametrize(
    "told",
    [
        {"answers": {"stringz": "yes"}},
        {"answers": {"strings": "perhaps"}},
        {"facts": {"after_party": "yes"}},
        {"facts": {"enclosed": "maybe"}},
        {"tried": "prayer"},
        {"state": "lukewarm"},
        {"readings": {"mood": 3.0}},
        {},
    ],
)
def test_what_cannot_be_taken_is_refused_and_nothing_is_kept(farm: Store, told: dict[str, object]) -> None:
    number = open_case(farm, answers={"strings": "yes"}).id
    before = farm.latest_act_id()
    with pytest.raises(BadInput):
        tell(farm, number, **told)  # type: ignore[arg-type]
    assert farm.latest_act_id() == before


def test_unknown_names_are_refused(farm: Store) -> None:
    with pytest.raises(NotFound):
        open_case(farm, machine="Nobody")
    with pytest.raises(BadInput):
        open_case(farm, drive="sideways")
    with pytest.raises(BadInput):
        open_case(farm, label="x" * 61)
    with pytest.raises(BadInput, match="label"):
        open_case(farm, label="two\nlines")
    with pytest.raises(NotFound):
        case_sheet(farm, 99, NOW)


def test_every_cause_can_close_a_case(farm: Store) -> None:
    for cause in list(load_network().causes.values())[::12]:
        number = open_case(farm).id
        assert close_case(farm, number, cause=cause.id, cure=cause.cure).cause == cause.id
