"""Connections and transactions: how reads and writes reach the SQLite file, and what is said when they cannot."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import ConnectionPoolEntry

from wearfit.errors import Refusal

BUSY_TIMEOUT_MS = 60_000
"""How long a write waits for another process's write. [ms] A first upload of 400,000 rows holds the lock for some 13 s."""

# synchronous=FULL: an upload that was acknowledged outlives a power cut, not only a killed process.
_PRAGMAS = ("foreign_keys=ON", "synchronous=FULL", f"busy_timeout={BUSY_TIMEOUT_MS}")

# SQLite's primary result code (https://www.sqlite.org/rescode.html) -> what to say; {path} is the store's file.
_SAID = {
    "SQLITE_BUSY": ("Another process has kept the store {path} locked for a minute.", "Try again when it is done; nothing was stored."),
    "SQLITE_FULL": ("The disk that holds the store {path} is full.", "Free some space and try again; nothing was stored."),
    "SQLITE_READONLY": ("The store {path} cannot be written.", "Move it to a folder where you may write, or ask for the right to."),
    "SQLITE_CANTOPEN": ("The store {path} cannot be opened.", "See that its folder exists and that you may write there."),
    "SQLITE_IOERR": ("The disk that holds the store {path} reports an error.", "Check the disk and try again; nothing was stored."),
    "SQLITE_CORRUPT": ("The store {path} is damaged.", "Put back a copy of it, or move it away and upload the records again."),
    "SQLITE_NOTADB": ("{path} is not a wearfit store: it is not a SQLite file.", "Name another file with `--store`."),
}


class Database:
    """One SQLite file and the ways to read and write it.

    Parameters
    ----------
    path : pathlib.Path
        The file; made by the first write if it does not exist.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._engine = _engine(path)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One snapshot of the store, undisturbed by writers."""
        with self._said(), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction that sees every earlier write and lets no other writer in; all of it is kept or nothing.

        Notes
        -----
        A deferred transaction would lose updates: two processes could both read the old state before either writes.
        SQLite has one write lock for the whole file (BEGIN IMMEDIATE); on a server the same promise takes a lock
        here, in this one place.
        """
        with self._said(), self._engine.connect() as plain:
            connection = plain.execution_options(begin="BEGIN IMMEDIATE")
            with connection.begin():
                yield connection

    @contextmanager
    def trying(self) -> Iterator[Connection]:
        """A transaction like that of `writing`, of which nothing is kept: what would be if it were."""
        with self._said(), self._engine.connect() as plain:
            connection = plain.execution_options(begin="BEGIN IMMEDIATE")
            transaction = connection.begin()
            try:
                yield connection
            finally:
                transaction.rollback()

    def use_write_ahead_log(self) -> None:
        """Let readers go on while one writes. Kept in the file, so only the first opening of a store changes it."""
        with self._said():
            raw = self._engine.raw_connection()
            try:
                raw.cursor().execute("PRAGMA journal_mode=WAL")
            except sqlite3.OperationalError as error:
                # Another process is at work in the file just now. Both modes are safe; the next opening tries again.
                if _code(error) != "SQLITE_BUSY":
                    raise
            finally:
                raw.close()

    def close(self) -> None:
        self._engine.dispose()

    @contextmanager
    def _said(self) -> Iterator[None]:
        """Turn what SQLite reports about the file or the disk into a sentence with its repair."""
        try:
            yield
        except (DBAPIError, sqlite3.Error) as error:
            cause = error.orig if isinstance(error, DBAPIError) else error
            said = _SAID.get(_code(cause))
            if said is None:
                raise
            problem, repair = said
            raise Refusal(problem.format(path=self.path), repair) from error


def _code(error: BaseException | None) -> str:
    """SQLite's primary result code by name: `SQLITE_IOERR` for `SQLITE_IOERR_WRITE`."""
    name: str = getattr(error, "sqlite_errorname", "")
    return "_".join(name.split("_")[:2])


def _engine(path: Path) -> Engine:
    engine = create_engine(URL.create("sqlite", database=str(path)))

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
