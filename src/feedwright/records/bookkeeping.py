"""What is kept of the ways in and out besides records: latest states, notices, secrets; written over as it goes."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy.dialects.sqlite import insert as upsert

from feedwright.records import rows
from feedwright.records.exchange_tables import link_states, notices, secrets
from feedwright.records.exchange_values import LinkState, NoticeLine

Connections = Callable[[], AbstractContextManager[Connection]]


class Bookkeeping:
    """What needs no act, over the connections that a store gives."""

    def __init__(self, reading: Connections, writing: Connections) -> None:
        self._reading = reading
        self._writing = writing

    def states(self) -> dict[str, LinkState]:
        """The latest state of each way, by name."""
        with self._reading() as connection:
            return {
                row.name: LinkState(row.name, rows.time_from_row(row.at_utc), row.value)
                for row in connection.execute(select(link_states))
            }

    def keep_state(self, state: LinkState) -> None:
        """Keep a way's latest state in place of the one before."""
        row = {"at_utc": rows.time_to_row(state.at_utc), "value": state.value}
        statement = upsert(link_states).values(name=state.name, **row)
        with self._writing() as connection:
            connection.execute(statement.on_conflict_do_update(index_elements=["name"], set_=row))

    def secrets(self) -> dict[str, str]:
        """Every secret by name. They leave the farm's folder in no export."""
        with self._reading() as connection:
            return {row.name: row.value for row in connection.execute(select(secrets))}

    def keep_secret(self, name: str, value: str) -> None:
        """Keep a secret in place of the one before; an empty one is forgotten."""
        with self._writing() as connection:
            connection.exec_driver_sql("PRAGMA secure_delete = ON")
            connection.execute(delete(secrets).where(secrets.c.name == name))
            if value:
                connection.execute(insert(secrets).values(name=name, value=value))

    def notices(self, limit: int) -> list[NoticeLine]:
        """Those not cleared and then the latest others, newest first."""
        query = select(notices).order_by(notices.c.cleared_utc.is_not(None), notices.c.id.desc()).limit(limit)
        with self._reading() as connection:
            return [rows.from_row(NoticeLine, row) for row in connection.execute(query).mappings()]

    def open_notices(self) -> list[NoticeLine]:
        """Every notice whose cause lasts, oldest first."""
        query = select(notices).where(notices.c.cleared_utc.is_(None)).order_by(notices.c.id)
        with self._reading() as connection:
            return [rows.from_row(NoticeLine, row) for row in connection.execute(query).mappings()]

    def note_notices(self, arisen: list[NoticeLine], cleared: list[str], at_utc: datetime) -> None:
        """Write down what arose and whose cause is over, in one go; a cause that is open already stays as it is."""
        with self._writing() as connection:
            if cleared:
                over = notices.c.cause.in_(cleared) & notices.c.cleared_utc.is_(None)
                connection.execute(update(notices).where(over).values(cleared_utc=rows.time_to_row(at_utc)))
            for line in arisen:
                connection.execute(upsert(notices).values(**rows.to_row(line)).on_conflict_do_nothing())

    def notice_sent(self, number: int, at_utc: datetime) -> None:
        """Write down that a notice went out."""
        with self._writing() as connection:
            done = update(notices).where(notices.c.id == number).values(sent_utc=rows.time_to_row(at_utc))
            connection.execute(done)
