"""What the user has decided about reading the records: kept until decided otherwise, every state with its time."""

from sqlalchemy import Connection, insert, select

from wearfit.records.choices import Choices, choices_of_json
from wearfit.store.history import Entry
from wearfit.store.schema import choices


def read_choices(connection: Connection, up_to: int | None = None) -> Choices:
    """The decisions that hold now, or held after a line of the history; none before the first one."""
    query = select(choices.c.content).order_by(choices.c.id.desc()).limit(1)
    content = connection.scalar(query if up_to is None else query.where(choices.c.line <= up_to))
    return Choices() if content is None else choices_of_json(content)


def choices_line(connection: Connection) -> int:
    """The line of the history that the decisions that hold now came with, 0 before the first one."""
    line: int | None = connection.scalar(select(choices.c.line).order_by(choices.c.id.desc()).limit(1))
    return line or 0


def keep_choices(connection: Connection, given: Choices, entry: Entry, anew: bool = False) -> Choices:
    """Put decisions over those kept, or in their place; returns what holds then.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Inside a writing transaction, for the new state follows from the old one.
    given : Choices
        What they do not decide stays as it was.
    entry : Entry
        The line of the history that they come with.
    anew : bool
        Whether they are all that is decided: what they leave out is taken back.
    """
    before = read_choices(connection)
    after = given if anew else before.later(given)
    if after.to_json() != before.to_json():
        connection.execute(insert(choices), {"at": entry.at, "content": after.to_json(), "line": entry.line})
    return after
