"""The inside of a worker that is kept warm: it outlives the command that started it, and serves one command after another.

It holds a compiled model and nothing else: no store, and no lock on one. So it can be ended at any moment.
"""

import datetime as dt
import fcntl
import json
import os
import queue
import secrets
import signal
import socket
import sys
import threading
import time
from multiprocessing import AuthenticationError
from multiprocessing.connection import Connection, answer_challenge, deliver_challenge
from pathlib import Path
from typing import Any, Final

from wearfit.workflow.child_process import NobodyWaits, Teller, send
from wearfit.workflow.resident_door import ANSWERS_IN_SECONDS, Ask, Busy, Claim, Claimed, Standing, Stop
from wearfit.workflow.resident_place import Place

WAITING: Final = 8  # commands that may stand before the door at once


def main(folder: str, digest: str, minutes: str) -> None:
    """Settle at a place and return at once; a process that goes on there serves whoever comes, and ends when nobody does.

    Returns quietly too where another one lives there.
    """
    place = Place(Path(folder), digest)
    lock = os.open(place.lock, os.O_CREAT | os.O_RDWR, 0o600)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return
    # Whoever holds the lock may sweep up after one that was killed.
    for left in (Path(place.address), place.card):
        left.unlink(missing_ok=True)
    door = socket.socket(socket.AF_UNIX)
    os.umask(0o077)
    door.bind(place.address)
    door.listen(WAITING)
    key = secrets.token_bytes(32)
    _write_card(place, key)
    # Nothing but the standard library is loaded and there are no threads: here a fork is safe. The end of this process
    # tells the command that there is somebody to speak to.
    if os.fork() == 0:
        os.chdir("/")
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        Resident(place, door, key, float(minutes)).live()


def _write_card(place: Place, key: bytes) -> None:
    half = place.card.with_suffix(".half")
    half.write_text(json.dumps({"key": key.hex()}), encoding="ascii")
    half.replace(place.card)


class Resident:
    """One who comes is let in, the others are told that it is busy, or how it stands."""

    def __init__(self, place: Place, door: socket.socket, key: bytes, minutes: float) -> None:
        self._place, self._door, self._key, self._minutes = place, door, key, minutes
        self._since, self._idle_from = dt.datetime.now(dt.UTC), time.monotonic()
        self._lock = threading.Lock()
        self._loaded, self._claimed = False, False
        self._guests: queue.Queue[Connection[Any, Any]] = queue.Queue()

    def live(self) -> None:
        """Serve until nobody has come for as long as it is to be kept warm."""
        threading.Thread(target=self._open_door, daemon=True).start()
        from wearfit.workflow.worker_process import Ready, answer, load_model

        fault = load_model()
        with self._lock:
            self._loaded, self._idle_from = True, time.monotonic()
        compiled: dict[bool, Any] = {}
        while True:
            try:
                guest = self._guests.get(timeout=60.0 * self._minutes)
            except queue.Empty:
                with self._lock:
                    if not self._claimed:
                        self._leave()
                continue
            try:
                teller = Teller(guest)
                teller.send(Ready() if fault is None else fault)
                if fault is not None:
                    self._leave()
                answer(guest, teller, compiled)
            except NobodyWaits:
                pass  # what was under way is given up; the compiled model is kept
            guest.close()
            self._let_out()

    def _open_door(self) -> None:
        while True:
            line, _ = self._door.accept()
            threading.Thread(target=self._meet, args=(Connection(line.detach()),), daemon=True).start()

    def _meet(self, guest: "Connection[Any, Any]") -> None:
        try:
            deliver_challenge(guest, self._key)
            answer_challenge(guest, self._key)
            said = guest.recv() if guest.poll(ANSWERS_IN_SECONDS) else None
            if isinstance(said, Claim) and self._let_in(said):
                self._welcome(guest)
                return
            if isinstance(said, Claim):
                send(guest, Busy())
            elif isinstance(said, Ask | Stop):
                send(guest, self._standing())
                if isinstance(said, Stop):
                    self._leave()
        except (OSError, EOFError, AuthenticationError):
            pass
        guest.close()

    def _let_in(self, claim: Claim) -> bool:
        with self._lock:
            if self._claimed:
                return False
            self._claimed = True
            self._minutes = self._minutes if claim.minutes is None else claim.minutes
            return True

    def _welcome(self, guest: "Connection[Any, Any]") -> None:
        try:
            send(guest, Claimed(os.getpid()))
        except OSError:
            self._let_out()
            raise
        self._guests.put(guest)

    def _let_out(self) -> None:
        with self._lock:
            self._claimed, self._idle_from = False, time.monotonic()

    def _standing(self) -> Standing:
        with self._lock:
            state = "loading" if not self._loaded else "calibrating" if self._claimed else "idle"
            left = None if self._claimed else max(0.0, self._minutes - (time.monotonic() - self._idle_from) / 60.0)
        return Standing(os.getpid(), state, self._since.isoformat(timespec="seconds"), left, _memory_mb())

    def _leave(self) -> None:
        """End the process, whatever it does."""
        Path(self._place.address).unlink(missing_ok=True)
        self._place.card.unlink(missing_ok=True)
        os._exit(0)


def _memory_mb() -> float:
    import resource

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1e6 if sys.platform == "darwin" else 1e3)  # bytes there, kB elsewhere
