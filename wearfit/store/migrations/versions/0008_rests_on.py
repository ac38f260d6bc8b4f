"""After which line of the history the records of a calibration were read."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("history") as batch:
        batch.add_column(sa.Column("rests_on", sa.Integer(), nullable=True))


def downgrade() -> None:
    op.drop_column("history", "rests_on")
