"""Looks at a calibration that take another calibration."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "evidence",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kind", sa.String(length=32), nullable=False),
        sa.Column("calibration_id", sa.Integer(), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["calibration_id"], ["calibrations.id"], name=op.f("fk_evidence_calibration_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_evidence")),
    )


def downgrade() -> None:
    op.drop_table("evidence")
