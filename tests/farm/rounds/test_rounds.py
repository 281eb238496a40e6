"""Rounds on a farm: planned, asked otherwise, planned around that, begun, printed; what-if leaves no trace."""

import io
import json
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from pypdf import PdfReader

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, NotFound
from feedwright.farm.ground.house import moment, open_farm
from feedwright.farm.ground.settings import figures, set_zone, zone
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.prints import start
from feedwright.farm.prints.runs import add_run
from feedwright.farm.prints.voids import void
from feedwright.farm.rounds.bench_hours import (
    add_busy,
    busy_times,
    free_stretches,
    round_days,
    set_hours,
    weekday_hours,
)
from feedwright.farm.rounds.round_paper import paper_pdf, round_paper
from feedwright.farm.rounds.round_sheets import in_plan, rounds_sheet
from feedwright.farm.rounds.round_tasks import Supplies
from feedwright.farm.rounds.round_values import InPlan, RoundsSheet, Stop
from feedwright.farm.rounds.round_what_ifs import Asked, what_if
from feedwright.farm.rounds.rounds import begin_stop, let_go, lock, move, plan, skip, wishes_held
from feedwright.farm.service.service_visits import end_visit
from feedwright.farm.stores.stores import add_item, order_items
from feedwright.records.rounds_values import BenchHours, RoundPlan
from feedwright.records.store import Store
from feedwright.records.stores_values import Movement

NOW = datetime.now(UTC).replace(microsecond=0)


@pytest.fixture(scope="module")
def worn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three machines of which much was asked."""
    folder = tmp_path_factory.mktemp("worn") / "farm"
    with open_farm(folder, create=True) as store:
        set_zone(store, "Europe/Vienna")
        for name, build in (
            ("Alder", "moving_bed_remote"),
            ("Beech", "moving_bed_remote"),
            ("Fir", "moving_bed_direct"),
        ):
            add_machine(store, name, build, history="new", at_utc=NOW - timedelta(days=60))
            for week in range(5):
                at = NOW - timedelta(days=9 * week + 8)
                add_run(store, name, material="pla", hours=150.0, nozzle_c=245.0, started_utc=at)
        for day in ("monday", "tuesday", "wednesday", "thursday", "friday"):
            set_hours(store, day, 180.0, begins="14:00")
        plan(store)
    return folder


@pytest.fixture
def farm(worn: Path, tmp_path: Path) -> Iterator[Store]:
    shutil.copytree(worn, tmp_path / "farm")
    with open_farm(tmp_path / "farm") as store:
        yield store


def planned(store: Store) -> RoundsSheet:
    """A plan made anew."""
    plan(store)
    return seen(store)


def seen(store: Store) -> RoundsSheet:
    """The plan in force; the farm comes with one."""
    return rounds_sheet(store, moment(None))


def stop_of(sheet: RoundsSheet, machine: str) -> tuple[date, Stop]:
    return next((one.day, stop) for one in sheet.rounds for stop in one.stops if stop.machine.name == machine)


def test_a_plan_keeps_within_hours_and_gives_a_reason_for_everything(farm: Store) -> None:
    sheet = seen(farm)
    assert sheet.rounds
    for one in sheet.rounds:
        assert one.day.weekday() < 5
        assert one.minutes <= one.hours_minutes + 1e-6
        ends = [stop.begins_utc + timedelta(minutes=stop.minutes) for stop in one.stops]
        assert all(
            later.begins_utc >= end - timedelta(seconds=1) for later, end in zip(one.stops[1:], ends, strict=False)
        )
        assert one.begins_utc.astimezone(zone(farm)).hour == 14 or one.day == moment(None).astimezone(zone(farm)).date()
        assert all(task.because for stop in one.stops for task in stop.tasks)
    assert all(one.because for one in sheet.left)
    told = sheet.reckoning
    assert 0 <= told.gap_frac <= 0.01
    assert told.total.amount <= told.when_due.amount
    assert told.total.amount <= told.monthly.amount
    assert not sheet.stale
    assert planned(farm).rounds[0].stops[0].tasks == sheet.rounds[0].stops[0].tasks, "nothing changed: the same plan"
    assert rounds_sheet(farm, moment(None)).reckoning.changes.amount == 0


def test_a_locked_stop_stays_and_a_moved_one_goes_where_you_want_it(farm: Store) -> None:
    day, stop = stop_of(seen(farm), "Alder")
    lock(farm, stop.number, reason="promised")
    tasks = {task.fitting_id for task in stop.tasks}
    set_hours(farm, day.isoformat(), 0.0, note="a holiday")
    kept_day, kept = stop_of(planned(farm), "Alder")
    assert kept_day == day
    assert tasks <= {task.fitting_id for task in kept.tasks}
    assert kept.held_by == "lock"
    assert "You locked it on this day: promised." in kept.tasks[0].because
    to = moment(None).astimezone(zone(farm)).date() + timedelta(days=11)
    move(farm, kept.number, to.isoformat())
    moved_day, moved = stop_of(planned(farm), "Alder")
    assert (moved_day, moved.held_by) == (to, "move")
    wish, _ = wishes_held(farm, moment(None))[0]
    let_go(farm, wish.id)
    with pytest.raises(NotFound, match="let go already"):
        let_go(farm, wish.id)


def test_a_skipped_stop_is_left_out_with_its_reason(farm: Store) -> None:
    _, stop = stop_of(seen(farm), "Beech")
    with pytest.raises(BadInput, match="reason"):
        skip(farm, stop.number, " ")
    skip(farm, stop.number, "on loan")
    sheet = planned(farm)
    skipped = {task.fitting_id for task in stop.tasks}
    assert not skipped & {task.fitting_id for one in sheet.rounds for held in one.stops for task in held.tasks}
    said = [one.because for one in sheet.left if one.fitting_id in skipped]
    assert said
    assert all("on loan" in words for words in said)


@pytest.mark.parametrize(
    ("to", "words"), [("2019-01-01", "from today"), ("soon", "expected a day"), ("2999-01-01", "from today")]
)
def test_a_day_that_cannot_be_is_refused_and_nothing_is_asked(farm: Store, to: str, words: str) -> None:
    _, stop = stop_of(seen(farm), "Alder")
    with pytest.raises(BadInput, match=words):
        move(farm, stop.number, to)
    assert wishes_held(farm, moment(None)) == []


def test_a_stop_of_an_older_plan_is_refused(farm: Store) -> None:
    _, stop = stop_of(seen(farm), "Alder")
    plan(farm)
    with pytest.raises(NotFound, match="no such stop"):
        lock(farm, stop.number)


def test_a_begun_and_ended_visit_shows_in_the_plan(farm: Store) -> None:
    _, stop = stop_of(seen(farm), "Fir")
    visit = begin_stop(farm, stop.number)
    assert {task.procedure for task in stop.tasks} <= set(json.loads(visit.procedures))
    assert stop_of(rounds_sheet(farm, moment(None)), "Fir")[1].state == "under way"
    end_visit(farm, visit.id, outcome="given_up")
    after = stop_of(seen(farm), "Fir")[1]
    assert (after.state, after.visit_id) == ("done", visit.id)


def test_a_machine_is_opened_only_while_it_is_free(farm: Store) -> None:
    held = seen(farm).plan
    until = moment(None) + timedelta(days=20)
    add_busy(farm, "Alder", moment(None) - timedelta(hours=1), until, note="a rush order")
    start(farm, "Beech", material="pla", hours=100.0)
    days = [one.day for one in planned(farm).rounds for stop in one.stops if stop.machine.name == "Alder"]
    assert all(day >= until.astimezone(zone(farm)).date() for day in days)
    begins = [stop.begins_utc for one in rounds_sheet(farm, moment(None)).rounds for stop in one.stops
              if stop.machine.name == "Beech"]  # fmt: skip
    assert all(at >= moment(None) + timedelta(hours=99) for at in begins)
    assert farm.every(RoundPlan)[0].id == held.id, "earlier plans stay on record"


def test_a_job_due_now_that_is_planned_late_says_what_waiting_costs_and_why_not_sooner(farm: Store) -> None:
    failed = next(grade.id for grade in load_catalogue().parts["nozzle"].grades if grade.failed)
    add_finding(farm, "Alder", "nozzle", grade=failed)
    add_busy(farm, "Alder", moment(None) - timedelta(hours=1), moment(None) + timedelta(days=9), note="a rush order")
    _, stop = stop_of(planned(farm), "Alder")
    late = [task.because for task in stop.tasks if task.because[0].startswith("Due now.")]
    assert late
    assert all("Waiting for this day costs" in because[0] for because in late)
    assert any("Not sooner: on " in because[0] and "not free for long enough" in because[0] for because in late)


def test_where_there_are_no_hours_before_a_late_job_says_so(farm: Store) -> None:
    for day in ("monday", "tuesday", "wednesday", "thursday", "friday"):
        set_hours(farm, day, 0.0)
    today = moment(None).astimezone(zone(farm)).date()
    set_hours(farm, (today + timedelta(days=20)).isoformat(), 600.0)
    said = [task.because[0] for one in planned(farm).rounds for stop in one.stops for task in stop.tasks]
    assert any(words.startswith("Due now.") and "no hours at the bench before" in words for words in said)


def test_a_job_due_now_that_is_left_says_what_leaving_it_costs(farm: Store) -> None:
    add_busy(farm, "Alder", moment(None) - timedelta(hours=1), moment(None) + timedelta(days=40))
    sheet = planned(farm)
    due = {part.fitting.id for part in fitted_parts(farm, moment(None)) if part.advice.status == "service now"}
    assert {one.fitting_id for one in sheet.left if one.due} == {one.fitting_id for one in sheet.left} & due
    left = [one.because for one in sheet.left if one.due]
    assert left
    assert all("Left though due now: waiting these four weeks costs" in because for because in left)
    assert any("busy on every round day" in because for because in left)


def test_the_plan_tells_of_each_part_where_it_stands(farm: Store) -> None:
    """What the bench list says of a job is what the rounds say."""
    sheet, parts = seen(farm), fitted_parts(farm, moment(None))
    told = in_plan(farm, parts, moment(None))
    tasks = {task.fitting_id: stop for one in sheet.rounds for stop in one.stops for task in stop.tasks}
    assert {fitting for fitting, one in told.items() if one.begins_utc} == set(tasks)
    assert all(told[fitting].begins_utc == stop.begins_utc for fitting, stop in tasks.items())
    assert all(told[one.fitting_id] == InPlan(None, one.because) for one in sheet.left)
    assert not any(one.missed for one in told.values())
    assert in_plan(farm, parts[:1], moment(None)).keys() <= {parts[0].fitting.id}
    later = in_plan(farm, parts, moment(None) + timedelta(days=40))
    assert all(one.missed for fitting, one in later.items() if fitting in tasks)


def test_tasks_beyond_those_weighed_are_named_plainly(farm: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("feedwright.farm.rounds.round_tasks.MOST_TASKS", 1)
    assert any(
        note.startswith("Of the tasks of Alder, ") and note.endswith("wait for a later plan.")
        for note in planned(farm).notes
    )


def test_a_task_waits_for_its_part(farm: Store) -> None:
    kind = "nozzle"
    failed = next(grade.id for grade in load_catalogue().parts[kind].grades if grade.failed)
    add_finding(farm, "Beech", kind, grade=failed)
    add_item(farm, "the part", [kind], on_hand=0, lead_days=15.0)
    sheet = planned(farm)
    assert not renewals(sheet, kind), "no part, no order: none is planned"
    assert any("order it" in one.because for one in sheet.left if one.part_kind == kind)
    order_items(farm, [("the part", 9)])
    comes = moment(None).date() + timedelta(days=14)
    days = renewals(planned(farm), kind)
    assert days
    assert all(day >= comes for day in days)


def renewals(sheet: RoundsSheet, kind: str) -> list[date]:
    return [
        one.day for one in sheet.rounds for stop in one.stops for task in stop.tasks
        if task.part_kind == kind and not task.title.startswith("look")
    ]  # fmt: skip


def test_hours_said_once_hold_and_single_days_come_before_weekdays(tmp_path: Path) -> None:
    with open_farm(tmp_path / "new", create=True) as store:
        with pytest.raises(NotFound, match="none was made"):
            seen(store)
        assert sorted(weekday_hours(store)) == [0, 2, 4]
        set_hours(store, "sat", 60.0, begins="10:30")
        assert sorted(weekday_hours(store)) == [0, 2, 4, 5], "the usual days go on beside the one that was said"
        monday = datetime(2026, 11, 30, 7, tzinfo=UTC)
        set_hours(store, "2026-11-30", 0.0, note="away")
        days = round_days(store, zone(store), monday, 7)
        assert [one.day.isoformat() for one in days] == ["2026-12-02", "2026-12-04", "2026-12-05"]
        late = round_days(store, zone(store), datetime(2026, 12, 2, 10, tzinfo=UTC), 1)
        assert late[0].minutes == 60.0, "what is gone of today's hours is left out"
        void(store, "bench_hours", next(one for one in store.every(BenchHours) if one.day).id, "back early")
        assert round_days(store, zone(store), monday, 1)[0].minutes == 120.0
        for wrong in ("someday", "2026-02-30"):
            with pytest.raises(BadInput):
                set_hours(store, wrong, 60.0)
        with pytest.raises(BadInput):
            set_hours(store, "monday", 900.0, begins="23:00")


def test_free_stretches_are_what_busy_times_leave(farm: Store) -> None:
    midnight = (moment(None) + timedelta(days=7)).replace(hour=0, minute=0)  # of a day none of whose hours are gone
    day = round_days(farm, zone(farm), midnight, 7)[0]
    add_busy(farm, "Alder", day.begins_utc + timedelta(minutes=30), day.begins_utc + timedelta(minutes=60))
    busy = busy_times(farm, moment(None))
    minutes = [(until - begin).total_seconds() / 60 for begin, until in free_stretches(day, busy)]
    assert minutes == [30.0, 120.0]
    void(farm, "busy_window", busy[0].number, "cancelled")
    assert busy_times(farm, moment(None)) == []
    with pytest.raises(BadInput, match="expected later"):
        add_busy(farm, "Alder", moment(None), moment(None))


def test_what_if_shows_the_difference_and_records_nothing(farm: Store) -> None:
    sheet, acts = seen(farm), farm.latest_act_id()
    day = sheet.rounds[0].day
    fewer = what_if(farm, Asked(hours_frac=0.2))
    assert fewer.then.total.amount >= fewer.now.total.amount - fewer.noise.amount
    assert fewer.then_minutes < fewer.now_minutes
    away = what_if(farm, Asked(holidays=(day.isoformat(),)))
    assert all(shift.to_day != day for shift in away.shifts)
    rush = what_if(farm, Asked(busy=(("Alder", moment(None), moment(None) + timedelta(days=27)),)))
    assert any(shift.machine == "Alder" and shift.to_day is None for shift in rush.shifts)
    dear = what_if(farm, Asked(prices={"nozzle": 90.0}, grades={"nozzle": "hardened_steel"}))
    assert dear.asked
    assert farm.latest_act_id() == acts
    for asked, words in (
        (Asked(), "say what"), (Asked(hours_frac=-1.0), "share"), (Asked(holidays=("2020-01-01",)), "no round day"),
    ):  # fmt: skip
        with pytest.raises(BadInput, match=words):
            what_if(farm, asked)


@pytest.mark.parametrize(("paper", "size_pt"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])
def test_the_sheet_prints_with_all_that_is_needed(farm: Store, paper: str, size_pt: tuple[float, float]) -> None:
    """Sizes: ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch; read back by a PDF reader that did not write it."""
    sheet = seen(farm)
    held = round_paper(farm, moment(None))
    read = PdfReader(io.BytesIO(paper_pdf(held, paper=paper)))
    box = read.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(size_pt, abs=0.1)
    text = " ".join("\n".join(page.extract_text() for page in read.pages).split())
    for one in sheet.rounds:
        assert f"{one.day:%A, %d %B %Y}" in text
    for one in held.rounds:
        assert one.tools
        for stop in one.stops:
            assert stop.stop.machine.name in text
            for task in stop.stop.tasks:
                assert task.title[1:] in text
    assert "Caution" in text
    alone = round_paper(farm, moment(None), sheet.rounds[0].day.isoformat())
    assert len(alone.rounds) == 1
    with pytest.raises(NotFound, match="none is planned"):
        round_paper(farm, moment(None), "2020-01-01")
    assert paper_pdf(alone) == paper_pdf(replace(alone)), "the same sheet gives the same bytes"


def test_a_plan_counts_on_the_very_item_that_the_renewal_takes(farm: Store) -> None:
    add_item(farm, "Brass nozzle", ["nozzle:brass"], on_hand=1, at_utc=NOW - timedelta(days=1))
    add_item(farm, "Any nozzle", ["nozzle"], on_hand=9, at_utc=NOW - timedelta(days=1))
    part = next(one for one in fitted_parts(farm, NOW) if one.kind.id == "nozzle")
    supply = Supplies(farm, figures(farm)).for_part(part)
    removal = renew(farm, part.machine.name, "nozzle").removal
    (taken,) = farm.every(Movement, removal_id=removal.id)
    assert supply
    assert supply.item.id == taken.item_id
