"""Indexes that a large farm needs: what an act touched since, the latest runs of all machines, runs that are not void."""

from alembic import op

revision = "0012"
down_revision = "0011"

TABLES = (
    "runs", "findings", "fittings", "removals", "events", "visit_entries", "movements", "spool_uses", "prints",
    "print_endings",
)  # fmt: skip
STATEMENTS = (
    *(f"CREATE INDEX ix_{name}_act ON {name} (act_id)" for name in TABLES),
    *(f"CREATE INDEX ix_{name}_void_act ON {name} (void_act_id) WHERE void_act_id IS NOT NULL" for name in TABLES),
    "CREATE INDEX ix_runs_started ON runs (started_utc)",
    "DROP INDEX ix_runs_machine",
    "CREATE INDEX ix_runs_machine ON runs (machine_id, started_utc) WHERE void_act_id IS NULL",
)


def upgrade() -> None:
    for statement in STATEMENTS:
        op.execute(statement)


def downgrade() -> None:
    raise NotImplementedError("a farm's records are not taken back to an older schema; restore a backup instead")
