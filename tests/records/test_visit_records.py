"""Visits and what belongs to them come back as they were, and what is sent twice is kept once."""

from datetime import UTC, datetime

import pytest

from feedwright.errors import Conflict
from feedwright.records.store import Store
from feedwright.records.values import (
    Machine,
    MachineSetting,
    Measurement,
    Release,
    Visit,
    VisitEnding,
    VisitEntry,
)

AT = datetime(2026, 3, 1, 9, 30, 15, tzinfo=UTC)


@pytest.fixture
def visit(store: Store, machine: Machine) -> Visit:
    with store.act("begin a visit") as act:
        act.add(Visit(machine.id, AT, '["trim_tube"]', "pla"))
    return store.visits(machine.id)[0]


def test_a_visit_and_all_that_hangs_on_it_come_back(store: Store, machine: Machine, visit: Visit) -> None:
    with store.act("visit") as act:
        act.add(VisitEntry(visit.id, AT, "done", "device-1", "trim_tube.cut", '{"trimmed_mm": 20}', "square"))
        act.add(VisitEnding(visit.id, AT, "done"))
        measured = act.add(Measurement(machine.id, AT, "tram", 0.03, "mm", "{}", visit.id))
        act.add(MachineSetting(machine.id, AT, "steps_per_mm", 96.67, "per_mm", "measured", "", measured))
        act.add(Release(machine.id, visit.id, AT, f'{{"tram": {measured}}}'))
    assert [entry.step for entry in store.visit_entries(visit.id)] == ["trim_tube.cut"]
    assert store.visit_endings()[0].outcome == "done"
    assert store.measurements(machine.id)[0].value == 0.03
    assert store.machine_settings(machine.id)[0].measurement_id == measured
    assert store.releases(machine.id)[0].override == ""


def test_the_same_entry_or_a_second_ending_is_refused_by_the_file_itself(store: Store, visit: Visit) -> None:
    with store.act("visit") as act:
        act.add(VisitEntry(visit.id, AT, "done", "device-1", "trim_tube.cut"))
        act.add(VisitEnding(visit.id, AT, "done"))
    with pytest.raises(Conflict), store.act("visit") as act:
        act.add(VisitEntry(visit.id, AT, "done", "device-1", "trim_tube.cut"))
    with pytest.raises(Conflict), store.act("visit") as act:
        act.add(VisitEnding(visit.id, AT, "given_up"))


def test_a_visit_is_not_voided_under_what_rests_on_it(store: Store, machine: Machine, visit: Visit) -> None:
    with store.act("visit") as act:
        act.add(VisitEntry(visit.id, AT, "paused", "device-2"))
    with pytest.raises(Conflict, match="what was entered"), store.act("void", reason="a slip") as act:
        act.void(visit)
