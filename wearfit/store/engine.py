"""Connections and transactions: how reads and writes reach the store, and what is said when they cannot."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Protocol

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

from wearfit.errors import Refusal
from wearfit.store import postgresql, sqlite
from wearfit.store.address import Address


class Kind(Protocol):
    """What a kind of database has of its own: one of the files `sqlite.py` and `postgresql.py`."""

    READING: Mapping[str, Any]
    """Options of a connection that reads one snapshot."""

    WRITING: Mapping[str, Any]
    """Options of a connection whose transaction lets no other writer in."""

    def engine_of(self, address: Address) -> Engine:
        """Connections whose transactions heed these options."""

    def said(self, error: BaseException | None, address: Address) -> Refusal | None:
        """What an error of the driver comes to; None for a fault of the program."""


class Database:
    """One store and the ways to read and write it.

    Parameters
    ----------
    address : Address
        A SQLite file, made by the first write if it does not exist; or a database of a server, which must exist.
    closed : callable, optional
        Called once its connections are closed.

    Raises
    ------
    Refusal
        Where the driver of the server is not installed.
    """

    def __init__(self, address: Address, closed: Callable[[], None] | None = None) -> None:
        self.address = address
        self._closed = closed
        self._kind: Kind = sqlite if address.server is None else postgresql
        self._engine = self._kind.engine_of(address)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One snapshot of the store, undisturbed by writers."""
        with self._said(), self._engine.connect() as plain:
            connection = plain.execution_options(**self._kind.READING)
            with connection.begin():
                yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction that sees every earlier write and lets no other writer in; all of it is kept or nothing.

        Notes
        -----
        Without a lock updates would be lost: two processes could both read the old state before either writes.
        """
        with self._said(), self._engine.connect() as plain:
            connection = plain.execution_options(**self._kind.WRITING)
            with connection.begin():
                yield connection

    @contextmanager
    def trying(self) -> Iterator[Connection]:
        """A transaction like that of `writing`, of which nothing is kept: what would be if it were."""
        with self._said(), self._engine.connect() as plain:
            connection = plain.execution_options(**self._kind.WRITING)
            transaction = connection.begin()
            try:
                yield connection
            finally:
                transaction.rollback()

    def use_write_ahead_log(self) -> None:
        """Let readers go on while one writes the file; a server does so by itself."""
        with self._said():
            sqlite.use_write_ahead_log(self._engine)

    def close(self) -> None:
        self._engine.dispose()
        if self._closed is not None:
            self._closed()
            self._closed = None

    @contextmanager
    def _said(self) -> Iterator[None]:
        """Turn what the driver reports about the file, the disk or the server into a sentence with its repair."""
        try:
            yield
        except Exception as error:
            refusal = self._kind.said(error.orig if isinstance(error, DBAPIError) else error, self.address)
            if refusal is None:
                raise
            raise refusal from error
