"""What the records keep of who may do what. Apart from devices nothing here is a record of the farm's work: no act."""

from collections.abc import Callable, Collection
from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, insert, select, update
from sqlalchemy.dialects.sqlite import insert as upsert

from feedwright.records import rows
from feedwright.records.access_tables import access_log, act_hands, device_uses, devices, passphrase, sessions
from feedwright.records.access_values import Device, DeviceUse, Hand, LogEntry, Session

Opened = Callable[[], AbstractContextManager[Connection]]


class AccessRecords:
    """The passphrase, sessions, uses of devices and the log, over a store's own connections."""

    def __init__(self, reading: Opened, writing: Opened) -> None:
        self._reading = reading
        self._writing = writing

    def passphrase(self) -> tuple[str, datetime] | None:
        """The hashed passphrase and when it was set; None where there is none."""
        with self._reading() as connection:
            held = connection.execute(select(passphrase.c.secret, passphrase.c.set_utc)).one_or_none()
        return None if held is None else (held.secret, rows.time_from_row(held.set_utc))

    def put_passphrase(self, secret: str, set_utc: datetime) -> None:
        """Keep a hashed passphrase in the place of the one before, which is gone then."""
        held = {"secret": secret, "set_utc": rows.time_to_row(set_utc)}
        with self._writing() as connection:
            statement = upsert(passphrase).values(id=1, **held)
            connection.execute(statement.on_conflict_do_update(index_elements=["id"], set_=held))

    def device_of(self, token_sha256: str) -> Device | None:
        """The device whose token has that hash; None where there is none, or it was revoked."""
        query = select(devices).where(devices.c.token_sha256 == token_sha256, devices.c.void_act_id.is_(None))
        with self._reading() as connection:
            held = connection.execute(query).mappings().one_or_none()
        return None if held is None else rows.from_row(Device, held)

    def device_uses(self) -> dict[int, DeviceUse]:
        """When each device last asked, by device."""
        with self._reading() as connection:
            found = connection.execute(select(device_uses)).mappings()
            return {row["device_id"]: rows.from_row(DeviceUse, row) for row in found}

    def put_device_use(self, use: DeviceUse) -> None:
        """Note that a device asked."""
        held = {"used_utc": rows.time_to_row(use.used_utc), "address": use.address}
        with self._writing() as connection:
            statement = upsert(device_uses).values(device_id=use.device_id, **held)
            connection.execute(statement.on_conflict_do_update(index_elements=["device_id"], set_=held))

    def add_session(self, session: Session) -> int:
        """Open a session; returns its number."""
        with self._writing() as connection:
            return _added(connection, sessions, session)

    def session_of(self, token_sha256: str) -> Session | None:
        """The session whose token has that hash, unless it was ended."""
        query = select(sessions).where(sessions.c.token_sha256 == token_sha256, sessions.c.ended_utc.is_(None))
        with self._reading() as connection:
            held = connection.execute(query).mappings().one_or_none()
        return None if held is None else rows.from_row(Session, held)

    def sessions(self) -> list[Session]:
        """Every session that was not ended, the latest first; some may have lapsed."""
        query = select(sessions).where(sessions.c.ended_utc.is_(None)).order_by(sessions.c.id.desc())
        with self._reading() as connection:
            return [rows.from_row(Session, row) for row in connection.execute(query).mappings()]

    def see_session(self, number: int, seen_utc: datetime) -> None:
        """Note that a session was used."""
        self._change_sessions({"seen_utc": rows.time_to_row(seen_utc)}, sessions.c.id == number)

    def end_sessions(self, ended_utc: datetime, *, only: int | None = None, but: int | None = None) -> int:
        """End one session, or all but one, or all; returns how many were ended."""
        which = [sessions.c.id == only] if only is not None else [sessions.c.id != but] if but is not None else []
        return self._change_sessions({"ended_utc": rows.time_to_row(ended_utc)}, *which)

    def _change_sessions(self, held: dict[str, int], *where: Any) -> int:
        with self._writing() as connection:
            done = connection.execute(update(sessions).where(sessions.c.ended_utc.is_(None), *where).values(**held))
            return done.rowcount

    def log(self, entry: LogEntry) -> None:
        """Write down what happened at the door."""
        with self._writing() as connection:
            _added(connection, access_log, entry)

    def log_entries(self, limit: int) -> list[LogEntry]:
        """What happened at the door, latest first."""
        query = select(access_log).order_by(access_log.c.id.desc()).limit(limit)
        with self._reading() as connection:
            return [rows.from_row(LogEntry, row) for row in connection.execute(query).mappings()]

    def logged(self, kind: str, since_utc: datetime, address: str | None = None) -> list[datetime]:
        """When something of a kind happened since a moment, from one address or from all, in order."""
        at, where = access_log.c.at_utc, [access_log.c.kind == kind]
        if address is not None:
            where.append(access_log.c.address == address)
        query = select(at).where(at > rows.time_to_row(since_utc), *where).order_by(at)
        with self._reading() as connection:
            return [rows.time_from_row(held) for held in connection.execute(query).scalars()]

    def hands(self, act_ids: Collection[int]) -> dict[int, Hand]:
        """Whose hand these acts were, by act; an act done at the machine itself has none."""
        listed = func.json_each(str(list(act_ids))).table_valued("value")  # any number in one parameter
        query = select(act_hands).where(act_hands.c.act_id.in_(select(listed.c.value)))
        with self._reading() as connection:
            return {row.act_id: _hand(row) for row in connection.execute(query)}

    def under_key(self, entry_key: str) -> tuple[int, Hand] | None:
        """The act that was done under an entry key, and by whom; None where none was."""
        with self._reading() as connection:
            row = connection.execute(select(act_hands).where(act_hands.c.entry_key == entry_key)).one_or_none()
        return None if row is None else (row.act_id, _hand(row))


def write_hand(connection: Connection, act_id: int, hand: Hand) -> None:
    """Write whose hand an act is, in the act's own transaction."""
    if hand.session_id is None and hand.device_id is None and not hand.entry_key:
        return
    row = rows.to_row(hand)
    del row["person_id"]  # the act itself carries it
    connection.execute(insert(act_hands).values(act_id=act_id, **row))


def _added(connection: Connection, table: Any, value: Any) -> int:
    done = connection.execute(insert(table).values(**rows.to_row(value)))
    return int(done.inserted_primary_key[0]) if done.inserted_primary_key is not None else 0


def _hand(row: Any) -> Hand:
    return Hand(None, row.session_id, row.device_id, row.entry_key, row.request_sha256)
