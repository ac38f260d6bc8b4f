"""Who did what when, and a version of each setting: so that any past state can be shown and brought back."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

KEPT = ("uploads", "row_versions", "choices", "current_calibrations")
# What is told of the time before: the kind of deed, and the columns of its number, its time and its name.
TOLD = (
    ("uploads", "records", "at", "name"),
    ("choices", "choices", "at", None),
    ("calibrations", "calibration", "made_at", "id"),
    ("current_calibrations", "use", "since", "calibration_id"),
)


def upgrade() -> None:
    op.create_table(
        "history",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("did", sa.String(length=32), nullable=False),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("back_to", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_history")),
    )
    op.create_table(
        "setting_versions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=64), nullable=False),
        sa.Column("value", sa.Text(), nullable=True),
        sa.Column("line", sa.Integer(), nullable=False, server_default="0"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_setting_versions")),
    )
    for table in KEPT:
        with op.batch_alter_table(table) as batch:
            batch.add_column(sa.Column("line", sa.Integer(), nullable=False, server_default="0"))
    op.execute(sa.text("INSERT INTO setting_versions (name, value) SELECT name, value FROM settings ORDER BY name"))
    op.drop_table("settings")
    _tell_what_was()


def _tell_what_was() -> None:
    """A line for each deed that left its time, by nobody known; of each kind in the order in which they were done."""
    connection, at = op.get_bind(), sa.DateTime(timezone=True)
    lines = sa.table("history", sa.column("id"), sa.column("at", at), *map(sa.column, ("by", "did", "about")))
    found: list[tuple[Any, int, str, int, str, Any, str]] = []
    for table, did, when, name in TOLD:
        about_it = sa.literal("") if name is None else sa.cast(sa.column(name), sa.Text()).label("about")
        columns: list[Any] = [sa.column("id"), sa.column(when, at), about_it]
        query = sa.select(*columns).select_from(sa.table(table)).order_by(sa.column("id"))
        latest = None
        for number, time, about in connection.execute(query):
            # A clock that was set back does not change their order.
            latest = time if latest is None else max(latest, time)
            found.append((latest, len(found), table, number, did, time, about))
    for place, (_, _, table, number, did, time, about) in enumerate(sorted(found), 1):
        values = {"at": time, "by": "", "did": did, "about": about}
        line = connection.execute(sa.insert(lines).returning(lines.c.id), values).scalar_one()
        assert line == place
        if table in KEPT:
            kept = sa.table(table, sa.column("id"), sa.column("line"))
            connection.execute(sa.update(kept).where(kept.c.id == number).values(line=line))
    # Files that were read again later left no time of it: such a version counts as of the newest upload before it.
    op.execute(
        sa.text(
            "UPDATE row_versions SET line = (SELECT MAX(u.line) FROM row_versions e JOIN uploads u ON u.id = e.upload_id "
            "WHERE e.table_name = row_versions.table_name AND e.key = row_versions.key AND e.occurrence = row_versions.occurrence "
            "AND e.version <= row_versions.version)"
        )
    )


def downgrade() -> None:
    op.create_table(
        "settings",
        sa.Column("name", sa.String(length=64), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_settings")),
    )
    op.execute(
        sa.text(
            "INSERT INTO settings (name, value) SELECT name, value FROM setting_versions "
            "WHERE value IS NOT NULL AND id IN (SELECT MAX(id) FROM setting_versions GROUP BY name)"
        )
    )
    for table in reversed(KEPT):
        op.drop_column(table, "line")  # not by a copy: others refer to the uploads
    op.drop_table("setting_versions")
    op.drop_table("history")
