"""Reads of the stores where the whole of their movements would be too much: what they add up to."""

from contextlib import AbstractContextManager
from typing import Any

from sqlalchemy import Connection, and_, case, func, or_, select

from feedwright.records import rows
from feedwright.records.stores_tables import movements
from feedwright.records.stores_values import Movement


class StoresReads:
    """What can be asked of the stores, over whatever connection ``_reading`` gives."""

    def _reading(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def movements_mark(self) -> tuple[int | None, ...]:
        """Changes with every movement that is recorded or voided, and with a farm made anew in the same folder."""
        move = movements.c
        query = select(func.max(move.id), func.max(move.void_act_id), func.max(move.moved_utc))
        with self._reading() as connection:
            return tuple(connection.execute(query).one())

    def movements_that_tell(self) -> list[Movement]:
        """Each item's latest count, the orders that are not closed by their number, and what closed a part of them."""
        move, live = movements.c, movements.c.void_act_id.is_(None)
        place = func.row_number().over(partition_by=move.item_id, order_by=(move.moved_utc.desc(), move.id.desc()))
        counted = select(move.id, place.label("place")).where(live, move.kind == "counted").subquery()
        closing = (
            select(move.order_id, func.sum(move.count).label("closed"))
            .where(live, move.kind.in_(("arrived", "cancelled")), move.order_id.is_not(None))
            .group_by(move.order_id)
            .subquery()
        )
        still = (
            select(move.id)
            .outerjoin(closing, closing.c.order_id == move.id)
            .where(live, move.kind == "ordered", move.count > func.coalesce(closing.c.closed, 0))
        )
        wanted = or_(
            move.id.in_(select(counted.c.id).where(counted.c.place == 1)),
            move.id.in_(still),
            and_(move.order_id.in_(still), move.kind.in_(("arrived", "cancelled"))),
        )
        query = select(movements).where(live, wanted).order_by(move.id)
        with self._reading() as connection:
            return [rows.from_row(Movement, row) for row in connection.execute(query).mappings()]

    def moved_since_count(self) -> dict[int, int]:
        """Pieces that came less those that went since each item was last counted, by item."""
        move, live = movements.c, movements.c.void_act_id.is_(None)
        latest = (
            select(
                move.item_id,
                move.moved_utc,
                move.id,
                func.row_number()
                .over(partition_by=move.item_id, order_by=(move.moved_utc.desc(), move.id.desc()))
                .label("place"),
            )
            .where(live, move.kind == "counted")
            .subquery()
        )
        pieces: Any = case((move.kind.in_(("in", "arrived")), move.count), (move.kind == "used", -move.count), else_=0)
        since = or_(
            latest.c.moved_utc.is_(None),
            move.moved_utc > latest.c.moved_utc,
            and_(move.moved_utc == latest.c.moved_utc, move.id > latest.c.id),
        )
        query = (
            select(move.item_id, func.sum(pieces))
            .outerjoin(latest, and_(latest.c.item_id == move.item_id, latest.c.place == 1))
            .where(live, since)
            .group_by(move.item_id)
        )
        with self._reading() as connection:
            return {item: int(many) for item, many in connection.execute(query)}
