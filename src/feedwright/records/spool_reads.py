"""Reads of spools where the whole of their tables would be too much: what is in use, and which run drew from which."""

from collections.abc import Collection
from contextlib import AbstractContextManager
from datetime import datetime

from sqlalchemy import Connection, case, func, or_, select

from feedwright.records import rows, tables
from feedwright.records.stores_tables import spool_entries, spool_uses, spools
from feedwright.records.stores_values import Spool, SpoolEntry
from feedwright.records.values import Run


class SpoolReads:
    """What can be asked of spools, over whatever connection ``_reading`` gives."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def spools_in_use(self, *, empty: bool = False) -> tuple[list[Spool], list[SpoolEntry], dict[int, float]]:
        """Spools that are not used up, or all, with what was done with them.

        And what runs drew from each since it was last weighed or added, in g, by spool.
        """
        entry, use = spool_entries.c, spool_uses.c
        emptied = select(entry.spool_id).where(entry.kind == "emptied", entry.void_act_id.is_(None))
        wanted = select(spools).where(spools.c.void_act_id.is_(None)).order_by(spools.c.id)
        with self._reading() as connection:
            asked = wanted if empty else wanted.where(spools.c.id.not_in(emptied))
            in_use = [rows.from_row(Spool, row) for row in connection.execute(asked).mappings()]
            listed = func.json_each(str([spool.id for spool in in_use])).table_valued("value")
            numbers = select(listed.c.value)  # any number in one parameter
            done = select(spool_entries).where(entry.void_act_id.is_(None), entry.spool_id.in_(numbers))
            weighed = (
                select(entry.spool_id, func.max(entry.at_utc).label("at_utc"))
                .where(entry.kind == "weighed", entry.void_act_id.is_(None), entry.spool_id.in_(numbers))
                .group_by(entry.spool_id)
                .subquery()
            )
            drawn = (
                select(use.spool_id, func.sum(use.used_g))
                .outerjoin(weighed, weighed.c.spool_id == use.spool_id)
                .where(use.void_act_id.is_(None), use.spool_id.in_(numbers))
                .where(or_(weighed.c.at_utc.is_(None), use.used_utc > weighed.c.at_utc))
                .group_by(use.spool_id)
            )
            return (
                in_use,
                [rows.from_row(SpoolEntry, row) for row in connection.execute(done.order_by(entry.id)).mappings()],
                {number: float(used_g) for number, used_g in connection.execute(drawn)},
            )

    def hung_materials(self) -> dict[int, str]:
        """The material of the spool that hangs on each machine, by machine."""
        entry = spool_entries.c
        emptied = select(entry.spool_id).where(entry.kind == "emptied", entry.void_act_id.is_(None))
        newest_first = func.row_number().over(
            partition_by=entry.spool_id, order_by=(entry.at_utc.desc(), entry.id.desc())
        )
        placed = (
            select(entry.spool_id, entry.machine_id, entry.kind, newest_first.label("place"))
            .where(entry.void_act_id.is_(None), entry.kind.in_(("hung", "shelved")), entry.spool_id.not_in(emptied))
            .subquery()
        )
        query = (
            select(placed.c.machine_id, spools.c.material)
            .join(spools, spools.c.id == placed.c.spool_id)
            .where(placed.c.place == 1, placed.c.kind == "hung", spools.c.void_act_id.is_(None))
        )
        with self._reading() as connection:
            return {row.machine_id: row.material for row in connection.execute(query)}

    def places_of_spools(self) -> list[str]:
        """Every place that a spool was ever put."""
        entry = spool_entries.c
        query = select(entry.place).where(entry.void_act_id.is_(None), entry.place != "").distinct()
        with self._reading() as connection:
            return list(connection.scalars(query))

    def spool_tallies(self, also_wrong: Collection[int]) -> list[tuple[int, int, int, int]]:
        """Spool, machine, how many runs of it drew from the spool, and how many of them went wrong.

        Wrong are those that were spoiled, and those of ``also_wrong``.
        """
        run = tables.runs.c
        blamed = func.json_each(str(list(also_wrong))).table_valued("value")
        wrong = case((or_(run.outcome == "spoiled", run.id.in_(select(blamed.c.value))), 1), else_=0)
        query = (
            select(spool_uses.c.spool_id, run.machine_id, func.count(), func.sum(wrong))
            .join(spool_uses, spool_uses.c.run_id == run.id)
            .where(run.void_act_id.is_(None), spool_uses.c.void_act_id.is_(None))
            .group_by(spool_uses.c.spool_id, run.machine_id)
        )
        with self._reading() as connection:
            return [(spool, machine, many, bad) for spool, machine, many, bad in connection.execute(query)]

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
