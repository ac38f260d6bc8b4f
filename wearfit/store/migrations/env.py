"""Run by Alembic: migrates over the connection that the caller handed in, inside the caller's transaction."""

from typing import Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext

from wearfit.store.schema import FreeText, UtcDateTime, metadata


def render_item(kind: str, item: object, autogen_context: AutogenContext) -> str | Literal[False]:
    """Write our own column types as the plain types behind them: a migration must outlive the code of its day."""
    if isinstance(item, FreeText):
        return "sa.Text()"
    return "sa.DateTime(timezone=True)" if isinstance(item, UtcDateTime) else False


# Batch mode copies a table to change it, which SQLite needs; a table that others refer to is copied only while
# `PRAGMA foreign_keys` is off, and that has no effect once a transaction has begun.
context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    render_item=render_item,
)
with context.begin_transaction():
    context.run_migrations()
