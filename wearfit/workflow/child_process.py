"""How a process that works for this one behaves, and what it says on the way: for the worker and for the lanes of a fan-out."""

import os
import pickle
import signal
import sys
import threading
import time
import traceback
from dataclasses import dataclass
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait
from typing import Any, Final

TELL_EVERY_SECONDS: Final = 0.1


@dataclass(frozen=True)
class Told:
    """How far a calibration is: its stage, the share of it that is done, and of several one after another which it is."""

    stage: str
    share: float
    part: str = ""


@dataclass(frozen=True)
class Failed:
    """A fault in the program: its last line, and where it happened."""

    summary: str
    trace: str


class NobodyWaits(Exception):
    """The one who asked has gone: what was asked for is given up."""


def send(connection: "Connection[Any, Any]", message: Any) -> None:
    """What `Connection.send` does, but for what an error of its own leaves behind: a buffer that cannot be cleared away without another."""
    connection.send_bytes(pickle.dumps(message, pickle.HIGHEST_PROTOCOL))


class Teller:
    """Sends messages, from whichever thread, one at a time; raises `NobodyWaits` where nobody takes them any more."""

    def __init__(self, connection: "Connection[Any, Any]") -> None:
        self._connection = connection
        self._lock = threading.Lock()
        self._last = ("", "", 0.0)

    def send(self, message: Any) -> None:
        with self._lock:
            try:
                send(self._connection, message)
            except OSError:
                raise NobodyWaits from None

    def tell(self, stage: str, share: float, part: str = "") -> None:
        """Send progress, a stage's first and last words at once and the others every so often."""
        *last, last_time = self._last
        now = time.perf_counter()
        if last == [stage, part] and share < 1.0 and now - last_time < TELL_EVERY_SECONDS:
            return
        self._last = (stage, part, now)
        self.send(Told(stage, share, part))


def settle_in() -> None:
    """What every such process does first: it ends with its parent, and leaves Ctrl-C and standard output to it."""
    # Ctrl-C reaches the whole group of processes; the parent alone decides what becomes of this one.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    # Standard output belongs to the parent's answer, whatever a library here may want to say.
    os.dup2(2, 1)
    sys.stdout = sys.stderr


def failed(error: Exception) -> Failed:
    return Failed("".join(traceback.format_exception_only(error)).strip(), "".join(traceback.format_exception(error)))


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
