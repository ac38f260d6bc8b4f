"""Opening a store: what lies at its address, and whether it may be used, made or brought up to date."""

import os
from pathlib import Path

from sqlalchemy import Connection, column, inspect, select, table

from wearfit.errors import Refusal
from wearfit.store.address import Address
from wearfit.store.engine import Database
from wearfit.store.folder import is_on_network
from wearfit.store.open_files import hold_open
from wearfit.store.schema import HEAD, REVISION_TABLE

_SQLITE_HEADER = b"SQLite format 3\0"  # the first 16 bytes of every database file: https://www.sqlite.org/fileformat.html
_HEAD_BYTES = 100
_OUR_TABLES = {REVISION_TABLE, "uploads", "row_versions"}
_NAME_ANOTHER = "Name another one with `--store`."


class NoStore(Refusal):
    """There is no store at the place named, or nothing in it yet."""


def may_be_there(address: Address) -> bool:
    """Whether there may be a store at an address; an empty file is what one looks like before its first transaction."""
    path = address.path
    return path is None or (path.exists() and (path.is_dir() or path.stat().st_size > 0))


def open_database(address: Address, must_exist: bool) -> Database:
    """The database at an address, made or brought up to date where needed.

    Parameters
    ----------
    address : Address
        Where the store is, or is to be.
    must_exist : bool
        Whether a store that does not exist yet is refused rather than made.

    Raises
    ------
    Refusal
        If there is no such folder or server, the place cannot be written, what lies there is not a wearfit store or one of a
        newer version, or the store is missing and must exist. What is refused is left as it was.
    """
    path, let_go = address.path, None
    if path is not None:
        _check_place(path, must_exist)
        let_go = hold_open(path, lambda: _check_file(path))
    database = Database(address, let_go)
    try:
        with database.reading() as connection:
            _check_encoding(connection, address)
            revision = _revision(connection, address)
        if revision is None and must_exist:
            raise _missing(address)
        if revision != HEAD:
            _bring_up_to_date(database)
        # Its log needs memory that all who have the file open share, which machines do not.
        if address.path is not None and not is_on_network(address.path):
            database.use_write_ahead_log()
    except BaseException:
        database.close()
        raise
    return database


def _check_place(path: Path, must_exist: bool) -> None:
    folder = path.parent
    if not os.path.isdir(folder):  # unlike Path.is_dir, False where one may not look
        raise Refusal(f"The store's folder {folder} does not exist.", "Make the folder, or name another file with `--store`.", 2)
    # SQLite keeps its log beside the file, so the folder has to be writable as well.
    _check_access(folder, path, os.R_OK | os.W_OK | os.X_OK)
    if path.is_dir():
        raise Refusal(f"{path} is a folder, not a store.", _NAME_ANOTHER, 2)
    if not may_be_there(Address(path)):
        if must_exist:
            raise _missing(Address(path))
        return
    _check_access(path, path, os.R_OK | os.W_OK)


def _check_file(path: Path) -> None:
    """Refuse a file that is no SQLite file or is cut short, before SQLite opens it."""
    # A rollback journal beside it means a first transaction cut short; SQLite puts the file right as it opens it.
    if not may_be_there(Address(path)) or Path(f"{path}-journal").exists():
        return
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
    if not head.startswith(_SQLITE_HEADER):
        raise Refusal(f"{path} is not a wearfit store: it is not a SQLite file.", _NAME_ANOTHER, 2)
    # What the head says is sure where nobody is writing: no log lies beside the file.
    whole = _bytes_of_all_pages(head)
    writing = any(Path(f"{path}{log}").exists() for log in ("-wal", "-journal"))
    if not writing and (size := path.stat().st_size) < whole:
        raise Refusal(
            f"The store {path} is cut short: of {whole:,} bytes {size:,} are there.",
            "Put back a copy of it, or move it away and upload the records again.",
        )


def _bytes_of_all_pages(head: bytes) -> int:
    """How large a SQLite file is by its head; 0 where the head does not say. Source: the page of the file format, 1.3."""
    if len(head) < _HEAD_BYTES:
        return _HEAD_BYTES
    page = int.from_bytes(head[16:18])
    valid = head[24:28] == head[92:96]  # the change counter, and that of when the number of pages was written
    return (65536 if page == 1 else page) * int.from_bytes(head[28:32]) if valid else 0


def _check_access(place: Path, store: Path, rights: int) -> None:
    if not os.access(place, rights, effective_ids=os.access in os.supports_effective_ids):
        raise Refusal(f"The store {store} cannot be written.", "Move it to a folder where you may write, or ask for the right to.")


def _check_encoding(connection: Connection, address: Address) -> None:
    """Refuse a server's database that cannot hold every name."""
    if address.server is not None and (encoding := connection.exec_driver_sql("SHOW server_encoding").scalar_one()) != "UTF8":
        raise Refusal(
            f"The database {address} keeps its texts as {encoding}, which cannot hold every name.",
            "Make one for the store with `CREATE DATABASE … ENCODING 'UTF8' TEMPLATE template0`.",
        )


def _revision(connection: Connection, address: Address) -> str | None:
    """The revision of the schema, None for a database that holds nothing yet."""
    tables = set(inspect(connection).get_table_names())
    if not tables - {REVISION_TABLE}:
        return None
    if not tables >= _OUR_TABLES:
        raise Refusal(f"{address} is not a wearfit store: it holds the tables of another program.", _NAME_ANOTHER, 2)
    return connection.scalar(select(column("version_num")).select_from(table(REVISION_TABLE)))


def _bring_up_to_date(database: Database) -> None:
    from wearfit.store.upgrade import knows, upgrade  # Alembic takes longer to load than a store to open

    with database.writing() as connection:
        # Asked again inside the lock: another process may have done it meanwhile.
        revision = _revision(connection, database.address)
        if revision is not None and not knows(connection, revision):
            raise Refusal(
                f"The store {database.address} was made by a newer wearfit than this one.",
                "Install the newer version, or name another store with `--store`.",
            )
        if revision != HEAD:
            upgrade(connection)


def _missing(address: Address) -> NoStore:
    return NoStore(f"There is no store at {address} yet.", "Run `wearfit recalibrate PATH` first, PATH being the folder of records.")
