"""The owner's settings: one text for each name; every version stays."""

from sqlalchemy import Connection, func, insert, select

from wearfit.store.history import Entry
from wearfit.store.schema import setting_versions


def read_settings(connection: Connection, up_to: int | None = None) -> dict[str, str]:
    """The text of each setting that is made; as they stood after a line of the history, if one is given."""
    c = setting_versions.c
    newest = select(func.max(c.id)).group_by(c.name)
    if up_to is not None:
        newest = newest.where(c.line <= up_to)
    found = connection.execute(select(c.name, c.value).where(c.id.in_(newest), c.value.is_not(None)).order_by(c.name))
    return {name: value for name, value in found}  # noqa: C416  (typed so)


def read_setting(connection: Connection, name: str) -> str | None:
    """The text of a setting, None where it is not made."""
    c = setting_versions.c
    return connection.scalar(select(c.value).where(c.name == name).order_by(c.id.desc()).limit(1))


def write_setting(connection: Connection, name: str, value: str | None, entry: Entry) -> None:
    """Make or change a setting; None takes it away, so that the default holds again. Nothing where it is so already."""
    if read_setting(connection, name) != value:
        connection.execute(insert(setting_versions), {"name": name, "value": value, "line": entry.line})
