"""The tables of the store, in types that SQLite and PostgreSQL both have.

Uploads, row versions, choices, calibrations, backtests, evidence, owners' overrides and the history of the current calibration only ever
grow: a new value is a new version beside the old one, a row that its file is no longer read to hold is a version that withdraws it,
going back to an earlier calibration is a new line of history.
"""

from datetime import UTC, datetime

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    false,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

HEAD = "0005"
"""The newest revision in `migrations/versions`; known here so that an up-to-date store opens without Alembic."""

REVISION_TABLE = "alembic_version"


class UtcDateTime(TypeDecorator[datetime]):
    """An instant, kept and given back in UTC.

    SQLite drops the time zone of a datetime and PostgreSQL keeps it; both give back an aware one through here.
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value.isoformat()} has no time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)

uploads = Table(
    "uploads",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("digest", String(64), nullable=False, unique=True),
    Column("at", UtcDateTime, nullable=False),
    Column("counts_json", Text, nullable=False),
)

files = Table(
    "files",
    metadata,
    Column("upload_id", ForeignKey("uploads.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("filename", Text, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("content", LargeBinary, nullable=False),
)

row_versions = Table(
    "row_versions",
    metadata,
    Column("table_name", String(64), primary_key=True),
    Column("key", Text, primary_key=True),
    Column("occurrence", Integer, primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("values_json", Text, nullable=False),
    Column("upload_id", ForeignKey("uploads.id"), nullable=False),
    Column("file_row", Integer, nullable=False),
    # At the end, where a migration puts what is new.
    Column("source", Text, nullable=False, server_default=""),
    Column("withdrawn", Boolean, nullable=False, server_default=false()),
    CheckConstraint("occurrence >= 0", name="occurrence"),
    CheckConstraint("version >= 1", name="version"),
)

findings = Table(
    "findings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("upload_id", ForeignKey("uploads.id"), nullable=False, index=True),
    Column("table_name", Text, nullable=False),
    Column("file_row", Integer),
    Column("column_name", Text),
    Column("value", Text),
    Column("problem", Text, nullable=False),
    Column("repair", Text, nullable=False),
    Column("severity", String(16), nullable=False),
    Column("source", Text, nullable=False, server_default=""),
)

calibrations = Table(
    "calibrations",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("made_at", UtcDateTime, nullable=False),
    Column("as_of", Date, nullable=False),
    Column("fingerprint", Text, nullable=False),
    Column("passed", Boolean, nullable=False),
    Column("reasons_json", Text, nullable=False),
    Column("lives", Integer, nullable=False),
    Column("wear_outs", Integer, nullable=False),
    Column("seed", BigInteger, nullable=False),
    Column("model_version", Text, nullable=False),
    Column("format_version", Integer, nullable=False),
    Column("sha256", String(64), nullable=False),
    # Last, so that a listing of calibrations need not read past the megabytes.
    Column("content", LargeBinary, nullable=False),
)

current_calibrations = Table(
    "current_calibrations",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("calibration_id", ForeignKey("calibrations.id"), nullable=False),
    Column("since", UtcDateTime, nullable=False),
)

choices = Table(
    "choices",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", UtcDateTime, nullable=False),
    Column("content", Text, nullable=False),
)

overrides = Table(
    "overrides",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tool_id", Text, nullable=False, index=True),
    Column("at", UtcDateTime, nullable=False),
    Column("by", Text, nullable=False),
    Column("as_of", Date, nullable=False),
    Column("wear_out_on", Date),
    Column("remaining_shots", BigInteger),
    Column("reason", Text, nullable=False),
)

backtests = Table(
    "backtests",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("made_at", UtcDateTime, nullable=False),
    Column("as_of", Date, nullable=False),
    Column("fingerprint", Text, nullable=False),
    Column("model_version", Text, nullable=False),
    Column("content", Text, nullable=False),
)

evidence = Table(
    "evidence",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("made_at", UtcDateTime, nullable=False),
    Column("kind", String(32), nullable=False),
    Column("calibration_id", ForeignKey("calibrations.id"), nullable=False),
    Column("content", Text, nullable=False),
)

settings = Table(
    "settings",
    metadata,
    Column("name", String(64), primary_key=True),
    Column("value", Text, nullable=False),
)
