"""What came in comes back as it was; what is kept of the ways is written over; migration 0011 on data."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import create_engine

from feedwright.errors import Conflict
from feedwright.records import engine as engine_room
from feedwright.records.engine import FILE_NAME, migrate
from feedwright.records.exchange_values import Arrival, ArrivalAnswer, HotSpell, LinkState, NoticeLine
from feedwright.records.store import Store, open_store
from feedwright.records.values import Machine

AT = datetime(2026, 3, 1, 9, 30, 15, tzinfo=UTC)


def test_a_file_is_known_by_its_content_and_answered_once(store: Store) -> None:
    with store.act("arrival") as act:
        number = act.add(Arrival(AT, "a" * 64, "clip.gcode", 1200, refused="it is a mesh"))
        act.add(ArrivalAnswer(number, AT, "put_aside"))
    (arrival,) = store.every(Arrival)
    assert (arrival.name, arrival.toolpath_id, arrival.refused) == ("clip.gcode", None, "it is a mesh")
    with pytest.raises(Conflict), store.act("arrival") as act:
        act.add(Arrival(AT, "a" * 64, "again.gcode", 1200))
    with pytest.raises(Conflict), store.act("answer") as act:
        act.add(ArrivalAnswer(number, AT, "printed"))
    with pytest.raises(Conflict, match="what was said of it"), store.act("void", reason="a slip") as act:
        act.void(arrival)


def test_a_hot_spell_comes_back_and_holds_its_machine(store: Store, machine: Machine) -> None:
    spell = HotSpell(machine.id, AT, AT + timedelta(hours=2), 22.0, 215.0, 217.5, 141.0, 3.5, 7200, "[[0.0, 22.0]]")
    with store.act("hot spell") as act:
        act.add(spell)
    (held,) = store.every(HotSpell, machine_id=machine.id)
    assert (held.highest_c, held.rise_s, held.ended_utc) == (217.5, 141.0, AT + timedelta(hours=2))
    with pytest.raises(Conflict, match="hot spells"), store.act("void", reason="a slip") as act:
        act.void(machine)


def test_a_state_and_a_secret_are_written_over(store: Store, folder: Path) -> None:
    for number in (1, 2):
        store.ways.keep_state(LinkState("watch", AT, f'{{"n": {number}}}'))
        store.ways.keep_secret("broker", f"tall-ash-{number}")
    assert store.ways.states()["watch"].value == '{"n": 2}'
    assert store.ways.secrets() == {"broker": "tall-ash-2"}
    store.ways.keep_secret("broker", "")
    assert store.ways.secrets() == {}
    store.close()
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert b"tall-ash" not in (folder / FILE_NAME).read_bytes(), "what was taken away is gone from the file"


def test_a_cause_is_open_once_until_it_clears(store: Store) -> None:
    notice = NoticeLine("fan:1", "fan", "Sink fan of Alder", "It stands.", AT)
    store.ways.note_notices([notice, notice], [], AT)
    (held,) = store.ways.open_notices()
    store.ways.notice_sent(held.id, AT)
    store.ways.note_notices([notice], [], AT)
    assert [one.sent_utc for one in store.ways.open_notices()] == [AT]
    store.ways.note_notices([], ["fan:1"], AT)
    assert store.ways.open_notices() == []
    store.ways.note_notices([notice], [], AT)
    assert [one.cleared_utc for one in store.ways.notices(10)] == [None, AT]


def test_the_step_to_0011_leaves_what_was_on_record(folder: Path) -> None:
    folder.mkdir()
    path = folder / FILE_NAME
    engine = create_engine(f"sqlite:///{path}")
    engine_room.event.listen(engine, "connect", engine_room._on_connect)
    engine_room.event.listen(engine, "begin", engine_room._on_begin)
    migrate(engine, "0010")
    engine.dispose()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("INSERT INTO acts (kind, at_utc, reason) VALUES ('add toolpath', 1, '')")
        connection.execute(
            "INSERT INTO toolpaths (sha256, name, bytes_count, kind, complete, read_utc, act_id) "
            "VALUES ('ab', 'clip.gcode', 9, 'filament toolpath', 1, 1, 1)"
        )
        connection.commit()
    with open_store(folder) as store:
        (known,) = store.toolpaths()
        with store.act("arrival") as act:
            act.add(Arrival(AT, "ab", known.name, known.bytes_count, known.id))
        assert [one.toolpath_id for one in store.every(Arrival)] == [known.id]
    with closing(sqlite3.connect(path)) as connection, pytest.raises(sqlite3.IntegrityError, match="never deleted"):
        connection.execute("DELETE FROM arrivals")
