"""Who may do what comes back as it was written; secrets are replaced, the log and whose hand an act was stay."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import create_engine

from feedwright.errors import Conflict
from feedwright.records import engine as engine_room
from feedwright.records.access_values import Device, DeviceUse, Hand, LogEntry, Session
from feedwright.records.engine import FILE_NAME, migrate
from feedwright.records.store import Store, open_store
from feedwright.records.values import Person

AT = datetime(2026, 3, 1, 9, 30, 15, tzinfo=UTC)


@pytest.fixture
def device(store: Store) -> Device:
    with store.act("add device") as act:
        act.add(Device("Shelf phone", "read record", "a" * 64, AT))
    return store.every(Device)[0]


@pytest.fixture
def session(store: Store) -> Session:
    held = Session("b" * 64, None, "a browser", "192.0.2.7", AT, AT)
    return replace(held, id=store.access.add_session(held))


def test_a_passphrase_that_was_replaced_is_gone(store: Store) -> None:
    assert store.access.passphrase() is None
    store.access.put_passphrase("first", AT)
    store.access.put_passphrase("second", AT)
    assert store.access.passphrase() == ("second", AT)
    with closing(sqlite3.connect(store.folder / FILE_NAME)) as connection:
        assert connection.execute("SELECT count(*) FROM passphrase").fetchone() == (1,)


def test_a_device_is_found_by_its_token_until_it_is_revoked(store: Store, device: Device) -> None:
    assert store.access.device_of("a" * 64) == device
    assert store.access.device_of("c" * 64) is None
    store.access.put_device_use(DeviceUse(device.id, AT, "192.0.2.7"))
    store.access.put_device_use(DeviceUse(device.id, AT + timedelta(hours=1), "192.0.2.8"))
    assert store.access.device_uses() == {device.id: DeviceUse(device.id, AT + timedelta(hours=1), "192.0.2.8")}
    with store.act("void", reason="lost") as act:
        act.void(device)
    assert store.access.device_of("a" * 64) is None


def test_a_session_is_seen_and_ended_once(store: Store, session: Session) -> None:
    other = store.access.add_session(replace(session, token_sha256="d" * 64, id=0))
    store.access.see_session(session.id, AT + timedelta(minutes=5))
    assert store.access.session_of("b" * 64) == replace(session, seen_utc=AT + timedelta(minutes=5))
    assert store.access.end_sessions(AT, but=other) == 1
    assert store.access.session_of("b" * 64) is None
    assert [one.id for one in store.access.sessions()] == [other]
    assert store.access.end_sessions(AT, only=other) == 1
    assert store.access.end_sessions(AT) == 0


def test_the_log_is_read_back_and_counted_by_address(store: Store, session: Session) -> None:
    for minute, address in enumerate(("192.0.2.7", "192.0.2.7", "192.0.2.8")):
        store.access.log(LogEntry(AT + timedelta(minutes=minute), "sign_in_failed", address))
    store.access.log(LogEntry(AT, "signed_in", "192.0.2.7", session_id=session.id))
    assert len(store.access.logged("sign_in_failed", AT - timedelta(1))) == 3
    assert store.access.logged("sign_in_failed", AT, "192.0.2.7") == [AT + timedelta(minutes=1)]
    assert store.access.log_entries(1)[0].session_id == session.id


def test_an_act_carries_its_hand_and_an_entry_key_marks_one_act_alone(store: Store, device: Device) -> None:
    with store.act("add person") as act:
        ada = act.add(Person("Ada"))
    store.hand = Hand(ada, None, device.id, "device-1:k", "e" * 64)
    with store.act("add person") as act:
        act.add(Person("Grace"))
    assert store.hand.entry_key == ""
    with store.act("add person") as second:
        second.add(Person("Edith"))
    assert store.acts(1)[0].person_id == ada
    assert store.access.hands([act.id, second.id]) == {
        act.id: Hand(None, None, device.id, "device-1:k", "e" * 64),
        second.id: Hand(None, None, device.id),
    }
    assert store.access.under_key("device-1:k") == (act.id, Hand(None, None, device.id, "device-1:k", "e" * 64))
    assert store.access.under_key("device-1:other") is None
    store.hand = Hand(entry_key="device-1:k")
    with pytest.raises(Conflict), store.act("add person") as third:
        third.add(Person("Mallory"))
    assert "Mallory" not in [one.name for one in store.people()]


def test_a_refused_act_gives_its_entry_key_back(store: Store) -> None:
    store.hand = Hand(entry_key="here:k")
    with pytest.raises(Conflict), store.act("add person"):
        raise Conflict("name", expected="known")
    assert store.access.under_key("here:k") is None
    with store.act("add person") as act:
        act.add(Person("Ada"))
    assert store.access.under_key("here:k") is not None


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM access_log",
        "UPDATE access_log SET address = ''",
        "DELETE FROM act_hands",
        "UPDATE act_hands SET entry_key = ''",
        "DELETE FROM devices",
        "UPDATE devices SET scopes = 'manage'",
        "DELETE FROM sessions",
        "UPDATE sessions SET ended_utc = NULL",
    ],
)
def test_the_file_itself_refuses_to_forget(store: Store, device: Device, session: Session, statement: str) -> None:
    store.access.log(LogEntry(AT, "signed_in"))
    store.hand = Hand(None, session.id, device.id)
    with store.act("add person") as act:
        act.add(Person("Ada"))
    store.access.end_sessions(AT)
    with closing(sqlite3.connect(store.folder / FILE_NAME)) as connection, pytest.raises(sqlite3.IntegrityError):
        connection.execute(statement)


@pytest.fixture
def older(folder: Path) -> Path:
    """A farm with a person on record, as the version before this one left it."""
    folder.mkdir()
    engine = create_engine(f"sqlite:///{folder / FILE_NAME}")
    engine_room.event.listen(engine, "connect", engine_room._on_connect)
    engine_room.event.listen(engine, "begin", engine_room._on_begin)
    migrate(engine, "0007")
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        connection.exec_driver_sql("INSERT INTO acts VALUES (1, 'add person', 0, NULL, '')")
        connection.exec_driver_sql("INSERT INTO people VALUES (1, 'Ada', 1, NULL)")
    engine.dispose()
    return folder


def test_a_farm_of_the_version_before_takes_on_access_and_keeps_its_records(older: Path) -> None:
    with open_store(older) as store:
        assert [one.name for one in store.people()] == ["Ada"]
        assert store.access.passphrase() is None
        assert store.access.hands([1]) == {}
