"""The ground: records, acts and what is derived from them.

Frozen as written: later changes come in later files. Record tables refuse every change but voiding a
row once, and every deletion.
"""

from alembic import op

revision = "0001"
down_revision = None

STATEMENTS = (
    """
    CREATE TABLE acts (
        id INTEGER NOT NULL,
        kind TEXT NOT NULL,
        at_utc INTEGER NOT NULL,
        person_id INTEGER,
        reason TEXT NOT NULL,
        PRIMARY KEY (id)
    )
    """,
    """
    CREATE TABLE readings (
        sha256 TEXT NOT NULL,
        reader_version TEXT NOT NULL,
        limits_key TEXT NOT NULL,
        reading BLOB NOT NULL,
        PRIMARY KEY (sha256, reader_version, limits_key)
    )
    """,
    """
    CREATE TABLE machines (
        id INTEGER NOT NULL,
        name TEXT NOT NULL,
        registered_utc INTEGER NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_machines_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_machines_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE UNIQUE INDEX ux_machines_name ON machines (name) WHERE void_act_id IS NULL
    """,
    """
    CREATE TABLE people (
        id INTEGER NOT NULL,
        name TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_people_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_people_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE UNIQUE INDEX ux_people_name ON people (name) WHERE void_act_id IS NULL
    """,
    """
    CREATE TABLE settings (
        id INTEGER NOT NULL,
        name TEXT NOT NULL,
        value TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_settings_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_settings_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE TABLE toolpaths (
        id INTEGER NOT NULL,
        sha256 TEXT NOT NULL,
        name TEXT NOT NULL,
        bytes_count INTEGER NOT NULL,
        kind TEXT NOT NULL,
        complete INTEGER NOT NULL,
        read_utc INTEGER NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_toolpaths_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_toolpaths_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE UNIQUE INDEX ux_toolpaths_sha256 ON toolpaths (sha256) WHERE void_act_id IS NULL
    """,
    """
    CREATE TABLE events (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        kind TEXT NOT NULL,
        at_utc INTEGER NOT NULL,
        nozzle_c FLOAT,
        minutes FLOAT,
        material TEXT NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_events_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_events_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_events_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE INDEX ix_events_machine ON events (machine_id, at_utc)
    """,
    """
    CREATE TABLE fittings (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        part_kind TEXT NOT NULL,
        position INTEGER NOT NULL,
        product TEXT NOT NULL,
        fitted_utc INTEGER NOT NULL,
        history TEXT NOT NULL,
        exposure_before FLOAT NOT NULL,
        length_mm FLOAT,
        label TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_fittings_history CHECK (history IN ('new', 'used', 'unknown')),
        CONSTRAINT fk_fittings_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_fittings_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_fittings_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE INDEX ix_fittings_machine ON fittings (machine_id)
    """,
    """
    CREATE TABLE machine_states (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        from_utc INTEGER NOT NULL,
        build TEXT NOT NULL,
        drive TEXT NOT NULL,
        hot_end TEXT NOT NULL,
        box_mm TEXT NOT NULL,
        motion TEXT NOT NULL,
        tube_needed_mm FLOAT NOT NULL,
        enclosure_c FLOAT NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_machine_states_drive CHECK (drive IN ('remote', 'direct')),
        CONSTRAINT ck_machine_states_hot_end CHECK (hot_end IN ('lined', 'all_metal')),
        CONSTRAINT fk_machine_states_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_machine_states_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_machine_states_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE INDEX ix_machine_states_machine ON machine_states (machine_id)
    """,
    """
    CREATE TABLE runs (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        started_utc INTEGER NOT NULL,
        outcome TEXT NOT NULL,
        material TEXT NOT NULL,
        toolpath_id INTEGER,
        fraction FLOAT NOT NULL,
        copies INTEGER NOT NULL,
        hours FLOAT,
        nozzle_c FLOAT,
        filament_g FLOAT,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_runs_outcome CHECK (outcome IN ('complete', 'stopped', 'spoiled')),
        CONSTRAINT ck_runs_fraction CHECK (fraction BETWEEN 0 AND 1),
        CONSTRAINT ck_runs_copies CHECK (copies >= 1),
        CONSTRAINT fk_runs_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_runs_toolpath_id FOREIGN KEY(toolpath_id) REFERENCES toolpaths (id),
        CONSTRAINT fk_runs_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_runs_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE INDEX ix_runs_machine ON runs (machine_id, started_utc)
    """,
    """
    CREATE TABLE charges (
        run_id INTEGER NOT NULL,
        reader_version TEXT NOT NULL,
        stretch TEXT NOT NULL,
        PRIMARY KEY (run_id),
        CONSTRAINT fk_charges_run_id FOREIGN KEY(run_id) REFERENCES runs (id)
    )
    """,
    """
    CREATE TABLE exposures (
        fitting_id INTEGER NOT NULL,
        law_key TEXT NOT NULL,
        exposure_nano INTEGER NOT NULL,
        charges INTEGER NOT NULL,
        PRIMARY KEY (fitting_id),
        CONSTRAINT fk_exposures_fitting_id FOREIGN KEY(fitting_id) REFERENCES fittings (id)
    )
    """,
    """
    CREATE TABLE findings (
        id INTEGER NOT NULL,
        fitting_id INTEGER NOT NULL,
        found_utc INTEGER NOT NULL,
        grade TEXT NOT NULL,
        reading FLOAT,
        reading_unit TEXT NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_findings_fitting_id FOREIGN KEY(fitting_id) REFERENCES fittings (id),
        CONSTRAINT fk_findings_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_findings_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE INDEX ix_findings_fitting ON findings (fitting_id)
    """,
    """
    CREATE TABLE removals (
        id INTEGER NOT NULL,
        fitting_id INTEGER NOT NULL,
        removed_utc INTEGER NOT NULL,
        reason TEXT NOT NULL,
        replaced_by INTEGER,
        trimmed_mm FLOAT,
        minutes FLOAT,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_removals_reason CHECK (reason IN ('failed', 'worn', 'sound', 'moved', 'retired')),
        CONSTRAINT fk_removals_fitting_id FOREIGN KEY(fitting_id) REFERENCES fittings (id),
        CONSTRAINT fk_removals_replaced_by FOREIGN KEY(replaced_by) REFERENCES fittings (id),
        CONSTRAINT fk_removals_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_removals_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE UNIQUE INDEX ux_removals_fitting ON removals (fitting_id) WHERE void_act_id IS NULL
    """,
)

RECORDS = {
    "people": "name",
    "machines": "name, registered_utc",
    "machine_states": "machine_id, from_utc, build, drive, hot_end, box_mm, motion, tube_needed_mm, enclosure_c, note",
    "fittings": "machine_id, part_kind, position, product, fitted_utc, history, exposure_before, length_mm, label",
    "removals": "fitting_id, removed_utc, reason, replaced_by, trimmed_mm, minutes, note",
    "toolpaths": "sha256, name, bytes_count, kind, complete, read_utc",
    "runs": "machine_id, started_utc, outcome, material, toolpath_id, fraction, copies, hours, nozzle_c, filament_g, note",
    "events": "machine_id, kind, at_utc, nozzle_c, minutes, material, note",
    "findings": "fitting_id, found_utc, grade, reading, reading_unit, note",
    "settings": "name, value",
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
