"""What owners say of their tools beside the model's answer."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "overrides",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tool_id", sa.Text().with_variant(sa.Text(collation="C"), "postgresql"), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("as_of", sa.Date(), nullable=False),
        sa.Column("wear_out_on", sa.Date(), nullable=True),
        sa.Column("remaining_shots", sa.BigInteger(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_overrides")),
    )
    op.create_index(op.f("ix_overrides_tool_id"), "overrides", ["tool_id"])


def downgrade() -> None:
    op.drop_index(op.f("ix_overrides_tool_id"), "overrides")
    op.drop_table("overrides")
