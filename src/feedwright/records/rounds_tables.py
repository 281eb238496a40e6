"""The tables of rounds: the person's hours, busy machines, plans with their stops, and what was asked of them."""

from sqlalchemy import CheckConstraint, Float, Index, Integer, Text

from feedwright.records.columns import needed, one_of, optional, record

bench_hours = record(
    "bench_hours",
    optional("weekday", Integer),
    needed("day", Text),
    needed("begins", Text),
    needed("minutes", Float),
    needed("note", Text),
    CheckConstraint("(weekday IS NULL) = (day <> '')", name="ck_bench_hours_when"),
    CheckConstraint("weekday BETWEEN 0 AND 6", name="ck_bench_hours_weekday"),
    CheckConstraint("minutes BETWEEN 0 AND 1440", name="ck_bench_hours_minutes"),
)

busy_windows = record(
    "busy_windows",
    needed("machine_id", Integer, "machines.id", "busy_windows"),
    needed("from_utc", Integer),
    needed("until_utc", Integer),
    needed("note", Text),
    CheckConstraint("until_utc > from_utc", name="ck_busy_windows_order"),
)

round_plans = record(
    "round_plans",
    needed("made_utc", Integer),
    needed("first_day", Text),
    needed("days_count", Integer),
    needed("reckoning", Text),
    CheckConstraint("days_count >= 1", name="ck_round_plans_days"),
)

planned_stops = record(
    "planned_stops",
    needed("round_plan_id", Integer, "round_plans.id", "planned_stops"),
    needed("machine_id", Integer, "machines.id", "planned_stops"),
    needed("day", Text),
    needed("begins_utc", Integer),
    needed("minutes", Float),
    needed("tasks", Text),
    CheckConstraint("minutes >= 0", name="ck_planned_stops_minutes"),
)

round_wishes = record(
    "round_wishes",
    needed("machine_id", Integer, "machines.id", "round_wishes"),
    needed("kind", Text),
    needed("day", Text),
    needed("fittings", Text),
    needed("wished_utc", Integer),
    needed("reason", Text),
    one_of("round_wishes", "kind", "move", "lock", "skip"),
)

RECORDS = (bench_hours, busy_windows, round_plans, planned_stops, round_wishes)

Index("ix_busy_windows_machine", busy_windows.c.machine_id, busy_windows.c.from_utc)
Index("ix_planned_stops_plan", planned_stops.c.round_plan_id)
Index("ix_round_wishes_machine", round_wishes.c.machine_id)
