"""A visit counts what was done once, whoever sends it, and writes all of it or nothing."""

import json
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest

from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.ground.house import open_farm
from feedwright.farm.parts.renewals import tube_left_mm
from feedwright.farm.prints.runs import add_run
from feedwright.farm.prints.voids import void
from feedwright.farm.service.releases import add_proof, held_machines, proofs_of, release
from feedwright.farm.service.service_visits import (
    VisitSheet,
    begin_visit,
    end_visit,
    enter,
    open_visit,
    take_back,
    visit_sheet,
)
from feedwright.farm.service.visit_plan import due_procedures
from feedwright.records.store import Store

AT = datetime(2026, 4, 1, 9, tzinfo=UTC)
JOBS = ["trim_tube", "renew_nozzle"]
VALUES = {
    "trim_tube.look": {"grade": "ring"},
    "trim_tube.cut": {"trimmed_mm": 15},
    "renew_nozzle.look": {"grade": "worn"},
    "renew_nozzle.screw_in": {"product": "hardened_steel"},
    "tram_bed.read": {"value": 0.04},
    "first_layer.print": {"value": 1},
}


def begun(farm: Store) -> VisitSheet:
    return visit_sheet(farm, begin_visit(farm, "Alder", JOBS, material="pla", begun_utc=AT).id)


def do(farm: Store, sheet: VisitSheet, count: int = 999, device: str = "phone") -> None:
    for number, screen in enumerate(sheet.left[:count]):
        step = screen.step.id
        enter(
            farm, sheet.visit.id, step, entry_key=f"{device} {step}", value=VALUES.get(step), cautions_read=True,
            entered_utc=AT + timedelta(minutes=screen.number + number), person="Ines",
        )  # fmt: skip


def test_a_whole_visit_renews_records_measures_and_is_released(farm: Store) -> None:
    sheet = begun(farm)
    assert sheet.merged.heat_ups == 1
    assert [one.id for one in sheet.merged.procedures] == [*JOBS, "tram_bed", "first_layer"]
    do(farm, sheet)
    receipt = end_visit(farm, sheet.visit.id)
    assert receipt.renewed == ("Tube end", "Nozzle")
    assert (receipt.found, receipt.measured) == (2, 2)
    fitted = {one.part_kind: one for one in farm.fittings(sheet.machine.id, open_only=True)}
    assert fitted["nozzle"].product == "hardened_steel"
    assert fitted["nozzle"].fitted_utc > AT
    assert tube_left_mm(farm, sheet.machine) == 405.0
    old = next(one for one in farm.fittings(sheet.machine.id) if one.part_kind == "nozzle")
    assert [one.grade for one in farm.findings([old.id])] == ["worn"]
    assert len({one.act_id for one in farm.removals(sheet.machine.id)} | {receipt.ending.act_id}) == 1
    assert [held.machine.name for held in held_machines(farm)] == ["Alder"]
    made = release(farm, sheet.visit.id)
    assert set(json.loads(made.proofs)) == {"tram", "first_layer"}
    assert held_machines(farm) == []
    assert release(farm, sheet.visit.id) == made


def test_a_step_sent_twice_or_from_two_devices_counts_once(farm: Store) -> None:
    sheet = begun(farm)
    step = sheet.screens[0].step.id
    first = enter(farm, sheet.visit.id, step, entry_key="phone 1", cautions_read=True)
    again = enter(farm, sheet.visit.id, step, entry_key="phone 1", cautions_read=True)
    other = enter(farm, sheet.visit.id, step, entry_key="tablet 7", cautions_read=True)
    assert first == again == other
    assert [one.kind for one in farm.visit_entries(sheet.visit.id)] == ["cautions", "done"]


def test_a_visit_is_paused_on_one_device_and_goes_on_on_another(farm: Store) -> None:
    sheet = begun(farm)
    do(farm, sheet, 3)
    enter(farm, sheet.visit.id, "", entry_key="p", kind="paused")
    assert visit_sheet(farm, sheet.visit.id).paused
    enter(farm, sheet.visit.id, "", entry_key="r", kind="resumed")
    on = visit_sheet(farm, sheet.visit.id)
    assert not on.paused
    assert len(on.left) == len(sheet.screens) - 3
    do(farm, on, device="tablet")
    assert end_visit(farm, sheet.visit.id).ending.outcome == "done"


def test_cautions_are_acknowledged_before_a_step_counts(farm: Store) -> None:
    sheet = begun(farm)
    hot = sheet.screens[0].step
    assert hot.cautions
    with pytest.raises(Conflict, match="not acknowledged"):
        enter(farm, sheet.visit.id, hot.id, entry_key="1")
    enter(farm, sheet.visit.id, hot.id, entry_key="2", kind="cautions")
    assert enter(farm, sheet.visit.id, hot.id, entry_key="3").kind == "done"


@pytest.mark.parametrize(
    ("step", "value", "words"),
    [
        ("trim_tube.look", {"grade": "mouldy"}, "expected a grade"),
        ("trim_tube.look", {}, "say what you saw"),
        ("trim_tube.cut", {"trimmed_mm": 0.06}, "0.5 to 500"),
        ("trim_tube.cut", {"trimmed_mm": "much"}, "expected a number"),
        ("renew_nozzle.screw_in", {"product": "cheese"}, "no such product"),
        ("renew_nozzle.screw_in", {"length_mm": 5}, "has no length"),
        ("tram_bed.read", {}, "expected a reading"),
        ("tram_bed.read", {"value": 40}, "0 to 3"),
        ("first_layer.print", {"value": 9}, "0 to 1"),
        ("first_layer.print", {"colour": 1}, "leave it out"),
    ],
)
def test_a_recording_that_cannot_be_is_refused_and_nothing_kept(
    farm: Store, step: str, value: dict[str, object], words: str
) -> None:
    sheet = begun(farm)
    with pytest.raises(BadInput, match=words):
        enter(farm, sheet.visit.id, step, entry_key="1", value=value, cautions_read=True)
    assert farm.visit_entries(sheet.visit.id) == []


def test_ending_writes_all_or_nothing(farm: Store) -> None:
    """More trimmed than the tube is long is known only when the visit ends: then no record is touched."""
    sheet = begun(farm)
    VALUES_TOO_LONG = {**VALUES, "trim_tube.cut": {"trimmed_mm": 450}}  # noqa: N806
    for screen in sheet.screens:
        value = VALUES_TOO_LONG.get(screen.step.id)
        enter(
            farm, sheet.visit.id, screen.step.id, entry_key=screen.step.id, value=value, cautions_read=True,
            entered_utc=AT + timedelta(minutes=screen.number),
        )  # fmt: skip
    before = farm.counts()
    with pytest.raises(BadInput, match="guide tube is 420 mm long"):
        end_visit(farm, sheet.visit.id)
    assert farm.counts() == before
    take_back(farm, sheet.visit.id, "trim_tube.cut")
    enter(
        farm, sheet.visit.id, "trim_tube.cut", entry_key="anew", value={"trimmed_mm": 45}, cautions_read=True,
        entered_utc=AT + timedelta(minutes=9),
    )  # fmt: skip
    assert "Tube end" in end_visit(farm, sheet.visit.id).renewed


def test_what_is_left_must_be_done_skipped_or_given_up(farm: Store) -> None:
    sheet = begun(farm)
    do(farm, sheet, 5)
    with pytest.raises(Conflict, match="steps are left"):
        end_visit(farm, sheet.visit.id)
    receipt = end_visit(farm, sheet.visit.id, outcome="given_up", note="called away")
    assert receipt.ending.outcome == "given_up"
    assert end_visit(farm, sheet.visit.id).ending == receipt.ending
    with pytest.raises(Conflict, match="it is ended"):
        enter(farm, sheet.visit.id, sheet.screens[-1].step.id, entry_key="late", value={"value": 1}, cautions_read=True)


def test_a_held_machine_is_released_by_proof_or_with_a_reason_alone(farm: Store) -> None:
    sheet = begun(farm)
    do(farm, sheet, len(sheet.screens) - 1)
    with pytest.raises(Conflict, match="the visit is not ended"):
        release(farm, sheet.visit.id)
    last = sheet.screens[-1].step.id
    enter(farm, sheet.visit.id, last, entry_key="l", value={"value": 5 / 9}, cautions_read=True)
    end_visit(farm, sheet.visit.id)
    with pytest.raises(Conflict, match=r"read 0\.555556, wanted 0\.99 to 1"):
        release(farm, sheet.visit.id)
    assert "is held by visit" in " ".join(add_run(farm, "Alder", material="pla", hours=1).remarks)
    add_proof(farm, "Alder", "first_layer", 1.0)
    assert all(state.good for state in proofs_of(farm, sheet.visit))
    assert release(farm, sheet.visit.id).override == ""
    assert "is held" not in " ".join(add_run(farm, "Alder", material="pla", hours=1).remarks)


def test_an_override_keeps_its_reason(farm: Store) -> None:
    sheet = begun(farm)
    end_visit(farm, sheet.visit.id, outcome="given_up")
    made = release(farm, sheet.visit.id, override="goes to the workshop for drafts only", person="Tobias")
    assert made.override.startswith("goes to")
    assert farm.acts(1)[0].reason == made.override


def test_one_machine_has_one_visit_at_a_time(farm: Store) -> None:
    sheet = begun(farm)
    with pytest.raises(Conflict, match="not ended yet"):
        begin_visit(farm, "Alder", ["clean_bed"])
    end_visit(farm, sheet.visit.id, outcome="given_up")
    assert open_visit(farm, sheet.machine) is None
    assert begin_visit(farm, "Alder", ["clean_bed"]).id == sheet.visit.id + 1


@pytest.mark.parametrize(
    ("machine", "jobs", "error", "words"),
    [
        ("Beech", ["renew_tube"], BadInput, "does not suit"),
        ("Alder", ["renew_bearings"], NotFound, "no such part is fitted"),
        ("Alder", [], BadInput, "at least one"),
        ("Alder", ["polish"], BadInput, "no such procedure"),
        ("Nobody", ["clean_bed"], NotFound, "no machine"),
    ],
)
def test_a_visit_that_cannot_be_is_refused(
    farm: Store, machine: str, jobs: list[str], error: type[Exception], words: str
) -> None:
    before = farm.counts()
    with pytest.raises(error, match=words):
        begin_visit(farm, machine, jobs)
    assert farm.counts() == before


def test_what_is_due_becomes_the_visit(farm: Store) -> None:
    from feedwright.farm.machines.machines import machine_named
    from feedwright.farm.prints.runs import add_run

    for day in range(40):
        add_run(farm, "Alder", material="pla", hours=20, nozzle_c=240, started_utc=AT + timedelta(days=day))
    ids = due_procedures(farm, machine_named(farm, "Alder"), AT + timedelta(days=41))
    assert "trim_tube" in ids
    assert begin_visit(farm, "Alder", ids).id


def test_an_unknown_visit_or_step_is_refused(farm: Store) -> None:
    sheet = begun(farm)
    with pytest.raises(NotFound, match="no such visit"):
        visit_sheet(farm, 99)
    with pytest.raises(NotFound, match="no such step"):
        enter(farm, sheet.visit.id, "sing", entry_key="1", cautions_read=True)


def test_one_renewal_of_a_visit_is_voided_by_itself(farm: Store) -> None:
    sheet = begun(farm)
    do(farm, sheet)
    end_visit(farm, sheet.visit.id)
    nozzle = next(one for one in farm.fittings(sheet.machine.id) if one.part_kind == "nozzle")
    removal = next(one for one in farm.removals(sheet.machine.id) if one.fitting_id == nozzle.id)
    void(farm, "renewal", removal.id, "the old nozzle went back in")
    fitted = {one.part_kind: one for one in farm.fittings(sheet.machine.id, open_only=True)}
    assert fitted["nozzle"].id == nozzle.id
    assert [one.trimmed_mm for one in farm.removals(sheet.machine.id)] == [15.0]
    assert [one.grade for one in farm.findings([nozzle.id])] == ["worn"], "what was seen was seen"


def test_a_visit_is_voided_with_its_entries_and_readings(farm: Store) -> None:
    sheet = begun(farm)
    do(farm, sheet)
    end_visit(farm, sheet.visit.id)
    release(farm, sheet.visit.id)
    void(farm, "visit", sheet.visit.id, "wrong machine")
    assert farm.visits() == farm.measurements() == farm.releases() == farm.visit_endings() == []
    assert len(farm.removals(sheet.machine.id)) == 2
    assert held_machines(farm) == []


def test_two_devices_sending_at_once_write_a_step_once(farm: Store) -> None:
    sheet = begun(farm)
    step = sheet.screens[0].step.id

    def send(device: int) -> int:
        with open_farm(farm.folder) as store:
            return enter(store, sheet.visit.id, step, entry_key=f"device {device}", cautions_read=True).id

    with ThreadPoolExecutor(6) as pool:
        numbers = set(pool.map(send, range(12)))
    assert len(numbers) == 1
    assert [one.kind for one in farm.visit_entries(sheet.visit.id)] == ["cautions", "done"]
