"""The sheet or file of each row and finding, rows that were withdrawn, and what the user decided about the reading."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "choices",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_choices")),
    )
    with op.batch_alter_table("row_versions") as batch:
        batch.add_column(sa.Column("source", sa.Text(), nullable=False, server_default=""))
        batch.add_column(sa.Column("withdrawn", sa.Boolean(), nullable=False, server_default=sa.false()))
    with op.batch_alter_table("findings") as batch:
        batch.add_column(sa.Column("source", sa.Text(), nullable=False, server_default=""))


def downgrade() -> None:
    with op.batch_alter_table("findings") as batch:
        batch.drop_column("source")
    # The older schema would take the empty values of such a version for a row.
    op.execute(sa.text("DELETE FROM row_versions WHERE withdrawn"))
    with op.batch_alter_table("row_versions") as batch:
        batch.drop_column("withdrawn")
        batch.drop_column("source")
    op.drop_table("choices")
