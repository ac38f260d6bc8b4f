"""How one speaks to a worker that is kept warm: what is said at its door, and that both sides know each other."""

import json
import socket
from dataclasses import dataclass
from multiprocessing import AuthenticationError
from multiprocessing.connection import Connection, answer_challenge, deliver_challenge
from typing import Any, Final

from wearfit.workflow.child_process import send
from wearfit.workflow.resident_place import Place

ANSWERS_IN_SECONDS: Final = 5.0  # a process that does not answer at its door by then is as good as busy


@dataclass(frozen=True)
class Claim:
    """I shall calibrate until I hang up; keep warm for so many minutes after it (None: as before)."""

    minutes: float | None


@dataclass(frozen=True)
class Claimed:
    """You may; `worker_process.Ready` follows as soon as the model is loaded."""

    process_id: int


@dataclass(frozen=True)
class Busy:
    """Another command calibrates."""


@dataclass(frozen=True)
class Ask:
    """How do you stand?"""


@dataclass(frozen=True)
class Stop:
    """End at once."""


@dataclass(frozen=True)
class Standing:
    """How a worker kept warm stands.

    Parameters
    ----------
    state : str
        "loading", "idle" or "calibrating".
    since : str
        When it was started, ISO 8601, UTC.
    minutes_left : float or None
        Until it ends if nobody comes; None while somebody is there.
    memory_mb : float
        At most so far.
    """

    process_id: int
    state: str
    since: str
    minutes_left: float | None
    memory_mb: float


def call(place: Place) -> "Connection[Any, Any] | None":
    """A connection to the worker at a place, each side sure of the other; None where none answers."""
    try:
        key = bytes.fromhex(json.loads(place.card.read_text(encoding="ascii"))["key"])
        with socket.socket(socket.AF_UNIX) as line:
            line.settimeout(ANSWERS_IN_SECONDS)
            line.connect(place.address)
            line.setblocking(True)
            connection: Connection[Any, Any] = Connection(line.detach())
    except (OSError, ValueError, KeyError):
        return None
    try:
        if connection.poll(ANSWERS_IN_SECONDS):
            answer_challenge(connection, key)
            deliver_challenge(connection, key)
            return connection
    except (OSError, EOFError, AuthenticationError):
        pass
    connection.close()
    return None


def ask(place: Place, message: Ask | Stop) -> Standing | None:
    """How the worker at a place stands, or stood before it was stopped; None where none answers."""
    connection = call(place)
    if connection is None:
        return None
    with connection:
        try:
            send(connection, message)
            if connection.poll(ANSWERS_IN_SECONDS):
                standing: Standing = connection.recv()
                return standing
        except (OSError, EOFError):
            pass
    return None
