"""Which stores of this process SQLite may have open, so that nobody else opens, and closes, their files meanwhile.

Where a process closes a file, it loses all locks that it holds on it, those of SQLite's other connections among them (POSIX; see "How To
Corrupt An SQLite Database File", 2.2, at sqlite.org). Another process then takes the store for unused and clears its log away under them.
"""

import os
import threading
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Final

_TURN: Final = threading.Lock()
_OPEN: Final[Counter[str]] = Counter()


def hold_open(path: Path, look: Callable[[], None]) -> Callable[[], None]:
    """Count a file among those that SQLite may have open from now on.

    Parameters
    ----------
    path : Path
        Of the store.
    look : callable
        May open and close the file: called first, where no connection of this process has it open. Where one has, its opening looked.

    Returns
    -------
    callable
        To be called once SQLite has it open no longer.
    """
    name = os.path.realpath(path)
    with _TURN:
        if not _OPEN[name]:
            look()
        _OPEN[name] += 1

    def let_go() -> None:
        with _TURN:
            _OPEN[name] -= 1
            if not _OPEN[name]:
                del _OPEN[name]

    return let_go
