"""Photos taken at the bench, and the parts and findings that they show."""

from alembic import op

revision = "0010"
down_revision = "0009"

STATEMENTS = (
    """
    CREATE TABLE photos (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        taken_utc INTEGER NOT NULL,
        sha256 TEXT NOT NULL,
        bytes_count INTEGER NOT NULL,
        width_px INTEGER NOT NULL,
        height_px INTEGER NOT NULL,
        visit_entry_id INTEGER,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_photos_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_photos_visit_entry_id FOREIGN KEY(visit_entry_id) REFERENCES visit_entries (id),
        CONSTRAINT fk_photos_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_photos_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_photos_machine ON photos (machine_id)",
    "CREATE INDEX ix_photos_sha256 ON photos (sha256)",
    """
    CREATE TABLE photo_subjects (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        photo_id INTEGER NOT NULL,
        fitting_id INTEGER NOT NULL,
        finding_id INTEGER,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_photo_subjects_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_photo_subjects_photo_id FOREIGN KEY(photo_id) REFERENCES photos (id),
        CONSTRAINT fk_photo_subjects_fitting_id FOREIGN KEY(fitting_id) REFERENCES fittings (id),
        CONSTRAINT fk_photo_subjects_finding_id FOREIGN KEY(finding_id) REFERENCES findings (id),
        CONSTRAINT fk_photo_subjects_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_photo_subjects_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_photo_subjects_machine ON photo_subjects (machine_id)",
)

RECORDS = {
    "photos": "machine_id, taken_utc, sha256, bytes_count, width_px, height_px, visit_entry_id, note",
    "photo_subjects": "machine_id, photo_id, fitting_id, finding_id",
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
