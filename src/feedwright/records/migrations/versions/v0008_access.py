"""Who may do what: the passphrase, sessions, devices with their tokens, the log of both, and whose hand each act was."""

from alembic import op

revision = "0008"
down_revision = "0007"

STATEMENTS = (
    """
    CREATE TABLE passphrase (
        id INTEGER NOT NULL,
        secret TEXT NOT NULL,
        set_utc INTEGER NOT NULL,
        PRIMARY KEY (id),
        CONSTRAINT ck_passphrase_one CHECK (id = 1)
    )
    """,
    """
    CREATE TABLE devices (
        id INTEGER NOT NULL,
        name TEXT NOT NULL,
        scopes TEXT NOT NULL,
        token_sha256 TEXT NOT NULL,
        made_utc INTEGER NOT NULL,
        person_id INTEGER,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_devices_person_id FOREIGN KEY(person_id) REFERENCES people (id),
        CONSTRAINT fk_devices_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_devices_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_devices_token ON devices (token_sha256)",
    "CREATE UNIQUE INDEX ux_devices_name ON devices (name) WHERE void_act_id IS NULL",
    """
    CREATE TABLE device_uses (
        device_id INTEGER NOT NULL,
        used_utc INTEGER NOT NULL,
        address TEXT NOT NULL,
        PRIMARY KEY (device_id),
        CONSTRAINT fk_device_uses_device_id FOREIGN KEY(device_id) REFERENCES devices (id)
    )
    """,
    """
    CREATE TABLE sessions (
        id INTEGER NOT NULL,
        token_sha256 TEXT NOT NULL,
        person_id INTEGER,
        browser TEXT NOT NULL,
        address TEXT NOT NULL,
        opened_utc INTEGER NOT NULL,
        seen_utc INTEGER NOT NULL,
        ended_utc INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT fk_sessions_person_id FOREIGN KEY(person_id) REFERENCES people (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_sessions_token ON sessions (token_sha256)",
    """
    CREATE TABLE access_log (
        id INTEGER NOT NULL,
        at_utc INTEGER NOT NULL,
        kind TEXT NOT NULL,
        address TEXT NOT NULL,
        session_id INTEGER,
        device_id INTEGER,
        person_id INTEGER,
        note TEXT NOT NULL,
        PRIMARY KEY (id),
        CONSTRAINT fk_access_log_session_id FOREIGN KEY(session_id) REFERENCES sessions (id),
        CONSTRAINT fk_access_log_device_id FOREIGN KEY(device_id) REFERENCES devices (id),
        CONSTRAINT fk_access_log_person_id FOREIGN KEY(person_id) REFERENCES people (id)
    )
    """,
    "CREATE INDEX ix_access_log_at ON access_log (kind, at_utc)",
    """
    CREATE TABLE act_hands (
        act_id INTEGER NOT NULL,
        session_id INTEGER,
        device_id INTEGER,
        entry_key TEXT NOT NULL,
        request_sha256 TEXT NOT NULL,
        PRIMARY KEY (act_id),
        CONSTRAINT fk_act_hands_act_id FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_act_hands_session_id FOREIGN KEY(session_id) REFERENCES sessions (id),
        CONSTRAINT fk_act_hands_device_id FOREIGN KEY(device_id) REFERENCES devices (id)
    )
    """,
    "CREATE UNIQUE INDEX ux_act_hands_key ON act_hands (entry_key) WHERE entry_key <> ''",
    "CREATE TRIGGER devices_stay BEFORE DELETE ON devices "
    "BEGIN SELECT RAISE(ABORT, 'records are voided, never deleted'); END",
    "CREATE TRIGGER devices_hold BEFORE UPDATE OF id, act_id, name, scopes, token_sha256, made_utc, person_id ON devices "
    "BEGIN SELECT RAISE(ABORT, 'records are voided, never changed'); END",
    "CREATE TRIGGER devices_once BEFORE UPDATE OF void_act_id ON devices WHEN old.void_act_id IS NOT NULL "
    "BEGIN SELECT RAISE(ABORT, 'this record is void already'); END",
    "CREATE TRIGGER access_log_stay BEFORE DELETE ON access_log "
    "BEGIN SELECT RAISE(ABORT, 'the log is never deleted'); END",
    "CREATE TRIGGER access_log_hold BEFORE UPDATE ON access_log "
    "BEGIN SELECT RAISE(ABORT, 'the log is never changed'); END",
    "CREATE TRIGGER act_hands_stay BEFORE DELETE ON act_hands BEGIN SELECT RAISE(ABORT, 'acts are never deleted'); END",
    "CREATE TRIGGER act_hands_hold BEFORE UPDATE ON act_hands BEGIN SELECT RAISE(ABORT, 'acts are never changed'); END",
    "CREATE TRIGGER sessions_once BEFORE UPDATE ON sessions WHEN old.ended_utc IS NOT NULL "
    "BEGIN SELECT RAISE(ABORT, 'this session is ended already'); END",
    "CREATE TRIGGER sessions_stay BEFORE DELETE ON sessions "
    "BEGIN SELECT RAISE(ABORT, 'sessions are ended, never deleted'); END",
)


def upgrade() -> None:
    for statement in STATEMENTS:
        op.execute(statement)


def downgrade() -> None:
    raise NotImplementedError("a farm's records are not taken back to an older schema; restore a backup instead")
