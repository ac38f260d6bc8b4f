"""The owner's settings: one text for each name."""

from sqlalchemy import Connection, delete, insert, select

from wearfit.store.schema import settings


def read_setting(connection: Connection, name: str) -> str | None:
    """The text of a setting, None where it was never made."""
    return connection.scalar(select(settings.c.value).where(settings.c.name == name))


def write_setting(connection: Connection, name: str, value: str | None) -> None:
    """Make or change a setting; None takes it away, so that the default holds again."""
    connection.execute(delete(settings).where(settings.c.name == name))
    if value is not None:
        connection.execute(insert(settings), {"name": name, "value": value})
