"""Who did what when: a line in the same transaction as what was done; every one stays."""

import getpass
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, insert, select

from wearfit.store.schema import actions


@dataclass(frozen=True, slots=True)
class Action:
    """One thing that somebody did; `at` is in UTC."""

    at: datetime
    by: str
    what: str
    detail: str


def add_action(connection: Connection, action: Action) -> None:
    """Write down what was done."""
    connection.execute(insert(actions), {"at": action.at, "by": action.by, "what": action.what, "detail": action.detail})


def last_actions(connection: Connection, most: int) -> list[Action]:
    """What was done, newest first."""
    c = actions.c
    return [Action(*row) for row in connection.execute(select(c.at, c.by, c.what, c.detail).order_by(c.id.desc()).limit(most))]


def of_this_machine() -> str:
    """The name of who runs this process, for what is done without signing in."""
    try:
        return f"{getpass.getuser()}, on this machine"
    except (OSError, KeyError, ImportError):  # a process of no user that the system knows
        return "somebody on this machine"
