"""What is found at the bench is learned at once: a clean look calms the advice, a bad one hastens it."""

from datetime import datetime, timedelta

import pytest

from feedwright.farm.dispatch.prints_ahead import prints_ahead
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.outlook.learning import farm_lives
from feedwright.farm.outlook.lessons import lessons
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_runs
from feedwright.farm.prints.voids import void
from feedwright.records.store import Store
from feedwright.records.values import Run

BEGUN = datetime.fromisoformat("2026-03-02T08:00Z")
NOW = BEGUN + timedelta(days=50)


@pytest.fixture
def used(farm: Store) -> Store:
    """Fifty days of printing on Alder: its tube end is past its best age by the rule of thumb."""
    add_runs(farm, "Alder", [Run(0, BEGUN + timedelta(days=day), "complete", "pla", hours=13.0) for day in range(50)])
    return farm


def tube(store: Store, now: datetime = NOW) -> FittedPart:
    return next(p for p in fitted_parts(store, now) if (p.machine.name, p.kind.id) == ("Alder", "tube_end"))


def test_a_look_that_came_back_clean_calms_the_advice_down(used: Store) -> None:
    before = tube(used)
    assert before.advice.status == "service now"
    assert before.outlook.life_source == "the rule of thumb"
    add_finding(used, "Alder", "tube_end", grade="clean", found_utc=NOW)
    after = tube(used)
    assert after.advice.status == "in order"
    assert after.advice.best_in_days > 14
    assert after.outlook.failure_frac_week < 0.5 * before.outlook.failure_frac_week
    assert after.outlook.life_source == "the rule of thumb and 1 finding"
    assert any("found clean" in said for said in after.outlook.because)


def test_a_look_that_came_back_bad_hastens_it(used: Store) -> None:
    before = tube(used)
    add_finding(used, "Alder", "tube_end", grade="ring", found_utc=NOW)
    after = tube(used)
    assert after.advice.status == "service now"
    assert after.outlook.failure_frac_month > before.outlook.failure_frac_month
    assert after.advice.waiting_cost_week.amount > before.advice.waiting_cost_week.amount


def test_what_was_found_failed_is_to_be_renewed_now(used: Store) -> None:
    add_finding(used, "Alder", "tube_end", grade="black", found_utc=NOW)
    after = tube(used)
    assert (after.advice.status, after.advice.act) == ("service now", "renew")
    assert after.outlook.failure_frac_day == pytest.approx(1.0)


def test_what_was_found_failed_is_to_be_renewed_even_at_rest_and_unused(farm: Store) -> None:
    add_finding(farm, "Hazel", "nozzle", grade="worn", found_utc=BEGUN)
    nozzle = next(p for p in fitted_parts(farm, NOW) if (p.machine.name, p.kind.id) == ("Hazel", "nozzle"))
    assert (nozzle.advice.status, nozzle.advice.act) == ("service now", "renew")
    assert nozzle.outlook.failure_frac_day == 1.0
    assert nozzle.outlook.remaining_days.high == 0.0


def test_a_part_that_outlived_all_belief_lengthens_it(farm: Store) -> None:
    """Far hotter and longer than anything the rule of thumb allows, and still at work: the life believed grows."""
    runs = [Run(0, BEGUN + timedelta(days=day), "complete", "pa12", hours=20.0, nozzle_c=290.0) for day in range(100)]
    add_runs(farm, "Alder", runs)
    part = tube(farm, BEGUN + timedelta(days=101))
    assert part.outlook.exposure.mid > 5000
    assert part.outlook.life.mid > 5 * 240
    assert part.outlook.remaining.mid < 1e6


def test_a_voided_finding_is_unlearned(used: Store) -> None:
    before = tube(used)
    finding = add_finding(used, "Alder", "tube_end", grade="clean", found_utc=NOW)
    void(used, "finding", finding.id, reason="another machine")
    after = tube(used)
    assert after.outlook.life_source == "the rule of thumb"
    assert after.outlook.failure_frac_month == pytest.approx(before.outlook.failure_frac_month)


def test_renewing_by_habit_never_shortens_the_believed_life(used: Store) -> None:
    """A part taken off as worn, its state not written down, was still working: else habit would breed shorter lives."""
    before = tube(used).outlook.life.mid
    renew(used, "Alder", "tube_end", renewed_utc=NOW)
    assert tube(used).outlook.life.mid >= 0.99 * before


def test_a_failure_in_a_spoiled_run_is_known_to_that_run(farm: Store) -> None:
    runs = [Run(0, BEGUN + timedelta(days=day), "complete", "pla", hours=10.0) for day in range(5)]
    add_runs(farm, "Alder", [*runs, Run(0, BEGUN + timedelta(days=5), "spoiled", "pla", hours=10.0, fraction=1.0)])
    renew(farm, "Alder", "tube_end", reason="failed", renewed_utc=BEGUN + timedelta(days=6))
    story = next(story for story in farm_lives(farm).by_kind["tube_end"] if story.end == "failed")
    assert story.sound_until == pytest.approx(story.gathered * 5 / 6)


def test_the_lessons_hold_the_raw_findings_and_what_they_amount_to(used: Store) -> None:
    add_finding(used, "Alder", "tube_end", grade="clean", found_utc=NOW)
    made = lessons(used, NOW, part="tube end")
    (lesson,) = made.kinds
    assert lesson.findings == 1
    assert lesson.ratio.mid > 1.2
    assert {"clean", "still in use"} <= {raw.what for raw in lesson.raw}
    assert [number.name for number in made.numbers] == ["activation energy of the tube end"]
    assert not made.numbers[0].telling
    alive = [point.alive_frac for point in lesson.curve]
    assert alive == sorted(alive, reverse=True)
    assert all(point.alive_low_frac <= point.alive_high_frac for point in lesson.curve)


def test_planned_prints_have_chances_of_their_own(used: Store) -> None:
    few = prints_ahead(used, "Alder", ["d20.gcode"], NOW, material="pla")
    many = prints_ahead(used, "Alder", ["d20.gcode"], NOW, material="pla", copies=50)
    assert many.hours == pytest.approx(50 * few.hours)
    assert 0 < few.failure_frac < many.failure_frac < 1
    assert many.spoiled_frac < many.failure_frac
