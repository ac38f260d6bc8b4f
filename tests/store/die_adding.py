"""Run by a test in a process of its own: makes copies of a store and dies by SIGKILL while adding an upload to each.

A tick comes before each statement that SQLite runs, the commit among them, and before each fiftieth of many alike;
each copy's writer dies at another tick. The cache is kept so small that unfinished pages reach the disk.
"""

import os
import pickle
import shutil
import signal
import sqlite3
import sys
from pathlib import Path

from sqlalchemy import Engine, event

import wearfit.store.upgrade  # noqa: F401  (loaded once, before the forks)
from wearfit.store.store import Store

store, pickled, copies = sys.argv[1:]
upload = pickle.loads(Path(pickled).read_bytes())


def add(path: Path, die_at: int | None) -> int:
    """Add the upload, counting ticks; dies at the one given."""
    ticks = alike = 0
    last = ""

    def trace(statement: str) -> None:
        nonlocal ticks, alike, last
        alike = alike + 1 if statement[:25] == last else 0
        last = statement[:25]
        ticks += alike % 50 == 0
        if ticks == die_at:
            os.kill(os.getpid(), signal.SIGKILL)

    def set_up(connection: sqlite3.Connection, entry: object) -> None:
        connection.execute("PRAGMA cache_size=4")
        connection.set_trace_callback(trace)

    event.listen(Engine, "connect", set_up)
    with Store.open(str(path)) as opened:
        opened.add_upload(upload)
    return ticks


def copy(name: str) -> Path:
    path = Path(copies) / f"{name}.db"
    if Path(store).exists():
        shutil.copy(store, path)
    return path


def fork(path: Path, die_at: int | None) -> int:
    """Add in a child; gives the ticks it counted, or 0 if it died by SIGKILL."""
    reader, writer = os.pipe()
    if (child := os.fork()) == 0:
        os.write(writer, str(add(path, die_at)).encode())
        os._exit(0)
    os.close(writer)
    with open(reader) as pipe:
        told = pipe.read()
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL:
        return 0
    if status != 0:
        raise RuntimeError(f"the writer ended with {status}")
    return int(told)


total = fork(copy("whole"), None)
for die_at in range(1, total + 1):
    if fork(copy(f"died{die_at:04}"), die_at):
        raise RuntimeError(f"the writer outlived tick {die_at} of {total}")
print(total)
