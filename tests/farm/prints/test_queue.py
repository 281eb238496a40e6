"""The queue: in order of what is due, counted by what was begun for it, overruled and taken off."""

from datetime import UTC, datetime, timedelta

import pytest

from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.prints.prints import finish, spoil, start
from feedwright.farm.prints.queue import add_to_queue, place, queue_entry, queue_lines, take_off
from feedwright.farm.prints.undo import undo
from feedwright.records.prints_values import Placement, QueueEntry
from feedwright.records.store import Store

NOW = datetime.now(UTC).replace(microsecond=0)


def test_what_is_due_first_stands_first_and_the_rest_as_it_came(farm: Store) -> None:
    first = add_to_queue(farm, "d20.gcode", material="pla")
    late = add_to_queue(farm, "d20.gcode", material="petg", due_utc=NOW + timedelta(days=9))
    soon = add_to_queue(farm, "d09.gcode.gz", material="pla", due_utc=NOW + timedelta(days=1))
    last = add_to_queue(farm, "d09.gcode.gz", material="pla")
    assert [line.entry.id for line in queue_lines(farm)] == [one.entry.id for one in (soon, late, first, last)]


def test_copies_wait_are_under_way_and_done_as_prints_say(farm: Store) -> None:
    number = add_to_queue(farm, "d20.gcode", material="pla", copies=4).entry.id

    def counted() -> tuple[int, int, int]:
        line = queue_entry(farm, number)
        return line.left, line.under_way, line.done

    start(farm, "Alder", queue_entry=number, copies=3, started_utc=NOW - timedelta(hours=30))
    assert counted() == (1, 3, 0)
    ended = spoil(farm, "Alder", fraction=0.5)
    assert counted() == (3, 0, 1)
    undo(farm, ended.act_id)
    assert counted() == (1, 3, 0)
    finish(farm, "Alder")
    assert counted() == (1, 0, 3)
    start(farm, "Beech", queue_entry=number, started_utc=NOW - timedelta(hours=9))
    finish(farm, "Beech")
    assert queue_lines(farm) == []
    assert [line.entry.id for line in queue_lines(farm, complete=True)] == [number]


def test_sent_twice_it_is_queued_once(farm: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(2):
        line = add_to_queue(farm, "d20.gcode", material="pla", entry_key="q1")
    monkeypatch.setattr("feedwright.farm.prints.queue.act_of_key", lambda store, key: None)
    assert add_to_queue(farm, "d20.gcode", material="pla", entry_key="q1") == line
    assert len(farm.every(QueueEntry)) == 1
    take_off(farm, line.entry.id)
    with pytest.raises(Conflict, match="taken back"):
        add_to_queue(farm, "d20.gcode", material="pla", entry_key="q1")


def test_a_placement_holds_until_another_and_is_on_record_with_who_and_why(farm: Store) -> None:
    number = add_to_queue(farm, "d20.gcode", material="pla").entry.id
    place(farm, number, "Alder", note="the big nozzle", person="Ines")
    moved = place(farm, number, "Beech", person="Tobias")
    assert moved.placed is not None
    assert moved.placed.name == "Beech"
    before = farm.latest_act_id()
    assert place(farm, number, "Beech") == moved
    assert farm.latest_act_id() == before, "nothing changed, so nothing is recorded"
    acts = [act for act in farm.acts(9) if act.kind == "place print"]
    assert [act.reason for act in acts] == ["", "the big nozzle"]
    assert all(act.person_id for act in acts)
    assert place(farm, number, None).placed is None
    assert farm.every(Placement) == []


def test_what_is_taken_off_leaves_what_was_printed_for_it(farm: Store) -> None:
    number = add_to_queue(farm, "d20.gcode", material="pla", copies=2).entry.id
    place(farm, number, "Alder")
    start(farm, "Alder", queue_entry=number, started_utc=NOW - timedelta(hours=9))
    take_off(farm, number, reason="the customer called")
    assert (queue_lines(farm, complete=True), farm.every(Placement)) == ([], [])
    assert finish(farm, "Alder").run is not None
    with pytest.raises(NotFound, match="no such print waits"):
        take_off(farm, number)


@pytest.mark.parametrize(
    ("given", "what"),
    [
        ({"material": "soap"}, "material"),
        ({"copies": 0}, "copies"),
        ({"copies": 5000}, "copies"),
        ({"due_utc": datetime(2026, 1, 1)}, "zone"),  # noqa: DTZ001
        ({"due_utc": NOW + timedelta(days=9999)}, "ten years"),
        ({"due_utc": NOW - timedelta(days=365)}, "a month ago"),
        ({"note": "x" * 5000}, "note"),
    ],
)
def test_what_cannot_wait_is_refused(farm: Store, given: dict[str, object], what: str) -> None:
    with pytest.raises(BadInput, match=what):
        add_to_queue(farm, "d20.gcode", **{"material": "pla", **given})  # type: ignore[arg-type]
    assert farm.every(QueueEntry) == []
