"""Rounds: the person's hours, windows in which machines are busy, plans with their stops, and what was asked of them."""

from alembic import op

revision = "0007"
down_revision = "0006"

STATEMENTS = (
    """
    CREATE TABLE bench_hours (
        id INTEGER NOT NULL,
        weekday INTEGER,
        day TEXT NOT NULL,
        begins TEXT NOT NULL,
        minutes FLOAT NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_bench_hours_when CHECK ((weekday IS NULL) = (day <> '')),
        CONSTRAINT ck_bench_hours_weekday CHECK (weekday BETWEEN 0 AND 6),
        CONSTRAINT ck_bench_hours_minutes CHECK (minutes BETWEEN 0 AND 1440),
        CONSTRAINT fk_bench_hours_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_bench_hours_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE TABLE busy_windows (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        from_utc INTEGER NOT NULL,
        until_utc INTEGER NOT NULL,
        note TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_busy_windows_order CHECK (until_utc > from_utc),
        CONSTRAINT fk_busy_windows_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_busy_windows_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_busy_windows_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_busy_windows_machine ON busy_windows (machine_id, from_utc)",
    """
    CREATE TABLE round_plans (
        id INTEGER NOT NULL,
        made_utc INTEGER NOT NULL,
        first_day TEXT NOT NULL,
        days_count INTEGER NOT NULL,
        reckoning TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_round_plans_days CHECK (days_count >= 1),
        CONSTRAINT fk_round_plans_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_round_plans_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    """
    CREATE TABLE planned_stops (
        id INTEGER NOT NULL,
        round_plan_id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        day TEXT NOT NULL,
        begins_utc INTEGER NOT NULL,
        minutes FLOAT NOT NULL,
        tasks TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_planned_stops_minutes CHECK (minutes >= 0),
        CONSTRAINT fk_planned_stops_round_plan_id FOREIGN KEY(round_plan_id) REFERENCES round_plans (id),
        CONSTRAINT fk_planned_stops_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_planned_stops_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_planned_stops_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_planned_stops_plan ON planned_stops (round_plan_id)",
    """
    CREATE TABLE round_wishes (
        id INTEGER NOT NULL,
        machine_id INTEGER NOT NULL,
        kind TEXT NOT NULL,
        day TEXT NOT NULL,
        fittings TEXT NOT NULL,
        wished_utc INTEGER NOT NULL,
        reason TEXT NOT NULL,
        act_id INTEGER NOT NULL,
        void_act_id INTEGER,
        PRIMARY KEY (id),
        CONSTRAINT ck_round_wishes_kind CHECK (kind IN ('move', 'lock', 'skip')),
        CONSTRAINT fk_round_wishes_machine_id FOREIGN KEY(machine_id) REFERENCES machines (id),
        CONSTRAINT fk_round_wishes_act FOREIGN KEY(act_id) REFERENCES acts (id),
        CONSTRAINT fk_round_wishes_void_act FOREIGN KEY(void_act_id) REFERENCES acts (id)
    )
    """,
    "CREATE INDEX ix_round_wishes_machine ON round_wishes (machine_id)",
)

RECORDS = {
    "bench_hours": "weekday, day, begins, minutes, note",
    "busy_windows": "machine_id, from_utc, until_utc, note",
    "round_plans": "made_utc, first_day, days_count, reckoning",
    "planned_stops": "round_plan_id, machine_id, day, begins_utc, minutes, tasks",
    "round_wishes": "machine_id, kind, day, fittings, wished_utc, reason",
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
