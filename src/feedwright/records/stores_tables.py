"""The tables of stores and spools."""

from sqlalchemy import CheckConstraint, Float, Index, Integer, Text

from feedwright.records.columns import index_acts, needed, one_of, optional, record

items = record("items", needed("name", Text), needed("fits", Text), needed("added_utc", Integer), needed("note", Text))

item_terms = record(
    "item_terms",
    needed("item_id", Integer, "items.id", "item_terms"),
    needed("from_utc", Integer),
    needed("pack_count", Integer),
    optional("pack_price", Text),
    optional("delivery_price", Text),
    needed("breaks", Text),
    needed("currency", Text),
    optional("lead_days", Float),
    needed("supplier", Text),
    CheckConstraint("pack_count >= 1", name="ck_item_terms_pack"),
)

movements = record(
    "movements",
    needed("item_id", Integer, "items.id", "movements"),
    needed("moved_utc", Integer),
    needed("kind", Text),
    needed("count", Integer),
    optional("order_id", Integer, "movements.id", "movements"),
    optional("removal_id", Integer, "removals.id", "movements"),
    needed("reason", Text),
    one_of("movements", "kind", "in", "used", "counted", "ordered", "arrived", "cancelled"),
    CheckConstraint("count >= 0", name="ck_movements_count"),
)

spools = record(
    "spools",
    needed("material", Text),
    needed("label", Text),
    needed("lot", Text),
    needed("net_g", Float),
    optional("tare_g", Float),
    optional("price", Text),
    needed("currency", Text),
    needed("added_utc", Integer),
    needed("note", Text),
    CheckConstraint("net_g >= 0", name="ck_spools_net"),
)

spool_entries = record(
    "spool_entries",
    needed("spool_id", Integer, "spools.id", "spool_entries"),
    needed("at_utc", Integer),
    needed("kind", Text),
    optional("machine_id", Integer, "machines.id", "spool_entries"),
    optional("left_g", Float),
    optional("dry_c", Float),
    optional("dry_h", Float),
    needed("place", Text),
    needed("note", Text),
    one_of("spool_entries", "kind", "opened", "hung", "shelved", "dried", "weighed", "emptied"),
)

spool_uses = record(
    "spool_uses",
    needed("spool_id", Integer, "spools.id", "spool_uses"),
    needed("run_id", Integer, "runs.id", "spool_uses"),
    needed("used_utc", Integer),
    needed("used_g", Float),
    CheckConstraint("used_g >= 0", name="ck_spool_uses_used"),
)

RECORDS = (items, item_terms, movements, spools, spool_entries, spool_uses)

Index("ux_items_name", items.c.name, unique=True, sqlite_where=items.c.void_act_id.is_(None))
Index("ix_item_terms_item", item_terms.c.item_id)
Index("ix_movements_item", movements.c.item_id, movements.c.moved_utc)
Index("ix_movements_removal", movements.c.removal_id)
Index("ix_spool_entries_spool", spool_entries.c.spool_id, spool_entries.c.at_utc)
Index("ix_spool_entries_machine", spool_entries.c.machine_id)
Index("ix_spool_uses_spool", spool_uses.c.spool_id)
_LIVE_USE = spool_uses.c.void_act_id.is_(None)
Index("ux_spool_uses_run", spool_uses.c.run_id, spool_uses.c.spool_id, unique=True, sqlite_where=_LIVE_USE)
for _grown in (movements, spool_uses):
    index_acts(_grown)
