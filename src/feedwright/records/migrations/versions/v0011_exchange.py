"""Ways in and out: files that arrived, hot spells; and what is kept of the ways themselves."""

from alembic import op

revision = "0011"
down_revision = "0010"

STATEMENTS = (
    """
    CREATE TABLE arrivals (
        id INTEGER NOT NULL,
        seen_utc INTEGER NOT NULL,
        sha256 TEXT NOT NULL,
        name TEXT NOT NULL,
        bytes_count INTEGER NOT NULL,
        toolpath_id INTEGER,
        refused TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_arrivals_toolpath_id FOREIGN KEY(toolpath_id) REFERENCES toolpaths (id),
        CONSTRAINT fk_arrivals_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_arrivals_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_arrivals_sha256 ON arrivals (sha256) WHERE void_act_id IS NULL",
    """
    CREATE TABLE arrival_answers (
        id INTEGER NOT NULL,
        arrival_id INTEGER NOT NULL,
        answered_utc INTEGER NOT NULL,
        answer TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_arrival_answers_answer CHECK (answer IN ('printed', 'under_way', 'put_aside')),
        CONSTRAINT fk_arrival_answers_arrival_id FOREIGN KEY(arrival_id) REFERENCES arrivals (id),
        CONSTRAINT fk_arrival_answers_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_arrival_answers_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_arrival_answers_arrival ON arrival_answers (arrival_id) WHERE void_act_id IS NULL",
    """
    CREATE TABLE hot_spells (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        begun_utc INTEGER NOT NULL,
        ended_utc INTEGER NOT NULL,
        from_c FLOAT NOT NULL,
        target_c FLOAT NOT NULL,
        highest_c FLOAT NOT NULL,
        rise_s FLOAT,
        dip_dk FLOAT NOT NULL,
        samples INTEGER NOT NULL,
        rise TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_hot_spells_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_hot_spells_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_hot_spells_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_hot_spells_machine ON hot_spells (machine_id, begun_utc)",
    """
    CREATE TABLE notices (
        id INTEGER NOT NULL,
        cause TEXT NOT NULL,
        kind TEXT NOT NULL,
        title TEXT NOT NULL,
        words TEXT NOT NULL,
        arose_utc INTEGER NOT NULL,
        sent_utc INTEGER,
        cleared_utc INTEGER,
        PRIMARY KEY (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_notices_cause ON notices (cause) WHERE cleared_utc IS NULL",
    """
    CREATE TABLE link_states (
        name TEXT NOT NULL,
        at_utc INTEGER NOT NULL,
        value TEXT NOT NULL,
        PRIMARY KEY (name)
    )
    """,
    """
    CREATE TABLE secrets (
        name TEXT NOT NULL,
        value TEXT NOT NULL,
        PRIMARY KEY (name)
    )
    """,
)

RECORDS = {
    "arrivals": "seen_utc, sha256, name, bytes_count, toolpath_id, refused",
    "arrival_answers": "arrival_id, answered_utc, answer",
    "hot_spells": "machine_id, begun_utc, ended_utc, from_c, target_c, highest_c, rise_s, dip_dk, samples, rise",
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
