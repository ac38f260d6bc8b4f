"""Bringing a store's schema up to date with Alembic, whose scripts travel inside the package.

Loaded only when a store is new or older than this version.
"""

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection


def alembic_config(connection: Connection) -> Config:
    """Alembic's settings, made in code: there is no `alembic.ini`, and the connection is the caller's own."""
    config = Config()
    config.set_main_option("script_location", "wearfit.store:migrations")
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def knows(connection: Connection, revision: str) -> bool:
    """Whether a revision is one of those that this version ships."""
    scripts = ScriptDirectory.from_config(alembic_config(connection))
    return revision in {script.revision for script in scripts.walk_revisions()}


def upgrade(connection: Connection) -> None:
    """Run every missing migration inside the caller's transaction, so that it happens whole or not at all."""
    command.upgrade(alembic_config(connection), "head")
