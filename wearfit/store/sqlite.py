"""A store in a SQLite file: its connections, its one lock for writers, and what its errors come to."""

import sqlite3
from collections.abc import Mapping
from typing import Any, Final

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.pool import ConnectionPoolEntry

from wearfit.errors import Refusal
from wearfit.store.address import Address

BUSY_TIMEOUT_MS: Final = 60_000
"""How long a write waits for another process's write. [ms] A first upload of 400,000 rows holds the lock for some 13 s."""

READING: Mapping[str, Any] = {}
# The file has one lock for all writers; a deferred transaction would take it only at its first write.
WRITING: Mapping[str, Any] = {"begin": "BEGIN IMMEDIATE"}

# synchronous=FULL: an upload that was acknowledged outlives a power cut, not only a killed process.
_PRAGMAS: Final = ("foreign_keys=ON", "synchronous=FULL", f"busy_timeout={BUSY_TIMEOUT_MS}")

# SQLite's primary result code (https://www.sqlite.org/rescode.html) -> what to say; {path} is the store's file.
_SAID: Final = {
    "SQLITE_BUSY": ("Another process has kept the store {path} locked for a minute.", "Try again when it is done; nothing was stored."),
    "SQLITE_FULL": ("The disk that holds the store {path} is full.", "Free some space and try again; nothing was stored."),
    "SQLITE_READONLY": ("The store {path} cannot be written.", "Move it to a folder where you may write, or ask for the right to."),
    "SQLITE_CANTOPEN": ("The store {path} cannot be opened.", "See that its folder exists and that you may write there."),
    "SQLITE_IOERR": ("The disk that holds the store {path} reports an error.", "Check the disk and try again; nothing was stored."),
    "SQLITE_CORRUPT": ("The store {path} is damaged.", "Put back a copy of it, or move it away and upload the records again."),
    "SQLITE_NOTADB": ("{path} is not a wearfit store: it is not a SQLite file.", "Name another file with `--store`."),
}


def engine_of(address: Address) -> Engine:
    """Connections to the file, whose transactions begin as the option `begin` says."""
    engine = create_engine(URL.create("sqlite", database=str(address.path)))

    @event.listens_for(engine, "connect")
    def set_up(connection: DBAPIConnection, entry: ConnectionPoolEntry) -> None:
        connection.isolation_level = None  # the driver starts no transaction by itself; "begin" below does
        cursor = connection.cursor()
        for pragma in _PRAGMAS:
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        connection.exec_driver_sql(connection.get_execution_options().get("begin", "BEGIN"))

    return engine


def use_write_ahead_log(engine: Engine) -> None:
    """Let readers go on while one writes. Kept in the file, so only the first opening of a store changes it."""
    raw = engine.raw_connection()
    try:
        raw.cursor().execute("PRAGMA journal_mode=WAL")
    except sqlite3.OperationalError as error:
        # Another process is at work in the file just now. Both modes are safe; the next opening tries again.
        if _code(error) != "SQLITE_BUSY":
            raise
    finally:
        raw.close()


def said(error: BaseException | None, address: Address) -> Refusal | None:
    """What SQLite reports about the file or the disk, in a sentence with its repair; None for anything else."""
    if _code(error) not in _SAID:
        return None
    problem, repair = _SAID[_code(error)]
    return Refusal(problem.format(path=address.path), repair)


def _code(error: BaseException | None) -> str:
    """SQLite's primary result code by name: `SQLITE_IOERR` for `SQLITE_IOERR_WRITE`."""
    name: str = getattr(error, "sqlite_errorname", "")
    return "_".join(name.split("_")[:2])
