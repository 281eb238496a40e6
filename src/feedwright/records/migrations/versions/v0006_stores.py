"""Stores and spools: items with their terms and movements; spools with what happened to them and what runs drew."""

from alembic import op

revision = "0006"
down_revision = "0005"

STATEMENTS = (
    """
    CREATE TABLE items (
        id INTEGER NOT NULL,
        name TEXT NOT NULL,
        fits TEXT NOT NULL,
        added_utc INTEGER NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_items_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_items_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_items_name ON items (name) WHERE void_act_id IS NULL",
    """
    CREATE TABLE item_terms (
        id INTEGER NOT NULL,
        item_id INTEGER NOT NULL,
        from_utc INTEGER NOT NULL,
        pack_count INTEGER NOT NULL,
        pack_price TEXT,
        delivery_price TEXT,
        breaks TEXT NOT NULL,
        currency TEXT NOT NULL,
        lead_days FLOAT,
        supplier TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_item_terms_pack CHECK (pack_count >= 1),
        CONSTRAINT fk_item_terms_item_id FOREIGN KEY(item_id) REFERENCES items (id),
        CONSTRAINT fk_item_terms_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_item_terms_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_item_terms_item ON item_terms (item_id)",
    """
    CREATE TABLE movements (
        id INTEGER NOT NULL,
        item_id INTEGER NOT NULL,
        moved_utc INTEGER NOT NULL,
        kind TEXT NOT NULL,
        count INTEGER NOT NULL,
        order_id INTEGER,
        removal_id INTEGER,
        reason TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_movements_kind CHECK (kind IN ('in', 'used', 'counted', 'ordered', 'arrived', 'cancelled')),
        CONSTRAINT ck_movements_count CHECK (count >= 0),
        CONSTRAINT fk_movements_item_id FOREIGN KEY(item_id) REFERENCES items (id),
        CONSTRAINT fk_movements_order_id FOREIGN KEY(order_id) REFERENCES movements (id),
        CONSTRAINT fk_movements_removal_id FOREIGN KEY(removal_id) REFERENCES removals (id),
        CONSTRAINT fk_movements_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_movements_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_movements_item ON movements (item_id, moved_utc)",
    "CREATE INDEX ix_movements_removal ON movements (removal_id)",
    """
    CREATE TABLE spools (
        id INTEGER NOT NULL,
        material TEXT NOT NULL,
        label TEXT NOT NULL,
        lot TEXT NOT NULL,
        net_g FLOAT NOT NULL,
        tare_g FLOAT,
        price TEXT,
        currency TEXT NOT NULL,
        added_utc INTEGER NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_spools_net CHECK (net_g >= 0),
        CONSTRAINT fk_spools_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_spools_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE TABLE spool_entries (
        id INTEGER NOT NULL,
        spool_id INTEGER NOT NULL,
        at_utc INTEGER NOT NULL,
        kind TEXT NOT NULL,
        machine_id INTEGER,
        left_g FLOAT,
        dry_c FLOAT,
        dry_h FLOAT,
        place TEXT NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_spool_entries_kind CHECK (kind IN ('opened', 'hung', 'shelved', 'dried', 'weighed', 'emptied')),
        CONSTRAINT fk_spool_entries_spool_id FOREIGN KEY(spool_id) REFERENCES spools (id),
        CONSTRAINT fk_spool_entries_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_spool_entries_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_spool_entries_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_spool_entries_spool ON spool_entries (spool_id, at_utc)",
    "CREATE INDEX ix_spool_entries_machine ON spool_entries (machine_id)",
    """
    CREATE TABLE spool_uses (
        id INTEGER NOT NULL,
        spool_id INTEGER NOT NULL,
        run_id INTEGER NOT NULL,
        used_utc INTEGER NOT NULL,
        used_g FLOAT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_spool_uses_used CHECK (used_g >= 0),
        CONSTRAINT fk_spool_uses_spool_id FOREIGN KEY(spool_id) REFERENCES spools (id),
        CONSTRAINT fk_spool_uses_run_id FOREIGN KEY(run_id) REFERENCES runs (id),
        CONSTRAINT fk_spool_uses_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_spool_uses_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_spool_uses_spool ON spool_uses (spool_id)",
    "CREATE UNIQUE INDEX ux_spool_uses_run ON spool_uses (run_id, spool_id) WHERE void_act_id IS NULL",
)

RECORDS = {
    "items": "name, fits, added_utc, note",
    "item_terms": "item_id, from_utc, pack_count, pack_price, delivery_price, breaks, currency, lead_days, supplier",
    "movements": "item_id, moved_utc, kind, count, order_id, removal_id, reason",
    "spools": "material, label, lot, net_g, tare_g, price, currency, added_utc, note",
    "spool_entries": "spool_id, at_utc, kind, machine_id, left_g, dry_c, dry_h, place, note",
    "spool_uses": "spool_id, run_id, used_utc, used_g",
}


def upgrade() -> None:
    for statement in STATEMENTS:
        op.execute(statement)
    for table, columns in RECORDS.items():
        op.execute(
            f"CREATE TRIGGER {table}_stay BEFORE DELETE ON {table} "
            "BEGIN SELECT RAISE(ABORT, 'records are voided, never deleted'); END"
        )
        op.execute(
            f"CREATE TRIGGER {table}_hold BEFORE UPDATE OF id, act_id, {columns} ON {table} "
            "BEGIN SELECT RAISE(ABORT, 'records are voided, never changed'); END"
        )
        op.execute(
            f"CREATE TRIGGER {table}_once BEFORE UPDATE OF void_act_id ON {table} WHEN old.void_act_id IS NOT NULL "
            "BEGIN SELECT RAISE(ABORT, 'this record is void already'); END"
        )


def downgrade() -> None:
    raise NotImplementedError("a farm's records are not taken back to an older schema; restore a backup instead")
