"""The tables of the store, in types that SQLite and PostgreSQL both have.

Uploads, row versions, choices, settings, calibrations, backtests, evidence, owners' overrides and the history of the current calibration
only ever grow: a new value is a new version beside the old one, a row that its file is no longer read to hold is a version that withdraws
it, going back to an earlier calibration is a new line. Each belongs to a line of the history, which says who did it and when; so the store
can be shown as it stood after any line.
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

HEAD = "0008"
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


class FreeText(TypeDecorator[str]):
    """Text as it came from outside, but for what no database holds: half characters of broken file names and, on a server, NUL."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        if value is None:
            return None
        return value.replace("\0", "\N{REPLACEMENT CHARACTER}").encode("utf-8", "backslashreplace").decode()


# PostgreSQL sorts letters as its language does; rows are to come in one order wherever they are kept, that of their bytes.
ORDERED = Text().with_variant(Text(collation="C"), "postgresql")
ORDERED_NAME = String(64).with_variant(String(64, collation="C"), "postgresql")

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)

history = Table(
    "history",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", UtcDateTime, nullable=False),
    Column("by", FreeText, nullable=False),
    Column("did", String(32), nullable=False),
    Column("about", FreeText, nullable=False),
    # Of a restoration: the line whose state it brought back.
    Column("back_to", Integer),
    # Of a calibration: the line after whose state it was made; what was stored since, while it was worked out, it does not know.
    Column("rests_on", Integer),
)


def _line() -> Column[int]:
    """The line of the history that something came with; 0 where it is older than the history."""
    return Column("line", Integer, nullable=False, server_default="0")


uploads = Table(
    "uploads",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", FreeText, nullable=False),
    Column("digest", String(64), nullable=False, unique=True),
    Column("at", UtcDateTime, nullable=False),
    Column("counts_json", Text, nullable=False),
    _line(),
)

files = Table(
    "files",
    metadata,
    Column("upload_id", ForeignKey("uploads.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("filename", FreeText, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("content", LargeBinary, nullable=False),
)

row_versions = Table(
    "row_versions",
    metadata,
    Column("table_name", ORDERED_NAME, primary_key=True),
    Column("key", ORDERED, primary_key=True),
    Column("occurrence", Integer, primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("values_json", Text, nullable=False),
    Column("upload_id", ForeignKey("uploads.id"), nullable=False),
    Column("file_row", Integer, nullable=False),
    # At the end, where a migration puts what is new.
    Column("source", FreeText, nullable=False, server_default=""),
    Column("withdrawn", Boolean, nullable=False, server_default=false()),
    _line(),
    CheckConstraint("occurrence >= 0", name="occurrence"),
    CheckConstraint("version >= 1", name="version"),
)

findings = Table(
    "findings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("upload_id", ForeignKey("uploads.id"), nullable=False, index=True),
    Column("table_name", FreeText, nullable=False),
    Column("file_row", Integer),
    Column("column_name", FreeText),
    Column("value", FreeText),
    Column("problem", FreeText, nullable=False),
    Column("repair", FreeText, nullable=False),
    Column("severity", String(16), nullable=False),
    Column("source", FreeText, nullable=False, server_default=""),
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

# A table of its own: a new column of `calibrations` would come after the megabytes, which a listing would then read past.
calibration_laws = Table(
    "calibration_laws",
    metadata,
    Column("calibration_id", ForeignKey("calibrations.id"), primary_key=True),
    Column("law", String(32), nullable=False),
)

current_calibrations = Table(
    "current_calibrations",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("calibration_id", ForeignKey("calibrations.id"), nullable=False),
    Column("since", UtcDateTime, nullable=False),
    _line(),
)

choices = Table(
    "choices",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("at", UtcDateTime, nullable=False),
    Column("content", Text, nullable=False),
    _line(),
)

overrides = Table(
    "overrides",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tool_id", ORDERED, nullable=False, index=True),
    Column("at", UtcDateTime, nullable=False),
    Column("by", FreeText, nullable=False),
    Column("as_of", Date, nullable=False),
    Column("wear_out_on", Date),
    Column("remaining_shots", BigInteger),
    Column("reason", FreeText, nullable=False),
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

setting_versions = Table(
    "setting_versions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", String(64), nullable=False),
    # None where the setting was taken away, so that the default holds again.
    Column("value", Text),
    _line(),
)
