"""Which wedge lay beside a sheet that was read for fog."""

from alembic import op

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    op.execute("ALTER TABLE fog_readings ADD COLUMN wedge TEXT")
