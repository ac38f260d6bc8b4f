"""Which law of wear each calibration has; told of those that were kept before by their own contents."""

import re

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_OF_ITSELF = re.compile(rb'"fingerprint": "[^"]*", "format_version": \d+')
_LAW = re.compile(rb'"wear_law": "([a-z-]{1,32})"')


def upgrade() -> None:
    op.create_table(
        "calibration_laws",
        sa.Column("calibration_id", sa.Integer(), nullable=False),
        sa.Column("law", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["calibration_id"], ["calibrations.id"], name=op.f("fk_calibration_laws_calibration_id")),
        sa.PrimaryKeyConstraint("calibration_id", name=op.f("pk_calibration_laws")),
    )
    connection = op.get_bind()
    calibrations = sa.table("calibrations", sa.column("id", sa.Integer()), sa.column("content", sa.LargeBinary()))
    laws = sa.table("calibration_laws", sa.column("calibration_id"), sa.column("law"))
    # One at a time: each may be many megabytes.
    for number in connection.scalars(sa.select(calibrations.c.id)).all():
        law = _law_of(connection.scalar(sa.select(calibrations.c.content).where(calibrations.c.id == number)) or b"")
        if law:
            connection.execute(sa.insert(laws), {"calibration_id": number, "law": law})


def _law_of(content: bytes) -> str:
    """The law that a calibration says it has, Weibull's where it is older than the others; "" of what is no calibration.

    What it says of itself stands in the file as it was written, JSON with names in order: no library need be loaded to find it.
    """
    if not _OF_ITSELF.search(content):
        return ""
    found = _LAW.search(content)
    return found[1].decode() if found else "weibull"


def downgrade() -> None:
    op.drop_table("calibration_laws")
