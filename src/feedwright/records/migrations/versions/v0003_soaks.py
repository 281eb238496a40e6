"""Events carry what they did to the machine: heat that crept up the feed path is charged as it was reckoned then."""

from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.execute("ALTER TABLE events ADD COLUMN stretch TEXT")
    op.execute("DROP TRIGGER events_hold")
    op.execute(
        "CREATE TRIGGER events_hold BEFORE UPDATE OF id, act_id, machine_id, kind, at_utc, nozzle_c, minutes, material, "
        "note, stretch ON events BEGIN SELECT RAISE(ABORT, 'records are voided, never changed'); END"
    )


def downgrade() -> None:
    raise NotImplementedError("a farm's records are not taken back to an older schema; restore a backup instead")
