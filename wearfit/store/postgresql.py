"""A store in a database of a PostgreSQL server: its connections, its one lock for writers, and what its errors come to."""

from collections.abc import Mapping
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event

from wearfit.errors import Refusal
from wearfit.store.address import Address

LOCK_TIMEOUT_MS: Final = 60_000
"""How long a write waits for another process's write. [ms]"""

READING: Mapping[str, Any] = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
# Each statement after the lock sees what was committed before it was given.
WRITING: Mapping[str, Any] = {"isolation_level": "READ COMMITTED", "postgresql_readonly": False, "store_lock": True}

# Advisory locks are numbers of the database's own; this one is "wearfit" in ASCII. It ends with its transaction.
_LOCK: Final = f"SELECT pg_advisory_xact_lock({int.from_bytes(b'wearfit')})"
# What was acknowledged outlives a power cut of the server; and of a writer whose machine is gone, the lock is free after two minutes.
_PROMISES: Final = (
    f"SELECT set_config('lock_timeout', '{LOCK_TIMEOUT_MS}', true), set_config('tcp_keepalives_idle', '60', true), "
    "set_config('tcp_keepalives_interval', '10', true), set_config('tcp_keepalives_count', '6', true), "
    "CASE WHEN current_setting('synchronous_commit') = 'off' THEN set_config('synchronous_commit', 'on', true) END"
)

_NOTHING_STORED: Final = "Try again when that is put right; nothing was stored."
_RIGHTS: Final = "Ask who looks after the server for the right to read, write and make tables there, or for a database of your own."

# The first characters of an error's SQLSTATE (https://www.postgresql.org/docs/current/errcodes-appendix.html), the longest first
# -> what to say; {store} is the address without its password.
_SAID: Final = {
    "55P03": ("Another process has kept the store {store} locked for a minute.", "Try again when it is done; nothing was stored."),
    "53100": ("The disk of the server that holds the store {store} is full.", _NOTHING_STORED),
    "25006": ("The store {store} cannot be written: its server takes no writes.", _NOTHING_STORED),
    "42501": ("You may not do this in the store {store}.", _RIGHTS),
    "53": ("The server of the store {store} has no room for this now.", _NOTHING_STORED),
    "57P": ("The server of the store {store} was stopped.", _NOTHING_STORED),
    "58": ("The server of the store {store} reports an error of its disk.", _NOTHING_STORED),
    "XX": (
        "The server of the store {store} reports that it is damaged.",
        "Put back a copy of the database, or name another one with `--store`.",
    ),
    "08": ("The server of the store {store} has ended the connection.", _NOTHING_STORED),
}


def engine_of(address: Address) -> Engine:
    """Connections to the database, whose transactions take the writers' lock where the option `store_lock` says so.

    Raises
    ------
    Refusal
        Status 2, where the driver is not installed.
    """
    assert address.server is not None
    try:
        engine = create_engine(address.server, pool_pre_ping=True, connect_args={"connect_timeout": 20})
    except ImportError as error:
        raise Refusal(
            "A store on PostgreSQL needs the driver psycopg, which is not installed or finds no library.",
            "Install it with `pip install 'wearfit[postgresql]'`.",
            2,
        ) from error

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        if connection.get_execution_options().get("store_lock"):
            connection.exec_driver_sql(_PROMISES)
            connection.exec_driver_sql(_LOCK)

    return engine


def said(error: BaseException | None, address: Address) -> Refusal | None:
    """What the server reports about itself or its disk, in a sentence with its repair; None for anything else."""
    import psycopg  # there, for it raised the error

    if not isinstance(error, psycopg.Error):
        return None
    state = error.sqlstate
    if state is None:
        # Not of a statement: the connection could not be made, or broke.
        return _unreachable(str(error), address) if isinstance(error, psycopg.OperationalError) else None
    known = next((words for start, words in _SAID.items() if state.startswith(start)), None)
    return None if known is None else Refusal(known[0].format(store=address), known[1])


def _unreachable(told: str, address: Address) -> Refusal:
    """What to say where the server does not answer or does not let one in."""
    reasons = [line.split("FATAL:")[-1].strip() for line in told.splitlines() if line.strip()]
    reason = reasons[-1] if any("FATAL:" in line for line in told.splitlines()) else reasons[0] if reasons else "no reason was given"
    password = address.server.password if address.server is not None else None
    if password:
        reason = reason.replace(str(password), "***")
    return Refusal(
        f"The server of the store {address} cannot be reached, or does not let you in: {reason.rstrip('.')}.",
        "See that it runs, that host, port, user, password and database in `--store` are right, and that the database was made.",
    )
