"""Who acts on a store: the user of this machine, whoever the app says is signed in, or nobody but wearfit."""

import getpass
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Final

NOT_KNOWN: Final = "not known"
ITSELF: Final = "wearfit itself"
"""Does what nobody decided and what whoever asked had no part in."""
_SIGNED_IN: Final[ContextVar[str | None]] = ContextVar("signed_in", default=None)


def actor() -> str:
    """The name that the history writes down."""
    signed_in = _SIGNED_IN.get()
    if signed_in is not None:
        return signed_in
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):  # no name in the environment, nor of the user's number
        return NOT_KNOWN


@contextmanager
def acting_as(name: str) -> Iterator[None]:
    """Let what is done inside count as done by this person."""
    before = _SIGNED_IN.set(name)
    try:
        yield
    finally:
        _SIGNED_IN.reset(before)
