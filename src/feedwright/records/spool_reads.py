"""Reads of spools where the whole of their tables would be too much: what is in use, and which run drew from which."""

from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table, select

from feedwright.records import rows, tables
from feedwright.records.stores_tables import spool_entries, spool_uses, spools
from feedwright.records.stores_values import Spool, SpoolEntry, SpoolUse
from feedwright.records.values import Run


class SpoolReads:
    """What can be asked of spools, over whatever connection ``_reading`` gives."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def spools_in_use(self) -> tuple[list[Spool], list[SpoolEntry], list[SpoolUse]]:
        """Spools that are not used up, what was done with them, and what runs drew from them."""
        emptied = select(spool_entries.c.spool_id).where(
            spool_entries.c.kind == "emptied", spool_entries.c.void_act_id.is_(None)
        )
        with self._reading() as connection:

            def left(table: Table, key: Any, kind: Any) -> list[Any]:
                query = select(table).where(table.c.void_act_id.is_(None), key.not_in(emptied)).order_by(table.c.id)
                return [rows.from_row(kind, row) for row in connection.execute(query).mappings()]

            return (
                left(spools, spools.c.id, Spool),
                left(spool_entries, spool_entries.c.spool_id, SpoolEntry),
                left(spool_uses, spool_uses.c.spool_id, SpoolUse),
            )

    def spooled_runs(self) -> list[tuple[int, Run]]:
        """Runs that were drawn from a spool, each with the spool's number."""
        query = (
            select(tables.runs, spool_uses.c.spool_id.label("drawn_from"))
            .join(spool_uses, spool_uses.c.run_id == tables.runs.c.id)
            .where(tables.runs.c.void_act_id.is_(None), spool_uses.c.void_act_id.is_(None))
            .order_by(tables.runs.c.id)
        )
        with self._reading() as connection:
            return [(row["drawn_from"], rows.from_row(Run, row)) for row in connection.execute(query).mappings()]

    def run_before(self, machine_id: int, at_utc: datetime) -> Run | None:
        """The latest run of a machine that had begun at a moment."""
        run = tables.runs.c
        query = (
            select(tables.runs)
            .where(run.machine_id == machine_id, run.started_utc <= rows.time_to_row(at_utc), run.void_act_id.is_(None))
            .order_by(run.started_utc.desc(), run.id.desc())
            .limit(1)
        )
        with self._reading() as connection:
            return next((rows.from_row(Run, row) for row in connection.execute(query).mappings()), None)
