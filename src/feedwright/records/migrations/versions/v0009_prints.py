"""The queue of prints, prints under way and how they ended, and forms that were taken."""

from alembic import op

revision = "0009"
down_revision = "0008"

STATEMENTS = (
    """
    CREATE TABLE queue_entries (
        id INTEGER NOT NULL,
        toolpath_id INTEGER NOT NULL,
        material TEXT NOT NULL,
        copies INTEGER NOT NULL,
        queued_utc INTEGER NOT NULL,
        due_utc INTEGER,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_queue_entries_copies CHECK (copies >= 1),
        CONSTRAINT fk_queue_entries_toolpath_id FOREIGN KEY(toolpath_id) REFERENCES toolpaths (id),
        CONSTRAINT fk_queue_entries_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_queue_entries_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE TABLE placements (
        id INTEGER NOT NULL,
        queue_entry_id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        placed_utc INTEGER NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_placements_queue_entry_id FOREIGN KEY(queue_entry_id) REFERENCES queue_entries (id),
        CONSTRAINT fk_placements_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_placements_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_placements_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_placements_entry ON placements (queue_entry_id) WHERE void_act_id IS NULL",
    """
    CREATE TABLE prints (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        started_utc INTEGER NOT NULL,
        material TEXT NOT NULL,
        toolpath_id INTEGER,
        hours FLOAT,
        copies INTEGER NOT NULL,
        nozzle_c FLOAT,
        spool_id INTEGER,
        queue_entry_id INTEGER,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_prints_copies CHECK (copies >= 1),
        CONSTRAINT fk_prints_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_prints_toolpath_id FOREIGN KEY(toolpath_id) REFERENCES toolpaths (id),
        CONSTRAINT fk_prints_spool_id FOREIGN KEY(spool_id) REFERENCES spools (id),
        CONSTRAINT fk_prints_queue_entry_id FOREIGN KEY(queue_entry_id) REFERENCES queue_entries (id),
        CONSTRAINT fk_prints_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_prints_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_prints_machine ON prints (machine_id)",
    "CREATE INDEX ix_prints_queue_entry ON prints (queue_entry_id)",
    """
    CREATE TABLE print_endings (
        id INTEGER NOT NULL,
        print_id INTEGER NOT NULL,
        run_id INTEGER NOT NULL,
        ended_utc INTEGER NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_print_endings_print_id FOREIGN KEY(print_id) REFERENCES prints (id),
        CONSTRAINT fk_print_endings_run_id FOREIGN KEY(run_id) REFERENCES runs (id),
        CONSTRAINT fk_print_endings_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_print_endings_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_print_endings_print ON print_endings (print_id) WHERE void_act_id IS NULL",
    "CREATE UNIQUE INDEX ux_print_endings_run ON print_endings (run_id) WHERE void_act_id IS NULL",
    """
    CREATE TABLE run_looks (
        id INTEGER NOT NULL,
        run_id INTEGER NOT NULL,
        observation TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_run_looks_run_id FOREIGN KEY(run_id) REFERENCES runs (id),
        CONSTRAINT fk_run_looks_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_run_looks_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_run_looks_run ON run_looks (run_id, observation) WHERE void_act_id IS NULL",
    """
    CREATE TABLE form_keys (
        id INTEGER NOT NULL,
        form TEXT NOT NULL,
        entry_key TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_form_keys_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_form_keys_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_form_keys_key ON form_keys (entry_key)",
)

RECORDS = {
    "queue_entries": "toolpath_id, material, copies, queued_utc, due_utc, note",
    "placements": "queue_entry_id, machine_id, placed_utc, note",
    "prints": "machine_id, started_utc, material, toolpath_id, hours, copies, nozzle_c, spool_id, queue_entry_id, note",
    "print_endings": "print_id, run_id, ended_utc",
    "run_looks": "run_id, observation",
    "form_keys": "form, entry_key",
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
