"""Reads of what came in that the plain ones are too slow for."""

from sqlalchemy import select

from feedwright.records import rows
from feedwright.records.exchange_tables import arrival_answers, arrivals
from feedwright.records.exchange_values import Arrival
from feedwright.records.reads import Reads


def waiting_arrivals(reads: Reads) -> list[Arrival]:
    """Files that came in and that nobody has spoken for, in the order they came."""
    answered = select(arrival_answers.c.arrival_id).where(arrival_answers.c.void_act_id.is_(None))
    query = select(arrivals).where(arrivals.c.void_act_id.is_(None), arrivals.c.id.not_in(answered))
    with reads._reading() as connection:
        found = connection.execute(query.order_by(arrivals.c.id)).mappings()
        return [rows.from_row(Arrival, row) for row in found]
