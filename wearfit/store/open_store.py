"""A store that is open: how it is opened and closed, and the transactions that its calls are."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from types import TracebackType
from typing import TYPE_CHECKING, Self

from wearfit.store.actor import actor
from wearfit.store.address import address_of
from wearfit.store.engine import Database
from wearfit.store.folder import folder_caution
from wearfit.store.history import Entry
from wearfit.store.opening import NoStore, may_be_there, open_database

if TYPE_CHECKING:
    from sqlalchemy import Connection


class OpenStore:
    """What `store.Store` rests on; its calls are there."""

    def __init__(self, database: Database) -> None:
        self._database = database

    @classmethod
    def open(cls, url: str, must_exist: bool = False) -> Self:
        """Open a store, make it where there is none, and bring an older one up to date.

        Parameters
        ----------
        url : str
            `sqlite:///wearfit.db`, a bare path or `postgresql+psycopg://…`.
        must_exist : bool
            Refuse a store that does not exist yet rather than make it.

        Raises
        ------
        Refusal
            If the address is of another kind (status 2), or what lies there is not a store that this version can
            write; see `address.address_of` and `opening.open_database`.
        """
        return cls(open_database(address_of(url), must_exist))

    @classmethod
    def open_if_there(cls, url: str) -> Self | None:
        """Open a store where there is one, None where there is not; nothing is made.

        Raises
        ------
        Refusal
            As `open`.
        """
        if not may_be_there(address_of(url)):
            return None
        try:
            return cls.open(url, must_exist=True)
        except NoStore:
            return None

    def cautions(self) -> tuple[str, ...]:
        """What is to be said of the place where the store lies."""
        path = self._database.address.path
        caution = "" if path is None else folder_caution(path)
        return (caution,) if caution else ()

    def close(self) -> None:
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.close()

    @contextmanager
    def _deed(
        self, did: str, about: str = "", back_to: int | None = None, rests_on: int | None = None
    ) -> "Iterator[tuple[Connection, Entry]]":
        """A writing transaction, and the line of the history that what it changes belongs to."""
        with self._database.writing() as connection:
            yield connection, Entry(connection, datetime.now(UTC), actor(), did, about, back_to, rests_on)

    @contextmanager
    def _trial(self, did: str, about: str = "", back_to: int | None = None) -> "Iterator[tuple[Connection, Entry]]":
        """The same of which nothing is kept: what would be if it were done."""
        with self._database.trying() as connection:
            yield connection, Entry(connection, datetime.now(UTC), actor(), did, about, back_to)
