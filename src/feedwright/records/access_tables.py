"""The tables of who may do what."""

from sqlalchemy import CheckConstraint, Column, ForeignKey, Index, Integer, Table, Text

from feedwright.records.columns import META, needed, optional, record

passphrase = Table(
    "passphrase",
    META,
    Column("id", Integer, primary_key=True),
    needed("secret", Text),
    needed("set_utc", Integer),
    CheckConstraint("id = 1", name="ck_passphrase_one"),
)

devices = record(
    "devices",
    needed("name", Text),
    needed("scopes", Text),
    needed("token_sha256", Text),
    needed("made_utc", Integer),
    optional("person_id", Integer, "people.id", "devices"),
)

device_uses = Table(
    "device_uses",
    META,
    Column("device_id", Integer, ForeignKey("devices.id", name="fk_device_uses_device_id"), primary_key=True),
    needed("used_utc", Integer),
    needed("address", Text),
)

sessions = Table(
    "sessions",
    META,
    Column("id", Integer, primary_key=True),
    needed("token_sha256", Text),
    optional("person_id", Integer, "people.id", "sessions"),
    needed("browser", Text),
    needed("address", Text),
    needed("opened_utc", Integer),
    needed("seen_utc", Integer),
    optional("ended_utc", Integer),
)

access_log = Table(
    "access_log",
    META,
    Column("id", Integer, primary_key=True),
    needed("at_utc", Integer),
    needed("kind", Text),
    needed("address", Text),
    optional("session_id", Integer, "sessions.id", "access_log"),
    optional("device_id", Integer, "devices.id", "access_log"),
    optional("person_id", Integer, "people.id", "access_log"),
    needed("note", Text),
)

act_hands = Table(
    "act_hands",
    META,
    Column("act_id", Integer, ForeignKey("acts.id", name="fk_act_hands_act_id"), primary_key=True),
    optional("session_id", Integer, "sessions.id", "act_hands"),
    optional("device_id", Integer, "devices.id", "act_hands"),
    needed("entry_key", Text),
    needed("request_sha256", Text),
)

RECORDS = (devices,)

Index("ux_devices_token", devices.c.token_sha256, unique=True)
Index("ux_devices_name", devices.c.name, unique=True, sqlite_where=devices.c.void_act_id.is_(None))
Index("ux_sessions_token", sessions.c.token_sha256, unique=True)
Index("ix_access_log_at", access_log.c.kind, access_log.c.at_utc)
Index("ux_act_hands_key", act_hands.c.entry_key, unique=True, sqlite_where=act_hands.c.entry_key != "")
