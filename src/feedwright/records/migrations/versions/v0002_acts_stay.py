"""Acts stay as they were written, as the records that hang on them do."""

from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.execute(
        "CREATE TRIGGER acts_stay BEFORE DELETE ON acts BEGIN SELECT RAISE(ABORT, 'acts are never deleted'); END"
    )
    op.execute(
        "CREATE TRIGGER acts_hold BEFORE UPDATE ON acts BEGIN SELECT RAISE(ABORT, 'acts are never changed'); END"
    )


def downgrade() -> None:
    raise NotImplementedError("a farm's records are not taken back to an older schema; restore a backup instead")
