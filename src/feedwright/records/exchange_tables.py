"""The tables of the ways in and out: files that arrived, hot spells, and what is kept of the ways themselves.

``notices``, ``link_states`` and ``secrets`` are no records: they are written over as things go on, and a secret that
was taken away is gone.
"""

from sqlalchemy import Column, Float, Index, Integer, Table, Text

from feedwright.records.columns import META, needed, one_of, optional, record

arrivals = record(
    "arrivals",
    needed("seen_utc", Integer),
    needed("sha256", Text),
    needed("name", Text),
    needed("bytes_count", Integer),
    optional("toolpath_id", Integer, "toolpaths.id", "arrivals"),
    needed("refused", Text),
)

arrival_answers = record(
    "arrival_answers",
    needed("arrival_id", Integer, "arrivals.id", "arrival_answers"),
    needed("answered_utc", Integer),
    needed("answer", Text),
    one_of("arrival_answers", "answer", "printed", "under_way", "put_aside"),
)

hot_spells = record(
    "hot_spells",
    needed("machine_id", Integer, "machines.id", "hot_spells"),
    needed("begun_utc", Integer),
    needed("ended_utc", Integer),
    needed("from_c", Float),
    needed("target_c", Float),
    needed("highest_c", Float),
    optional("rise_s", Float),
    needed("dip_dk", Float),
    needed("samples", Integer),
    needed("rise", Text),
)

RECORDS = (arrivals, arrival_answers, hot_spells)

notices = Table(
    "notices",
    META,
    Column("id", Integer, primary_key=True),
    needed("cause", Text),
    needed("kind", Text),
    needed("title", Text),
    needed("words", Text),
    needed("arose_utc", Integer),
    optional("sent_utc", Integer),
    optional("cleared_utc", Integer),
)

link_states = Table(
    "link_states",
    META,
    Column("name", Text, primary_key=True, nullable=False),
    needed("at_utc", Integer),
    needed("value", Text),
)

secrets = Table("secrets", META, Column("name", Text, primary_key=True, nullable=False), needed("value", Text))

Index("ux_arrivals_sha256", arrivals.c.sha256, unique=True, sqlite_where=arrivals.c.void_act_id.is_(None))
Index(
    "ux_arrival_answers_arrival",
    arrival_answers.c.arrival_id,
    unique=True,
    sqlite_where=arrival_answers.c.void_act_id.is_(None),
)
Index("ix_hot_spells_machine", hot_spells.c.machine_id, hot_spells.c.begun_utc)
Index("ux_notices_cause", notices.c.cause, unique=True, sqlite_where=notices.c.cleared_utc.is_(None))
