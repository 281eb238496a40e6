"""The tables of the queue, of prints under way, and of forms that were sent."""

from sqlalchemy import CheckConstraint, Float, Index, Integer, Text

from feedwright.records.columns import index_acts, needed, optional, record

queue_entries = record(
    "queue_entries",
    needed("toolpath_id", Integer, "toolpaths.id", "queue_entries"),
    needed("material", Text),
    needed("copies", Integer),
    needed("queued_utc", Integer),
    optional("due_utc", Integer),
    needed("note", Text),
    CheckConstraint("copies >= 1", name="ck_queue_entries_copies"),
)

placements = record(
    "placements",
    needed("queue_entry_id", Integer, "queue_entries.id", "placements"),
    needed("machine_id", Integer, "machines.id", "placements"),
    needed("placed_utc", Integer),
    needed("note", Text),
)

prints = record(
    "prints",
    needed("machine_id", Integer, "machines.id", "prints"),
    needed("started_utc", Integer),
    needed("material", Text),
    optional("toolpath_id", Integer, "toolpaths.id", "prints"),
    optional("hours", Float),
    needed("copies", Integer),
    optional("nozzle_c", Float),
    optional("spool_id", Integer, "spools.id", "prints"),
    optional("queue_entry_id", Integer, "queue_entries.id", "prints"),
    needed("note", Text),
    CheckConstraint("copies >= 1", name="ck_prints_copies"),
)

print_endings = record(
    "print_endings",
    needed("print_id", Integer, "prints.id", "print_endings"),
    needed("run_id", Integer, "runs.id", "print_endings"),
    needed("ended_utc", Integer),
)

run_looks = record(
    "run_looks",
    needed("run_id", Integer, "runs.id", "run_looks"),
    needed("observation", Text),
)

form_keys = record("form_keys", needed("form", Text), needed("entry_key", Text))

RECORDS = (queue_entries, placements, prints, print_endings, run_looks, form_keys)

Index("ux_placements_entry", placements.c.queue_entry_id, unique=True, sqlite_where=placements.c.void_act_id.is_(None))
Index("ix_prints_machine", prints.c.machine_id)
Index("ix_prints_queue_entry", prints.c.queue_entry_id)
Index(
    "ux_print_endings_print", print_endings.c.print_id, unique=True, sqlite_where=print_endings.c.void_act_id.is_(None)
)
Index("ux_print_endings_run", print_endings.c.run_id, unique=True, sqlite_where=print_endings.c.void_act_id.is_(None))
_LIVE_LOOK = run_looks.c.void_act_id.is_(None)
Index("ux_run_looks_run", run_looks.c.run_id, run_looks.c.observation, unique=True, sqlite_where=_LIVE_LOOK)
Index("ux_form_keys_key", form_keys.c.entry_key, unique=True)
for _grown in (prints, print_endings):
    index_acts(_grown)
