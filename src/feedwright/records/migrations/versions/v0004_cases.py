"""Cases: a trouble under investigation, what was told of it, and how it ended."""

from alembic import op

revision = "0004"
down_revision = "0003"

STATEMENTS = (
    """
    CREATE TABLE cases (
        id INTEGER NOT NULL,
        opened_utc INTEGER NOT NULL,
        label TEXT NOT NULL,
        machine_id INTEGER,
        drive TEXT NOT NULL,
        hot_end TEXT NOT NULL,
        material TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_cases_drive CHECK (drive IN ('remote', 'direct', '')),
        CONSTRAINT ck_cases_hot_end CHECK (hot_end IN ('lined', 'all_metal', '')),
        CONSTRAINT fk_cases_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_cases_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_cases_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE TABLE case_entries (
        id INTEGER NOT NULL,
        case_id INTEGER NOT NULL,
        told_utc INTEGER NOT NULL,
        kind TEXT NOT NULL,
        name TEXT NOT NULL,
        value TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_case_entries_kind CHECK (kind IN ('fact', 'answer', 'reading', 'tried', 'state')),
        CONSTRAINT fk_case_entries_case_id FOREIGN KEY(case_id) REFERENCES cases (id),
        CONSTRAINT fk_case_entries_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_case_entries_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_case_entries_case ON case_entries (case_id)",
    """
    CREATE TABLE case_endings (
        id INTEGER NOT NULL,
        case_id INTEGER NOT NULL,
        ended_utc INTEGER NOT NULL,
        cause TEXT NOT NULL,
        cure TEXT NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_case_endings_case_id FOREIGN KEY(case_id) REFERENCES cases (id),
        CONSTRAINT fk_case_endings_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_case_endings_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_case_endings_case ON case_endings (case_id) WHERE void_act_id IS NULL",
)

RECORDS = {
    "cases": "opened_utc, label, machine_id, drive, hot_end, material",
    "case_entries": "case_id, told_utc, kind, name, value",
    "case_endings": "case_id, ended_utc, cause, cure, note",
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
