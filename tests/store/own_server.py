"""A throw-away PostgreSQL server (15 or later) for tests.

`python tests/store/own_server.py there` exits 0 where its programs are installed, `… start` prints its address, `… stop ADDRESS` ends it.

It listens on no port, only at a socket in a temporary folder, and keeps nothing. initdb refuses root, so for root it belongs to
another user. `WEARFIT_TEST_SERVER` names one that runs already; without it the tests that need one start their own.
"""

import itertools
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qs, urlsplit

from sqlalchemy import create_engine

if TYPE_CHECKING:
    import pwd

VARIABLE: Final = "WEARFIT_TEST_SERVER"
USER: Final = "tester"
OTHERS: Final = ("postgres", "nobody")  # whom root lets it belong to: that of the packages, else one that is there everywhere
# Letters in a language's order, not in that of their bytes, in which a store's rows come.
LETTERS: Final = ("--encoding", "UTF8", "--locale-provider", "icu", "--icu-locale", "en-US")
# Tests kill clients, never the server, so that its own files need not outlive a power cut. Its clock is not UTC, as an owner's may not be.
SETTINGS: Final = (
    "listen_addresses=",
    "fsync=off",
    "full_page_writes=off",
    "max_connections=40",
    "timezone=Asia/Karachi",
    "shared_buffers=32MB",
)
_NUMBERS: Final = itertools.count()


def binaries() -> Path | None:
    """The folder of the server's programs, the newest version's; None where they are not installed."""
    on_path = shutil.which("initdb")
    packaged = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda found: float(found.parts[-3]))
    return Path(on_path).parent if on_path else packaged[-1].parent if packaged else None


def start() -> str:
    """Start a server; returns the URL of its first database."""
    programs = binaries()
    if programs is None:
        raise FileNotFoundError("initdb is not installed")
    folder = Path(tempfile.mkdtemp(prefix="wearfit-pg-"))
    owner = _owner()
    if owner is not None:
        os.chown(folder, owner.pw_uid, owner.pw_gid)
    data = folder / "data"
    _run([programs / "initdb", "--pgdata", data, "--username", USER, "--auth", "trust", *LETTERS, "--no-sync"], folder)
    # One who needs a password, for tests of what is said of it.
    rules = data / "pg_hba.conf"
    rules.write_text("local all guarded scram-sha-256\n" + rules.read_text())
    options = " ".join(f"-c {setting}" for setting in (*SETTINGS, f"unix_socket_directories={folder}"))
    _run([programs / "pg_ctl", "start", "--wait", "--pgdata", data, "--log", folder / "log", "--options", options], folder)
    return f"postgresql+psycopg://{USER}@/postgres?host={folder}"


def stop(url: str) -> None:
    """End a server and remove all that it had."""
    folder = Path(parse_qs(urlsplit(url).query)["host"][0])
    programs = binaries()
    assert programs is not None
    _run([programs / "pg_ctl", "stop", "--mode", "immediate", "--pgdata", folder / "data"], folder)
    shutil.rmtree(folder)


@contextmanager
def empty_database(server: str) -> Iterator[str]:
    """Address of an empty database of a server, dropped when the block ends."""
    name = f"test_{os.getpid()}_{next(_NUMBERS)}"
    engine = create_engine(server, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
    try:
        yield server.replace("/postgres?", f"/{name}?")
    finally:
        with engine.connect() as connection:
            connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
        engine.dispose()


def _owner() -> "pwd.struct_passwd | None":
    if os.geteuid() != 0:
        return None
    import pwd  # of POSIX alone

    known = {entry.pw_name: entry for entry in pwd.getpwall()}
    return next(known[name] for name in OTHERS if name in known)


def _run(command: Sequence[str | Path], folder: Path) -> None:
    owner = _owner()
    them = {} if owner is None else {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}
    # The server outlives this command, so it gets no pipe of it.
    with (folder / "said").open("ab") as said:
        done = subprocess.run(command, cwd=folder, stdin=subprocess.DEVNULL, stdout=said, stderr=said, check=False, **them)  # type: ignore[call-overload]
    if done.returncode:
        raise RuntimeError((folder / "said").read_text())


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["there"]:
            sys.exit(binaries() is None)
        case ["start"]:
            print(start())
        case ["stop", url]:
            stop(url)
        case _:
            sys.exit(__doc__)
