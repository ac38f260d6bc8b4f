"""The first schema."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# On a server in the order of their bytes too, as SQLite has them.
ORDERED = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
ORDERED_NAME = sa.String(length=64).with_variant(sa.String(length=64, collation="C"), "postgresql")


def upgrade() -> None:
    op.create_table(
        "calibrations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("as_of", sa.Date(), nullable=False),
        sa.Column("fingerprint", sa.Text(), nullable=False),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("reasons_json", sa.Text(), nullable=False),
        sa.Column("lives", sa.Integer(), nullable=False),
        sa.Column("wear_outs", sa.Integer(), nullable=False),
        sa.Column("seed", sa.BigInteger(), nullable=False),
        sa.Column("model_version", sa.Text(), nullable=False),
        sa.Column("format_version", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibrations")),
    )
    op.create_table(
        "settings",
        sa.Column("name", sa.String(length=64), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_settings")),
    )
    op.create_table(
        "uploads",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("counts_json", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_uploads")),
        sa.UniqueConstraint("digest", name=op.f("uq_uploads_digest")),
    )
    op.create_table(
        "current_calibrations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("calibration_id", sa.Integer(), nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["calibration_id"], ["calibrations.id"], name=op.f("fk_current_calibrations_calibration_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_current_calibrations")),
    )
    op.create_table(
        "files",
        sa.Column("upload_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("filename", sa.Text(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["upload_id"], ["uploads.id"], name=op.f("fk_files_upload_id")),
        sa.PrimaryKeyConstraint("upload_id", "position", name=op.f("pk_files")),
    )
    op.create_table(
        "findings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("upload_id", sa.Integer(), nullable=False),
        sa.Column("table_name", sa.Text(), nullable=False),
        sa.Column("file_row", sa.Integer(), nullable=True),
        sa.Column("column_name", sa.Text(), nullable=True),
        sa.Column("value", sa.Text(), nullable=True),
        sa.Column("problem", sa.Text(), nullable=False),
        sa.Column("repair", sa.Text(), nullable=False),
        sa.Column("severity", sa.String(length=16), nullable=False),
        sa.ForeignKeyConstraint(["upload_id"], ["uploads.id"], name=op.f("fk_findings_upload_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_findings")),
    )
    op.create_index(op.f("ix_findings_upload_id"), "findings", ["upload_id"])

    op.create_table(
        "row_versions",
        sa.Column("table_name", ORDERED_NAME, nullable=False),
        sa.Column("key", ORDERED, nullable=False),
        sa.Column("occurrence", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("values_json", sa.Text(), nullable=False),
        sa.Column("upload_id", sa.Integer(), nullable=False),
        sa.Column("file_row", sa.Integer(), nullable=False),
        sa.CheckConstraint("occurrence >= 0", name=op.f("ck_row_versions_occurrence")),
        sa.CheckConstraint("version >= 1", name=op.f("ck_row_versions_version")),
        sa.ForeignKeyConstraint(["upload_id"], ["uploads.id"], name=op.f("fk_row_versions_upload_id")),
        sa.PrimaryKeyConstraint("table_name", "key", "occurrence", "version", name=op.f("pk_row_versions")),
    )


def downgrade() -> None:
    op.drop_table("row_versions")
    op.drop_index(op.f("ix_findings_upload_id"), table_name="findings")

    op.drop_table("findings")
    op.drop_table("files")
    op.drop_table("current_calibrations")
    op.drop_table("uploads")
    op.drop_table("settings")
    op.drop_table("calibrations")
