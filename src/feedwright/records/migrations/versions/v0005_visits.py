"""Visits with what was entered at them, measurements, working values of machines, and releases."""

from alembic import op

revision = "0005"
down_revision = "0004"

STATEMENTS = (
    """
    CREATE TABLE visits (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        begun_utc INTEGER NOT NULL,
        procedures TEXT NOT NULL,
        material TEXT NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_visits_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_visits_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_visits_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_visits_machine ON visits (machine_id)",
    """
    CREATE TABLE visit_entries (
        id INTEGER NOT NULL,
        visit_id INTEGER NOT NULL,
        entered_utc INTEGER NOT NULL,
        kind TEXT NOT NULL,
        entry_key TEXT NOT NULL,
        step TEXT NOT NULL,
        value TEXT NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_visit_entries_kind CHECK (kind IN ('cautions', 'done', 'skipped', 'paused', 'resumed')),
        CONSTRAINT fk_visit_entries_visit_id FOREIGN KEY(visit_id) REFERENCES visits (id),
        CONSTRAINT fk_visit_entries_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_visit_entries_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_visit_entries_visit ON visit_entries (visit_id)",
    "CREATE UNIQUE INDEX ux_visit_entries_key ON visit_entries (visit_id, entry_key) WHERE void_act_id IS NULL",
    """
    CREATE TABLE visit_endings (
        id INTEGER NOT NULL,
        visit_id INTEGER NOT NULL,
        ended_utc INTEGER NOT NULL,
        outcome TEXT NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_visit_endings_outcome CHECK (outcome IN ('done', 'given_up')),
        CONSTRAINT fk_visit_endings_visit_id FOREIGN KEY(visit_id) REFERENCES visits (id),
        CONSTRAINT fk_visit_endings_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_visit_endings_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_visit_endings_visit ON visit_endings (visit_id) WHERE void_act_id IS NULL",
    """
    CREATE TABLE measurements (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        measured_utc INTEGER NOT NULL,
        kind TEXT NOT NULL,
        value FLOAT NOT NULL,
        unit TEXT NOT NULL,
        detail TEXT NOT NULL,
        visit_id INTEGER,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_measurements_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_measurements_visit_id FOREIGN KEY(visit_id) REFERENCES visits (id),
        CONSTRAINT fk_measurements_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_measurements_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_measurements_machine ON measurements (machine_id, kind)",
    """
    CREATE TABLE machine_settings (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        set_utc INTEGER NOT NULL,
        name TEXT NOT NULL,
        value FLOAT NOT NULL,
        unit TEXT NOT NULL,
        why TEXT NOT NULL,
        material TEXT NOT NULL,
        measurement_id INTEGER,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_machine_settings_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_machine_settings_measurement_id FOREIGN KEY(measurement_id) REFERENCES measurements (id),
        CONSTRAINT fk_machine_settings_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_machine_settings_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_machine_settings_machine ON machine_settings (machine_id)",
    """
    CREATE TABLE releases (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        visit_id INTEGER NOT NULL,
        released_utc INTEGER NOT NULL,
        proofs TEXT NOT NULL,
        override TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_releases_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_releases_visit_id FOREIGN KEY(visit_id) REFERENCES visits (id),
        CONSTRAINT fk_releases_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_releases_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_releases_visit ON releases (visit_id) WHERE void_act_id IS NULL",
)

RECORDS = {
    "visits": "machine_id, begun_utc, procedures, material, note",
    "visit_entries": "visit_id, entered_utc, kind, entry_key, step, value, note",
    "visit_endings": "visit_id, ended_utc, outcome, note",
    "measurements": "machine_id, measured_utc, kind, value, unit, detail, visit_id, note",
    "machine_settings": "machine_id, set_utc, name, value, unit, why, material, measurement_id",
    "releases": "machine_id, visit_id, released_utc, proofs, override",
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
